package gibbs

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"
)

// Settings says how to sample. The zero value of a field takes its default.
type Settings struct {
	Seed   uint64
	Chains int // default and least 4
	Draws  int // kept over all chains, default 40 000; rounded up to a multiple of Chains
	WarmUp int // dropped at the start of each chain, default 500

	// Keep names observations for which the sum of their levels' effects is kept,
	// in Posterior.Shift.
	Keep []int

	// Progress, if set, is called from time to time with the number of steps done
	// and the number there will be. Calls come from several goroutines.
	Progress func(done, of int)
}

func (s Settings) withDefaults() Settings {
	s.Chains = max(s.Chains, 4)
	if s.Draws <= 0 {
		s.Draws = 40_000
	}
	if s.WarmUp <= 0 {
		s.WarmUp = 500
	}
	s.Draws = (s.Draws + s.Chains - 1) / s.Chains * s.Chains
	return s
}

// Posterior holds the draws. Each slice of draws holds the first chain's, then
// the second's, and so on; draw k of one quantity belongs with draw k of every
// other.
type Posterior struct {
	Chains int
	Draws  int         // over all chains
	Mean   [][]float64 // cell, draw: μ
	Sigma  [][]float64 // group, draw: σ
	TermSD [][]float64 // term, draw: τ
	Shift  [][]float64 // entry of Settings.Keep, draw: Σ_t u_t

	keep []int // strata of the observations in Settings.Keep
}

// Sample draws from the posterior of the model. It panics and returns errors as
// Model.Check does, and ErrRange where the draws overflow; when ctx ends first it
// returns ctx's error. The result
// depends on the model, Seed, Chains, Draws and WarmUp only.
func Sample(ctx context.Context, m *Model, set Settings) (*Posterior, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	set = set.withDefaults()
	post := &Posterior{
		Chains: set.Chains, Draws: set.Draws,
		Mean: columns(m.Cells, set.Draws), Sigma: columns(m.Groups, set.Draws), TermSD: columns(len(m.Terms), set.Draws), Shift: columns(len(set.Keep), set.Draws),
	}
	checkIndex(set.Keep, len(m.Lo))
	l, of := newLayout(m)
	for _, i := range set.Keep {
		post.keep = append(post.keep, of[i])
	}
	per := set.Draws / set.Chains
	var done atomic.Int64
	var lost atomic.Bool
	next := make(chan int, set.Chains)
	for k := range set.Chains {
		next <- k
	}
	close(next)
	var wg sync.WaitGroup
	for range min(set.Chains, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for k := range next {
				c := newChain(l, rand.New(rand.NewPCG(set.Seed, uint64(k)+0x9e3779b97f4a7c15)))
				for i := -set.WarmUp; i < per; i++ {
					if i&63 == 0 {
						if ctx.Err() != nil || lost.Load() {
							return
						}
						if !c.finite() {
							lost.Store(true)
							return
						}
						if set.Progress != nil {
							set.Progress(int(done.Add(64)), set.Chains*(set.WarmUp+per))
						}
					}
					c.step()
					if i >= 0 {
						post.put(c, k*per+i)
					}
				}
				if !c.finite() {
					lost.Store(true)
				}
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if lost.Load() {
		return nil, ErrRange
	}
	return post, nil
}

// finite reports whether the chain is still among the numbers; once one of its
// parameters is not, the others follow.
func (c *chain) finite() bool {
	for _, x := range [][]float64{c.mu, c.sigma, c.tau} {
		for _, v := range x {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return false
			}
		}
	}
	return true
}

func columns(n, draws int) [][]float64 {
	x := make([][]float64, n)
	for i := range x {
		x[i] = make([]float64, draws)
	}
	return x
}

func (p *Posterior) put(c *chain, at int) {
	for j, x := range c.mu {
		p.Mean[j][at] = x
	}
	for g, x := range c.sigma {
		p.Sigma[g][at] = x
	}
	for t, x := range c.tau {
		p.TermSD[t][at] = x
	}
	for j, s := range p.keep {
		p.Shift[j][at] = c.shift[s]
	}
}
