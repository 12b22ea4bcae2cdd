package blockdesign

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

// Options adjusts a search. The zero value is a good choice up to some hundred
// units.
type Options struct {
	// Starts is the number of independent searches of which the best is taken; 0
	// stands for 8. A design that reaches Bound ends the search early.
	Starts int
	// Proposals is the number of exchanges tried in each start; 0 stands for 2000
	// for each place, but not less than 20,000 nor more than 250,000.
	Proposals int
	// Progress, if not nil, is called now and then from the goroutine of Search.
	Progress func(Progress)
}

// Progress says how far a search is.
type Progress struct {
	Done       float64 // share of the work, 0 to 1
	Efficiency float64 // of the best design so far, to about six digits; near 0 if unconnected
	Bound      float64 // see Bound
}

// Design is an allocation of treatments to blocks.
type Design struct {
	// Count[b][i] is the number of units of treatment i in block b.
	Count [][]int
	// Efficiency is what the function of that name returns, with the weights of the
	// problem.
	Efficiency float64
	// Bound is what the function of that name returns: no design has a higher
	// efficiency.
	Bound float64
	// Connected says that all treatments can be compared within blocks, and
	// Components, in the form of the function of that name, which ones can if not.
	Connected  bool
	Components [][]int
}

// Search looks for the connected design for p of the highest efficiency, and finds a
// connected one whenever there is one; if there is none, the design returned has the fewest
// components possible, and that is no error. The design is not certain to be the
// best one unless its efficiency is its bound.
//
// The same problem, options and state of rng give the same design, on any number of
// processors. The error is that of p.Check, or, if ctx ends first, wraps its cause;
// the design is then nil. Search panics if rng is nil, an option is negative, or
// p.Check panics.
func Search(ctx context.Context, p Problem, rng *rand.Rand, opts Options) (*Design, error) {
	if rng == nil {
		panic(noSource)
	}
	if opts.Starts < 0 || opts.Proposals < 0 {
		panic(badOptions)
	}
	bound, err := Bound(p)
	if err != nil {
		return nil, err
	}
	fewest, err := p.FewestComponents()
	if err != nil {
		return nil, err
	}
	s := &annealing{ctx: ctx, rng: rng, state: newState(p, fewest), weights: p.Weights, bound: bound, fewest: fewest,
		starts: opts.Starts, proposals: opts.Proposals, report: opts.Progress}
	_, least := evenWeights(p.Weights)
	s.watch = fewest > 1 || least == 0
	if s.starts == 0 {
		s.starts = 8
	}
	if s.proposals == 0 {
		s.proposals = min(max(20_000, 2000*len(s.state.held)), 250_000)
	}
	if err := s.run(p); err != nil {
		return nil, fmt.Errorf("blockdesign: search stopped: %w", err)
	}
	copy(s.state.held, s.best)
	d := &Design{Count: s.state.counts(), Bound: bound}
	d.Efficiency = Efficiency(d.Count, p.Weights)
	d.Components = Components(d.Count)
	d.Connected = len(d.Components) == 1
	return d, nil
}

// Decisions of the search leave a margin above rounding, so that processors that
// round differently take the same ones.
const (
	margin   = 1e-9      // relative gain below which designs are alike
	reached  = 2 * ridge // relative distance from the bound at which to look closer
	checking = 64        // proposals between looks at the context
	refreshs = 200       // exchanges between fresh computations
	sweeps   = 100       // of a descent
)

type annealing struct {
	ctx       context.Context
	rng       *rand.Rand
	state     *state
	weights   mat.Symmetric
	bound     float64
	fewest    int  // components
	watch     bool // components can be more although the value is good
	starts    int
	proposals int
	report    func(Progress)

	best      []int // what the places hold in the best design so far
	bestValue float64
	made      int // exchanges since refresh
}

func (s *annealing) run(p Problem) error {
	s.bestValue = math.Inf(1)
	s.best = make([]int, len(s.state.held))
	for start := range s.starts {
		if err := context.Cause(s.ctx); err != nil {
			return err
		}
		s.state.begin(p, s.blocks(p, start), s.rng)
		if start == 0 {
			copy(s.best, s.state.held)
		}
		if s.state.t == 1 {
			s.bestValue = 1
			break
		}
		s.state.refresh()
		s.keep()
		if err := s.anneal(start); err != nil {
			return err
		}
		copy(s.state.held, s.best)
		if s.optimal() {
			break
		}
	}
	s.tell(1)
	return nil
}

// blocks returns how many blocks a start may use, the largest first. Where places
// stay free, annealing rarely empties a block, and fewer blocks often leave more
// information: so half of the starts use the fewest that will do, and the others all,
// or a number between.
func (s *annealing) blocks(p Problem, start int) int {
	fewest := fewestBlocks(p.Blocks, p.units())
	spare := len(p.Blocks) - fewest
	switch {
	case start%2 == 0:
		return fewest
	case start%4 == 1:
		return len(p.Blocks)
	default:
		return fewest + min(spare, 1+start/4)
	}
}
