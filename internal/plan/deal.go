package plan

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"

	"gonum.org/v1/gonum/mat"

	"bondtrial/stat/blockdesign"
)

// pack is how many specimens are cut side by side: two where the levels of a
// factor go to neighbouring pieces, else one.
func (p *Plan) pack() int {
	if p.Trial.Pairs != "" {
		return 2
	}
	return 1
}

// treatment is what is dealt: an adhesive at a level of each factor. Where the
// levels of a factor go to neighbouring pieces that factor has none yet.
type treatment struct {
	adhesive int
	levels   []string
}

// treatments lists them, adhesive by adhesive.
func (p *Plan) treatments() []treatment {
	combos := [][]string{nil}
	for _, f := range p.Trial.Factors {
		var next [][]string
		for _, c := range combos {
			levels := f.Levels[:]
			if f.Name == p.Trial.Pairs {
				levels = []string{""}
			}
			for _, l := range levels {
				next = append(next, append(append([]string(nil), c...), l))
			}
		}
		combos = next
	}
	var all []treatment
	for a := range p.Trial.Adhesives {
		for _, c := range combos {
			all = append(all, treatment{a, c})
		}
	}
	return all
}

// weights says which comparisons count: adhesives in the same condition, with a
// control those with it, and an adhesive in two conditions.
func (p *Plan) weights(ts []treatment) *mat.SymDense {
	w := mat.NewSymDense(len(ts), nil)
	control := -1
	for a, x := range p.Trial.Adhesives {
		if x.Name == p.Trial.Control {
			control = a
		}
	}
	for i, a := range ts {
		for j, b := range ts[:i] {
			same := strings.Join(a.levels, "\x00") == strings.Join(b.levels, "\x00")
			switch {
			case a.adhesive == b.adhesive:
				w.SetSym(i, j, 0.5)
			case same && (control < 0 || a.adhesive == control || b.adhesive == control):
				w.SetSym(i, j, 1)
			}
		}
	}
	return w
}

// deal decides which board gives the pieces of which specimen.
func (p *Plan) deal(ctx context.Context, racks []rack, o Options) error {
	ts := p.treatments()
	pack := p.pack()
	rng, places := p.source(streamDeal), p.source(streamPlaces)
	shop := newWorkshop(p.Trial)
	pair := 0
	var apart []error
	for k := range racks {
		r := &racks[k]
		wanted := make(map[string]int)
		problem := blockdesign.Problem{Weights: p.weights(ts)}
		problem.Blocks = r.spread(pack, len(ts), len(ts)*p.PerCell)
		for range ts {
			problem.Replications = append(problem.Replications, p.PerCell)
		}
		d, err := blockdesign.Search(ctx, problem, rng, blockdesign.Options{Progress: func(g blockdesign.Progress) {
			o.Progress("which board", int(1000*(float64(k)+g.Done)), 1000*len(racks))
		}})
		if err != nil {
			return fmt.Errorf("dealing %s: %w", r.wood, err)
		}
		if !d.Connected {
			apart = append(apart, p.unlinked(r, ts, d))
			continue
		}
		deal := Deal{Wood: r.wood, Efficiency: d.Efficiency, Bound: d.Bound, Places: r.places(pack) * pack, Used: len(ts) * p.PerCell * pack}
		for b, counts := range d.Count {
			n := p.place(r, b, ts, counts, &pair, places)
			wanted[r.boards[b].name] = n
			if n > 0 {
				deal.Boards++
			} else {
				deal.Spare = append(deal.Spare, r.boards[b].name)
			}
		}
		p.Deals = append(p.Deals, deal)
		if len(r.cut) == 0 {
			continue
		}
		c, err := r.cutList(shop, wanted)
		if err != nil {
			return err
		}
		p.Cuts = append(p.Cuts, Cut{r.wood, c})
	}
	return errors.Join(apart...)
}

// spread returns how many packs each board may give. Few boards would serve the
// comparisons as well as many, but what they show would be of those boards: so no
// board gives more than an even share, rounded up to whole sets of treatments,
// unless the others cannot give the rest.
func (r *rack) spread(pack, treatments, need int) []int {
	most := make([]int, len(r.boards))
	for b := range r.boards {
		most[b] = r.boards[b].places(pack)
	}
	share := (need + len(most) - 1) / len(most)
	share = (share + treatments - 1) / treatments * treatments
	for ; ; share++ {
		places, all := make([]int, len(most)), 0
		for b := range most {
			places[b] = min(most[b], share)
			all += places[b]
		}
		if all >= need || all == r.places(pack) {
			return places
		}
	}
}

// unlinked says which adhesives cannot be compared on a wood.
func (p *Plan) unlinked(r *rack, ts []treatment, d *blockdesign.Design) error {
	var groups []string
	for _, c := range d.Components {
		var names []string
		for _, i := range c {
			names = append(names, strings.TrimRight(strings.Join(append([]string{p.Trial.Adhesives[ts[i].adhesive].Name}, ts[i].levels...), " "), " "))
		}
		groups = append(groups, strings.Join(names, ", "))
	}
	most := 0
	for k := range r.boards {
		most = max(most, r.boards[k].places(p.pack()))
	}
	return fmt.Errorf("the boards of %s are too small to link all adhesives: the largest has places for %d, and however they are dealt %d groups are left that no board compares, so that a difference between boards would pass for one between adhesives: %s; "+
		"%d more places on boards that are used already would link them", r.wood, most, len(groups), strings.Join(groups, " | "), len(groups)-1)
}

// place puts the specimens dealt to a board side by side in random order and
// returns the number of the last piece they take.
func (p *Plan) place(r *rack, b int, ts []treatment, counts []int, pair *int, rng *rand.Rand) int {
	var packs []treatment
	for i, n := range counts {
		for range n {
			packs = append(packs, ts[i])
		}
	}
	rng.Shuffle(len(packs), func(i, j int) { packs[i], packs[j] = packs[j], packs[i] })
	last := 0
	for k, t := range packs {
		piece := r.boards[b].first(p.pack(), k)
		levels := [][]string{t.levels}
		number := 0
		if p.pack() == 2 {
			*pair++
			number = *pair
			levels = p.bothLevels(t.levels)
			rng.Shuffle(2, func(i, j int) { levels[i], levels[j] = levels[j], levels[i] })
		}
		for _, l := range levels {
			p.Specimens = append(p.Specimens, Specimen{Adhesive: t.adhesive, Wood: r.wood, Levels: l, Board: r.boards[b].name,
				Pieces: [2]int{piece, piece + 1}, Pair: number})
			piece += piecesEach
		}
		last = piece - 1
	}
	return last
}

// bothLevels fills in the two levels of the factor that goes to neighbouring
// pieces.
func (p *Plan) bothLevels(levels []string) [][]string {
	out := [][]string{append([]string(nil), levels...), append([]string(nil), levels...)}
	for k, f := range p.Trial.Factors {
		if f.Name == p.Trial.Pairs {
			out[0][k], out[1][k] = f.Levels[0], f.Levels[1]
		}
	}
	return out
}
