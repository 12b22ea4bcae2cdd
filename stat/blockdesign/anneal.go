package blockdesign

import (
	"context"
	"math"
	"slices"
)

// The annealing starts at hot times the usual loss of a random exchange in a
// random design, and cools to cold times that in equal ratios.
const (
	hot  = 0.15
	cold = 0.005
)

// anneal runs one start: simulated annealing (Kirkpatrick, Gelatt and Vecchi 1983)
// over exchanges of what two places hold, then descent.
func (s *annealing) anneal(start int) error {
	temperature := hot * s.usualLoss()
	cooling := math.Pow(float64(cold)/hot, 1/float64(s.proposals))
	s.made = 0
	for proposal := range s.proposals {
		if proposal%checking == 0 {
			if err := s.look(start, proposal); err != nil {
				return err
			}
		}
		temperature *= cooling
		c, ok := s.propose()
		if !ok || c.gain < temperature*math.Log(1-s.rng.Float64()) {
			continue
		}
		s.make(c)
		if s.keep() && s.optimal() {
			return nil
		}
	}
	return s.descend(start)
}

// propose works out the exchange of two random places that are open.
func (s *annealing) propose() (change, bool) {
	open := s.state.open
	if len(open) == 0 {
		return change{}, false
	}
	return s.state.try(open[s.rng.IntN(len(open))], open[s.rng.IntN(len(open))])
}

// usualLoss returns the median size of the change in value over random exchanges
// that do not disconnect the design.
func (s *annealing) usualLoss() float64 {
	var size []float64
	for range 1000 {
		if c, ok := s.propose(); ok && math.Abs(c.gain) < 8*s.state.value {
			size = append(size, math.Abs(c.gain))
		}
	}
	if len(size) == 0 {
		return 0
	}
	slices.Sort(size)
	return size[len(size)/2]
}

// descend makes exchanges that gain until none does, or has gone over all pairs of
// places often enough.
func (s *annealing) descend(start int) error {
	s.state.refresh()
	n := len(s.state.held)
	improved := true
	for sweep := 0; improved && sweep < sweeps; sweep++ {
		improved = false
		for p := range n {
			if err := s.look(start, s.proposals); err != nil {
				return err
			}
			for q := range p {
				if c, ok := s.state.try(p, q); ok && c.gain > margin*s.state.value {
					s.make(c)
					s.keep()
					improved = true
				}
			}
		}
	}
	return nil
}

func (s *annealing) make(c change) {
	s.state.apply(c)
	if s.made++; s.made%refreshs == 0 {
		s.state.refresh()
	}
}

// keep takes the present state as the best if it is better, and says if it did. One of
// more components than need be is not, even where weights of zero make nothing of it.
func (s *annealing) keep() bool {
	if !(s.state.value < s.bestValue*(1-margin)) {
		return false
	}
	if s.watch && len(Components(s.state.counts())) > s.fewest {
		return false
	}
	s.bestValue = s.state.value
	copy(s.best, s.state.held)
	return true
}

// optimal reports whether the best design, which the state holds, reaches the bound.
func (s *annealing) optimal() bool {
	if s.bound == 0 || s.bestValue*s.bound > 1+reached {
		return false
	}
	return Efficiency(s.state.counts(), s.weights) >= s.bound-margin
}

// look gives way to the context and to whoever watches.
func (s *annealing) look(start, proposal int) error {
	if err := context.Cause(s.ctx); err != nil {
		return err
	}
	if s.report != nil && proposal%(64*checking) == 0 {
		done := (float64(start) + float64(proposal)/float64(s.proposals)) / float64(s.starts)
		s.tell(done)
	}
	return nil
}

func (s *annealing) tell(done float64) {
	if s.report != nil {
		s.report(Progress{Done: done, Efficiency: 1 / s.bestValue, Bound: s.bound})
	}
}
