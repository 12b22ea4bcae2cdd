package plan

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"bondtrial/internal/plan/howmany"
	"bondtrial/internal/plan/trialfile"
)

const (
	// boardScatter is the standard deviation, on the log scale, of what the pieces
	// of a board share (common practice, no source).
	boardScatter = 0.08

	leastPerCell = 2
	mostPerCell  = 40 // tried where the number is to be found
	atOnce       = 8  // numbers tried before the next are
	around       = 2  // tried on both sides of a number that is given

	// DefaultTrials is how many trials are simulated for each number of specimens
	// and each of two truths; a chance then has a standard error of at most 2.5 %.
	DefaultTrials = 400
)

// number finds how many specimens there are to be in each cell.
func (p *Plan) number(ctx context.Context, racks []rack, o Options) error {
	t := p.Trial
	pack := p.pack()
	cells := len(t.Adhesives) * t.Conditions() / pack // packs for one specimen in each cell
	room := math.MaxInt
	var short []error
	for _, r := range racks {
		places := r.places(pack)
		room = min(room, places/cells)
		if want := max(t.SpecimensPerCell, leastPerCell); places < want*cells {
			message := fmt.Sprintf("on %s, %d specimens of each adhesive in each condition are %d specimens, of which the boards give %d: %d pieces short",
				r.wood, want, want*cells*pack, places*pack, (want*cells-places)*pack*piecesEach)
			if pack > 1 {
				message += fmt.Sprintf("; with pairs, %d pieces of one strip belong together", pack*piecesEach)
			}
			for _, b := range r.boards {
				if b.pieces == 0 {
					message += "; " + b.why
					break
				}
			}
			short = append(short, errors.New(message))
		}
	}
	if err := errors.Join(short...); err != nil {
		return fmt.Errorf("too little wood: %w", err)
	}
	in := p.expected(racks)
	in.Trials, in.Progress = o.Trials, func(done, of int) { o.Progress("how many", done, of) }
	if in.Trials == 0 {
		in.Trials = DefaultTrials
	}
	if n := t.SpecimensPerCell; n > 0 {
		p.PerCell = n
		in.Least, in.Most = max(n-around, leastPerCell), n+around
		var err error
		p.Numbers, err = howmany.Compute(ctx, in)
		return err
	}
	most := max(min(room, mostPerCell), leastPerCell)
	for least := leastPerCell; least <= most && p.PerCell == 0; least += atOnce {
		in.Least, in.Most = least, min(least+atOnce-1, most)
		next, err := howmany.Compute(ctx, in)
		if err != nil {
			return err
		}
		if p.Numbers != nil {
			next.Points = append(p.Numbers.Points, next.Points...)
		}
		p.Numbers = next
		p.PerCell = p.leastEnough()
	}
	if p.PerCell == 0 {
		p.fallShort(room)
	}
	return nil
}

// leastEnough is the least number with the chance wanted, 0 where none has it. What
// simulation makes uneven is smoothed first: the chance does not fall as the number
// grows (pool adjacent violators; Ayer et al. 1955, from memory, unconfirmed).
func (p *Plan) leastEnough() int {
	type pool struct{ sum, n float64 }
	var pools []pool
	for k := range p.Numbers.Points {
		pools = append(pools, pool{p.Numbers.Points[k].Found().Found.Mean, 1})
		for n := len(pools); n > 1 && pools[n-2].sum*pools[n-1].n >= pools[n-1].sum*pools[n-2].n; n-- {
			pools[n-2] = pool{pools[n-2].sum + pools[n-1].sum, pools[n-2].n + pools[n-1].n}
			pools = pools[:n-1]
		}
	}
	at := 0
	for _, q := range pools {
		if q.sum/q.n >= float64(p.Trial.Chance)/100 {
			return p.Numbers.Points[at].N
		}
		at += int(q.n)
	}
	return 0
}

// fallShort takes the most that was tried, or there is wood for, and says so.
func (p *Plan) fallShort(room int) {
	t := p.Trial
	last := &p.Numbers.Points[len(p.Numbers.Points)-1]
	p.PerCell = last.N
	chance := last.Found()
	p.Shortened = fmt.Sprintf("With %d specimens of each adhesive in each condition, the most that was tried, a difference of %.3g %% is found with a chance of %.0f %% on %s, and %.0f %% is wanted.",
		last.N, float64(t.SmallestDifference), 100*chance.Found.Mean, chance.Wood, float64(t.Chance))
	if room <= last.N {
		p.Shortened = fmt.Sprintf("The boards give %d specimens of each adhesive in each condition: a difference of %.3g %% is then found with a chance of %.0f %% on %s, and %.0f %% is wanted.",
			last.N, float64(t.SmallestDifference), 100*chance.Found.Mean, chance.Wood, float64(t.Chance))
	}
	for _, a := range p.Numbers.Advice {
		if a.N == 0 {
			p.Shortened += " " + strings.TrimSpace(a.Text)
			break
		}
	}
}

// expected is what a person expects, as package howmany sees it.
func (p *Plan) expected(racks []rack) howmany.Input {
	t := p.Trial
	in := howmany.Input{Combinations: t.Conditions(), SD: float64(t.Scatter) / 100, BoardSD: boardScatter,
		Ratio: 1 + float64(t.SmallestDifference)/100, Control: t.Control, Seed: t.Seed}
	sum, known := 0.0, 0.0
	for _, a := range t.Adhesives {
		if a.Strength > 0 {
			sum += math.Log(float64(a.Strength))
			known++
		}
	}
	taken, source := fmt.Sprintf("%.0f %% of the weakest wood's", 100*howmany.DefaultShare), "common practice, no source; the more the wood ends, the less is found"
	if known > 0 {
		in.Level = math.Exp(sum / known)
		taken, source = fmt.Sprintf("%.3g MPa", in.Level), "the middle of those that are given"
	}
	for _, a := range t.Adhesives {
		x := howmany.Adhesive{Name: a.Name, Relative: 1}
		if a.Strength > 0 {
			x.Relative = float64(a.Strength) / in.Level
		} else {
			p.Expected = append(p.Expected, trialfile.Assumption{What: fmt.Sprintf("adhesive %q: strength", a.Name), Value: taken, Source: source})
		}
		in.Adhesives = append(in.Adhesives, x)
	}
	for k, w := range t.Woods {
		x := howmany.Wood{Name: w.Name, Strength: float64(w.Strength), Boards: len(racks[k].boards)}
		if w.Strength == 0 {
			x.Strength = math.Inf(1)
		}
		in.Woods = append(in.Woods, x)
	}
	return in
}
