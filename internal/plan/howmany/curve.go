package howmany

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
)

// Estimate is a simulated mean with its Monte Carlo standard error.
type Estimate struct{ Mean, SE float64 }

// WoodPoint is what one wood is expected to give at one n. Chances are those of
// the probed pair.
type WoodPoint struct {
	Wood string

	// Found is the chance that the pair, apart by the ratio, is shown to be so the
	// right way round by the simultaneous 95 % interval; Wrong the wrong way round.
	// Same is the chance that the pair, alike, is shown the same within the margin,
	// and Apart that it is shown to differ.
	Found, Wrong, Same, Apart Estimate

	// Simultaneous and Single are the expected widths of the pair's 95 % intervals
	// when it is apart: the geometric mean of the upper end over the lower, over the
	// trials in which both ends exist. OneSided is the share of trials in which one
	// does not, as every specimen of an adhesive ended in the wood. The widths are
	// NaN where it is 1.
	Simultaneous, Single, OneSided Estimate

	// WoodLimited is the expected share of the specimens, all adhesives, that the
	// wood ends, computed; WoodLimitedPair that of the pair's, RigLimitedPair the
	// share of the pair's that the rig stops.
	WoodLimited, WoodLimitedPair, RigLimitedPair float64

	// Boards is how many boards are used, 0 where boards are not kept apart, and
	// BoardsShort how many of them are missing.
	Boards, BoardsShort int
}

// PairChance is the chance that a compared pair is found to differ the right way
// round at its expected strengths, the probed pair apart.
type PairChance struct {
	A, B  string
	Wood  string
	Ratio float64  // A over B
	Found Estimate // 0 where Ratio is 1, as there is no right way round
}

// Point is what n specimens in each cell are expected to give.
type Point struct {
	N         int // in each cell
	Specimens int // in all
	Woods     []WoodPoint
	Pairs     []PairChance

	// TooLittle is the share of the trials apart that would allow no answer, as no
	// cell had two bond breaks.
	TooLittle float64
}

// Found is the chance on the wood where it is least.
func (p *Point) Found() WoodPoint {
	least := p.Woods[0]
	for _, w := range p.Woods[1:] {
		if w.Found.Mean < least.Found.Mean {
			least = w
		}
	}
	return least
}

// Result is the answer to how many.
type Result struct {
	Input  Input    // with defaults written out, without Progress
	Points []Point  // one for each n, ascending
	Advice []Advice // one for each of Targets
}

// chunk is how many trials one goroutine does before it looks up. Sums are made
// within chunks and then over them, so that they do not depend on who does what.
const chunk = 25

// Compute simulates and judges every n asked for, and recommends. An error names
// what is wrong with the input, or is ctx's. The result depends on the input only,
// not on how many processors there are.
func Compute(ctx context.Context, in Input) (*Result, error) {
	in, err := in.filled()
	if err != nil {
		return nil, err
	}
	res := &Result{Input: in}
	res.Input.Progress = nil
	clock := &progress{of: 2 * in.Trials * (in.Most - in.Least + 1), tell: in.Progress}
	for n := in.Least; n <= in.Most; n++ {
		p, err := in.point(ctx, n, clock)
		if err != nil {
			return nil, err
		}
		res.Points = append(res.Points, *p)
	}
	res.Advice, err = in.advise(ctx, res.Points)
	if err != nil {
		return nil, err
	}
	return res, nil
}

// progress counts trials.
type progress struct {
	mu       sync.Mutex
	done, of int
	tell     func(done, of int)
}

func (p *progress) add(n int) {
	if p == nil || p.tell == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.done += n
	p.tell(p.done, p.of)
}

// The two arms of a simulation.
const (
	apart = iota
	alike
)

// point simulates both arms at one n.
func (in *Input) point(ctx context.Context, n int, clock *progress) (*Point, error) {
	cells := len(in.Adhesives) * in.Combinations
	p := &Point{N: n, Specimens: n * cells * len(in.Woods)}
	d := newDesign(in, n)
	d.expect(in, in.Ratio)
	far, err := in.run(ctx, d, apart, clock)
	if err != nil {
		return nil, err
	}
	same := *d
	same.expect(in, 1)
	near, err := in.run(ctx, &same, alike, clock)
	if err != nil {
		return nil, err
	}
	a, b := in.index(in.Pair[0]), in.index(in.Pair[1])
	p.TooLittle = 1 - far.judged/float64(in.Trials)
	for w := range in.Woods {
		wood := WoodPoint{Wood: in.Woods[w].Name, WoodLimited: d.shareLimited(w)}
		wood.Boards, wood.BoardsShort = in.Woods[w].boardsFor(n, cells)
		wood.WoodLimitedPair = 0.5 * (d.limitedOf(a, w) + d.limitedOf(b, w))
		wood.RigLimitedPair = 0.5 * (d.stoppedOf(a, w) + d.stoppedOf(b, w))
		f, s := &far.woods[w], &near.woods[w]
		wood.Found, wood.Wrong = f.found.estimate(in.Trials), f.wrong.estimate(in.Trials)
		wood.Same, wood.Apart = s.same.estimate(in.Trials), s.differ.estimate(in.Trials)
		wood.OneSided = f.open.estimate(in.Trials)
		wood.Simultaneous, wood.Single = f.sim.width(), f.single.width()
		p.Woods = append(p.Woods, wood)
	}
	p.Pairs = in.pairChances(d, far)
	return p, nil
}

// pairChances reads the tallies of all pairs, combinations together.
func (in *Input) pairChances(d *design, t *tally) (out []PairChance) {
	perWood := len(d.pairs) / len(in.Woods) / d.combos
	for w := range in.Woods {
		for k := range perWood {
			x := d.pairs[w*perWood*d.combos+k]
			out = append(out, PairChance{
				A: in.Adhesives[x.a].Name, B: in.Adhesives[x.b].Name, Wood: in.Woods[w].Name,
				Ratio: math.Exp(d.bond[x.a] - d.bond[x.b]),
				Found: t.pairs[w*perWood+k].estimate(in.Trials),
			})
		}
	}
	return out
}

// sum adds up a figure of each trial.
type sum struct{ n, x, xx float64 }

func (s *sum) add(x float64) { s.n++; s.x += x; s.xx += x * x }
func (s *sum) join(o sum)    { s.n += o.n; s.x += o.x; s.xx += o.xx }

// estimate is the mean over so many trials; those that were not added count as 0.
func (s sum) estimate(trials int) Estimate {
	n := float64(trials)
	m := s.x / n
	return Estimate{m, math.Sqrt(max(s.xx/n-m*m, 0) / max(n-1, 1))}
}

// width is the geometric mean from sums of logarithms, with its standard error.
func (s sum) width() Estimate {
	if s.n == 0 {
		return Estimate{math.NaN(), math.NaN()}
	}
	e := s.estimate(int(s.n))
	return Estimate{math.Exp(e.Mean), math.Exp(e.Mean) * e.SE}
}

// tally is what the trials of one arm came to.
type tally struct {
	judged float64
	woods  []struct{ found, wrong, same, differ, open, sim, single sum }
	pairs  []sum // wood by wood, combinations together
}

func newTally(d *design) *tally {
	t := &tally{pairs: make([]sum, len(d.pairs)/d.combos)}
	t.woods = make([]struct{ found, wrong, same, differ, open, sim, single sum }, len(d.woods))
	return t
}

func (t *tally) join(o *tally) {
	t.judged += o.judged
	for w := range t.woods {
		a, b := &t.woods[w], &o.woods[w]
		a.found.join(b.found)
		a.wrong.join(b.wrong)
		a.same.join(b.same)
		a.differ.join(b.differ)
		a.open.join(b.open)
		a.sim.join(b.sim)
		a.single.join(b.single)
	}
	for p := range t.pairs {
		t.pairs[p].join(o.pairs[p])
	}
}

// add takes a judged trial in. Combinations of a wood are averaged, as they are
// alike.
func (t *tally) add(d *design, probed [2]int, out []verdictOf) {
	t.judged++
	perWood := len(d.pairs) / len(d.woods)
	perFamily := perWood / d.combos
	each := 1 / float64(d.combos)
	for w := range d.woods {
		at := &t.woods[w]
		var found, wrong, same, differ, open, closed, sim, single float64
		for k := range perFamily {
			hits := 0.0
			for c := range d.combos {
				p := w*perWood + c*perFamily + k
				x, v := d.pairs[p], &out[p]
				a, b := x.a%d.adhesives, x.b%d.adhesives
				right, reverse := stronger, weaker
				if d.bond[a] < d.bond[b] {
					right, reverse = weaker, stronger
				}
				is := func(v bool) float64 {
					if v {
						return each
					}
					return 0
				}
				if d.bond[a] != d.bond[b] {
					hits += is(v.verdict == right)
				}
				if [2]int{a, b} != probed {
					continue
				}
				found += is(v.verdict == right)
				wrong += is(v.verdict == reverse)
				same += is(v.verdict == sameWithin)
				differ += is(v.verdict == right || v.verdict == reverse)
				open += is(math.IsInf(v.highSim-v.lowSim, 1))
				if !math.IsInf(v.highSim-v.lowSim, 1) {
					closed++
					sim += v.highSim - v.lowSim
					single += v.high - v.low
				}
			}
			t.pairs[w*perFamily+k].add(hits)
		}
		at.found.add(found)
		at.wrong.add(wrong)
		at.same.add(same)
		at.differ.add(differ)
		at.open.add(open)
		if closed > 0 {
			at.sim.add(sim / closed)
			at.single.add(single / closed)
		}
	}
}

// run simulates one arm on all processors.
func (in *Input) run(ctx context.Context, d *design, arm int, clock *progress) (*tally, error) {
	a, b := in.index(in.Pair[0]), in.index(in.Pair[1])
	probed := [2]int{min(a, b), max(a, b)}
	chunks := (in.Trials + chunk - 1) / chunk
	parts := make([]*tally, chunks)
	next := make(chan int)
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), chunks) {
		wg.Go(func() {
			j := newJudge(d)
			obs := make([]observed, len(d.woods))
			for k := range next {
				t := newTally(d)
				to := min((k+1)*chunk, in.Trials)
				for trial := k * chunk; trial < to; trial++ {
					if ctx.Err() != nil {
						break
					}
					d.draw(source(in.Seed, d.n, arm, trial), obs)
					if out, ok := j.judge(obs); ok {
						t.add(d, probed, out)
					}
				}
				parts[k] = t
				clock.add(to - k*chunk)
			}
		})
	}
	for k := range chunks {
		if ctx.Err() != nil {
			break
		}
		next <- k
	}
	close(next)
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("how many specimens: stopped at %d in each cell: %w", d.n, err)
	}
	all := newTally(d)
	for _, t := range parts {
		all.join(t)
	}
	return all, nil
}
