package answer

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"bondtrial"
	"bondtrial/internal/simulate"
	"bondtrial/stat/studrange"
)

// An adhesive is the strongest only where it is stronger than each other, so its
// chance of that is at most the least of the chances to be stronger.
func TestChancesAgreeWithComparisons(t *testing.T) {
	set := quick()
	set.Factors = []string{simulate.DemoFactor}
	a := compute(t, simulate.DemoReadings(simulate.DemoSeed), set)
	for _, best := range a.Best {
		for _, p := range a.Pairs {
			if !p.Same(best.Condition) || !p.PAStronger.Exists() {
				continue
			}
			over := p.PAStronger
			switch best.Adhesive {
			case p.B:
				over = 1 - over
			case p.A:
			default:
				continue
			}
			if best.PBest > float64(over)+1e-12 {
				t.Errorf("%s on %s is the strongest with %.3f and stronger in %s / %s with %.3f", best.Adhesive, best.Condition, best.PBest, p.A, p.B, over)
			}
		}
	}
}

// The levels of a factor with three hold together: with one adhesive, no bounds and
// one scatter, as many at each level, by Tukey's studentized range (package
// studrange, checked there).
func TestLevelsHoldTogether(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	var rs []bondtrial.Reading
	for _, level := range []string{"a", "b", "c"} {
		for range 8 {
			r := broke("Tarn", math.Exp(2+0.1*rng.NormFloat64()))
			r.Factors = map[string]string{"prep": level}
			rs = append(rs, r)
		}
	}
	for _, drawn := range []bool{false, true} {
		set := DefaultSettings()
		set.PooledScatter, set.Factors, set.drawsOnly = true, []string{"prep"}, drawn
		a := compute(t, rs, set)
		if len(a.Effects) != 3 {
			t.Fatalf("%d effects of three levels", len(a.Effects))
		}
		q := studrange.Dist{K: 3, DF: 21}.Quantile(0.95)
		q1 := studrange.Dist{K: 2, DF: 21}.Quantile(0.95) // √2·t
		for _, e := range a.Effects {
			single := math.Log(float64(e.High / e.Low))
			together := math.Log(float64(e.HighSim / e.LowSim))
			limit := 1e-6 // of interpolation and quadrature
			if drawn {
				limit = 0.015 // of the width, at the default draws
			}
			if got, want := together/single, q/q1; math.Abs(got-want) > limit*want {
				t.Errorf("%s / %s: together %.4f times as wide as alone, want %.4f", e.A, e.B, got, want)
			}
		}
	}
}

// A wood that fails seldom has an interval that tells something, or none.
func TestWoodThatFailsSeldom(t *testing.T) {
	for fails := 2; fails <= 6; fails++ {
		rng := rand.New(rand.NewPCG(uint64(fails), 1))
		var rs []bondtrial.Reading
		for i := range 24 {
			r := broke([]string{"Tarn", "Fell"}[i%2], math.Exp(math.Log(7)+0.15*rng.NormFloat64()))
			r.Wood = "beech"
			if i < fails {
				r.Strength, r.WoodFailure = bondtrial.Megapascal(9+0.5*rng.NormFloat64()), 100
			}
			rs = append(rs, r)
		}
		for seed := range uint64(4) {
			set := quick()
			set.Seed = seed
			w := compute(t, rs, set).WoodLimits[0]
			if w.Typical.Exists() && (w.High > woodWidest*w.Low || w.Typical < 8 || w.Typical > 20) {
				t.Errorf("%d failures about 9 MPa, seed %d: %.1f (%.1f to %.1f)", fails, seed, w.Typical, w.Low, w.High)
			}
			if fails >= 5 && !w.Typical.Exists() {
				t.Errorf("%d failures, seed %d: nothing is told", fails, seed)
			}
		}
	}
}

// The change along an order does not depend on where its numbers begin, nor on
// adhesives that were not numbered.
func TestDriftIsOverTheOrderUsed(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	var rs []bondtrial.Reading
	for i := range 24 {
		r := broke([]string{"Tarn", "Fell"}[i%2], math.Exp(2+0.4*float64(i)/23+0.05*rng.NormFloat64()))
		r.BreakOrder = i + 1
		rs = append(rs, r)
	}
	want := compute(t, rs, quick()).Drifts[0]
	for i := range rs {
		rs[i].BreakOrder += 1000
	}
	rs = append(rs, readings("Skerry", 5, 6, 5.5)...)
	got := compute(t, rs, quick()).Drifts
	if len(got) != 1 || math.Abs(float64(got[0].Ratio/want.Ratio-1)) > 1e-6 || got[0].First != 1001 || got[0].Last != 1024 {
		t.Errorf("numbered from 1001: %+v, from 1: %+v", got, want)
	}
	if !want.Flag || math.Abs(math.Log(float64(want.Ratio))-0.4) > 0.15 {
		t.Errorf("a rise by e^0.4 is %+v", want)
	}
}

// Few bond breaks among bounds do not send the upper end out of sight, whatever
// the seed.
func TestUpperEndOfFewBreaks(t *testing.T) {
	for broken := 1; broken <= 2; broken++ {
		rs := append(readings("Tarn", 5, 6, 5.5, 5.2, 5.8), readings("Fell", 7, 8, 7.5, 7.2)...)
		for i, r := range readings("Skerry", 9, 9.6, 10.4, 10.1, 9.8) {
			if i >= broken {
				r.WoodFailure = 100
			}
			rs = append(rs, r)
		}
		var highs []float64
		for seed := range uint64(4) {
			set := DefaultSettings()
			set.Seed = seed
			c := cellOf(t, compute(t, rs, set), "Skerry")
			highs = append(highs, float64(c.High))
			if c.High > 40 || c.High < 10.4 {
				t.Errorf("%d of 5 broke about 9.5 MPa, seed %d: %.1f (%.1f to %.1f)", broken, seed, c.Typical, c.Low, c.High)
			}
		}
		for _, h := range highs {
			if math.Abs(h/highs[0]-1) > 0.1 {
				t.Errorf("%d of 5 broke: upper ends %.1f by seed", broken, highs)
				break
			}
		}
	}
}

// Between the comparisons a person can stop as well.
func TestStopsAmongComparisons(t *testing.T) {
	var rs []bondtrial.Reading
	rng := rand.New(rand.NewPCG(2, 2))
	for k := range 60 {
		for range 3 {
			rs = append(rs, broke(string(rune('A'+k%26))+string(rune('a'+k/26)), math.Exp(2+0.1*rng.NormFloat64())))
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	set := quick()
	set.Progress = func(stage string, _, _ int) {
		if stage == "the comparisons" {
			stop()
		}
	}
	start := time.Now()
	if _, err := Compute(ctx, rs, set); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped when all is sampled: %v", err)
	}
	if d := time.Since(start); d > 30*time.Second {
		t.Errorf("stopped after %v", d)
	}
}

// Batches of one adhesive are told apart where there are several; where there is
// one for each, their difference is said to be out of reach.
func TestBatches(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	shift := []float64{-0.3, 0.3, -0.3, 0.3, -0.3, 0.3}
	var rs []bondtrial.Reading
	for i := range 48 {
		r := broke([]string{"Tarn", "Fell"}[i%2], math.Exp(2+shift[i/8]+0.05*rng.NormFloat64()))
		r.Batch = string(rune('1' + i/8))
		rs = append(rs, r)
	}
	a := compute(t, rs, quick())
	if !a.Spread.Batch.Exists() || math.Abs(float64(a.Spread.Batch)-0.3) > 0.15 || a.Spread.Residual > 0.08 {
		t.Errorf("batches ±0.3, scatter 0.05: %+v", a.Spread)
	}
	for i := range rs {
		rs[i].Batch = "1"
	}
	a = compute(t, rs, quick())
	if a.Spread.Batch.Exists() || !warned(a, "No adhesive was glued from two batches") {
		t.Errorf("one batch of each adhesive: %+v, %q", a.Spread, a.Warnings)
	}
}
