// Command study measures how often the answers hold, on simulated trials whose
// truth is known, and writes the figures into docs/measured.md. See "make study".
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/signal"
	"runtime"
	"sync"
	"time"

	"bondtrial/internal/answer"
	"bondtrial/internal/simulate"
	"bondtrial/tools/measured"
)

// setting is one kind of trial.
type setting struct {
	truth string // which strengths: see strengths
	sds   string // "equal" or "unequal" scatter
	share float64
}

func settings() []setting {
	var all []setting
	for _, kind := range []struct{ truth, sds string }{
		{"spread", "equal"}, {"spread", "unequal"}, {"trade", "equal"}, {"drawn", "equal"}, {"near", "equal"},
	} {
		for _, share := range []float64{0, 0.15, 0.35, 0.55} {
			all = append(all, setting{kind.truth, kind.sds, share})
		}
	}
	return all
}

// strengths are the true typical strengths of six adhesives, the weakest 1.
//
// spread: in even steps. trade: two flexible ones about equal, a brittle class 1.5
// times as strong, and so on up (common practice, no source). drawn: each trial
// draws its own. near: pairs alike, the hardest case for telling them apart.
func strengths(truth string, rng *rand.Rand) []float64 {
	switch truth {
	case "spread":
		return []float64{1, 1.05, 1.15, 1.3, 1.5, 1.8}
	case "trade":
		return []float64{1, 1, 1.5, 2.2, 3, 3.6}
	case "near":
		return []float64{1, 1, 1.1, 1.1, 1.2, 1.2}
	}
	s := make([]float64, 6)
	for i := range s {
		s[i] = math.Exp(0.4 * rng.NormFloat64())
	}
	return s
}

// trial is 6 adhesives on 2 woods, 4 to 6 specimens each, from 5 boards a wood
// with a standard deviation of 0.08.
func (s setting) trial(rng *rand.Rand) *simulate.Truth {
	t := &simulate.Truth{BoardSD: 0.08, Least: 4, Most: 6}
	for _, name := range []string{"hardwood", "softwood"} {
		t.Woods = append(t.Woods, simulate.Wood{Name: name, Strength: 10, SD: 0.14, Boards: 5})
	}
	for i, x := range strengths(s.truth, rng) {
		sd := []float64{0.17, 0.17, 0.17, 0.17, 0.17, 0.17}[i]
		if s.sds == "unequal" {
			sd = []float64{0.15, 0.20, 0.15, 0.20, 0.10, 0.30}[i]
		}
		t.Adhesives = append(t.Adhesives, simulate.Adhesive{Name: string(rune('A' + i)), Strength: []float64{4 * x, 4 * x}, SD: sd})
	}
	t.LimitShare(s.share)
	return t
}

func main() {
	trials := flag.Int("trials", 2000, "trials a setting")
	draws := flag.Int("draws", 4000, "draws of the sampler a trial")
	out := flag.String("out", "docs/measured.md", "file with the section to replace")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	start := time.Now()
	var rows []row
	for _, s := range settings() {
		r, err := measure(ctx, s, *trials, *draws)
		if err != nil {
			fmt.Fprintln(os.Stderr, "study:", err)
			os.Exit(1)
		}
		rows = append(rows, r)
		fmt.Fprintf(os.Stderr, "%s, %s scatter, %.0f %% wood-limited: %v\n", s.truth, s.sds, 100*s.share, time.Since(start).Round(time.Second))
	}
	section := write(rows, *trials, *draws)
	if err := measured.Replace(*out, "study", section); err != nil {
		fmt.Fprintln(os.Stderr, "study:", err)
		os.Exit(1)
	}
}

// row is what was measured of one setting.
type row struct {
	setting
	limited float64 // share of readings the wood ended
	little  int     // trials that allow no answer
	ways    []tally // ours first
	atLeast tally   // the cells of lower bounds
}

// measure answers many trials of one setting in every way. Trial k is the same
// whatever the number of processors.
func measure(ctx context.Context, s setting, trials, draws int) (row, error) {
	r := row{setting: s, ways: make([]tally, len(ways))}
	var wg sync.WaitGroup
	each, errs := make([]row, trials), make([]error, trials)
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for k := range next {
				each[k], errs[k] = measureOne(ctx, s, k, draws)
			}
		})
	}
	for k := range trials {
		if ctx.Err() != nil {
			break
		}
		next <- k
	}
	close(next)
	wg.Wait()
	if ctx.Err() != nil {
		return r, ctx.Err()
	}
	for k := range each {
		var little *answer.TooLittle
		if errors.As(errs[k], &little) {
			r.little++
			continue
		}
		if errs[k] != nil {
			return r, errs[k]
		}
		r.add(each[k])
	}
	r.limited /= float64(trials - r.little)
	return r, nil
}

func (r *row) add(o row) {
	r.limited += o.limited
	r.atLeast.add(o.atLeast)
	for w := range r.ways {
		r.ways[w].add(o.ways[w])
	}
}

func measureOne(ctx context.Context, s setting, k, draws int) (row, error) {
	rng := rand.New(rand.NewPCG(uint64(k), 20261125))
	truth := s.trial(rng)
	readings := truth.Readings(rng)
	set := answer.DefaultSettings()
	set.Draws, set.Seed = draws, uint64(k)
	r := row{setting: s, ways: make([]tally, len(ways))}
	a, err := answer.Compare(ctx, readings, set)
	if err != nil {
		return r, fmt.Errorf("%+v, trial %d: %w", s, k, err)
	}
	r.limited = float64(a.Counts.WoodLimited) / float64(a.Counts.Used)
	for i := range a.Cells {
		c := &a.Cells[i]
		if c.OnlyAtLeast {
			strength := truth.Adhesives[c.Adhesive[0]-'A'].Strength[0]
			r.atLeast.count(float64(c.AtLeast) <= strength)
			r.atLeast.short += math.Log(strength / float64(c.AtLeast))
		}
	}
	for w, way := range ways {
		for _, family := range way.compare(a, readings) {
			r.ways[w].judge(family, truth, set.Margin)
		}
	}
	return r, nil
}
