package blockdesign

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

// Designs that are known to exist and to be best: balanced ones, and those whose
// dual is balanced or which are square lattices. Every seed must find one.
func TestFindsKnownDesigns(t *testing.T) {
	type known struct {
		name             string
		treatments, r, k int
		want             float64
		starts           int // the default if 0
	}
	var list []known
	for _, row := range records(t, "block_designs.csv") {
		k := known{name: row[0], treatments: integer(t, row[1]), r: integer(t, row[3]), k: integer(t, row[4])}
		if row[6] == "True" {
			k.want = number(t, row[5]) * float64(k.treatments) / float64(k.r*k.k)
			list = append(list, k)
		}
	}
	balanced := func(treatments, r, k int) known {
		return known{"balanced", treatments, r, k, float64(treatments*(k-1)) / float64(k*(treatments-1)), 0}
	}
	// Yates (1936), A new method of arranging variety trials, from memory: the factors
	// of r replications of a square lattice of s² are r(s−1) of 1−1/r, the rest 1.
	lattice := func(s, r int) known {
		return known{"square lattice", s * s, r, s, float64((s+1)*(r-1)) / float64((s+1)*(r-1)+r), 3}
	}
	list = append(list,
		// Existence: Fisher and Yates's table, from memory. t(k−1)/(k(t−1)) is an upper
		// bound, so finding the design proves it.
		balanced(13, 6, 3), balanced(15, 7, 3), balanced(15, 7, 7), balanced(16, 5, 4), balanced(16, 6, 6), balanced(21, 5, 5),
		lattice(3, 2), lattice(4, 2), lattice(4, 3), lattice(5, 3),
		// Treatments are the ten pairs of five blocks. The dual is all pairs of five, with
		// factors 0.625: 9/(5 + 4/0.625).
		known{"triangular", 10, 2, 4, 9 / (5 + 4/0.625), 0},
	)
	for _, k := range list {
		p := Problem{Blocks: same(k.k, k.treatments*k.r/k.k), Replications: same(k.r, k.treatments)}
		for seed := range uint64(4) {
			d := search(t, p, seed, Options{Starts: k.starts})
			// A square lattice of three replications is best among designs that exist, the
			// bound is not for it.
			if k.name != "square lattice" && math.Abs(d.Bound-k.want) > rounding {
				t.Errorf("%s, %d in blocks of %d: bound %v, want %v", k.name, k.treatments, k.k, d.Bound, k.want)
			}
			if d.Efficiency < k.want-rounding {
				t.Errorf("%s, %d in blocks of %d, seed %d: efficiency %v, want %v", k.name, k.treatments, k.k, seed, d.Efficiency, k.want)
			}
		}
	}
}

func drawProblem(rt *rapid.T) Problem {
	var p Problem
	p.Replications = rapid.SliceOfN(rapid.IntRange(1, 4), 1, 7).Draw(rt, "replications")
	p.Blocks = rapid.SliceOfN(rapid.IntRange(0, 5), 1, 8).Draw(rt, "blocks")
	if short := p.units() - p.places(); short > 0 {
		p.Blocks = append(p.Blocks, short)
	}
	t := len(p.Replications)
	switch rapid.IntRange(0, 2).Draw(rt, "weights") {
	case 1:
		p.Weights = control(t)
	case 2:
		w := mat.NewSymDense(t, nil)
		for i := 1; i < t; i++ {
			w.SetSym(0, i, 1)
		}
		p.Weights = w
	}
	return p
}

// The bound from two moments against the factors that have these moments: 8
// treatments in 8 blocks of 3, six concurrences of 1 and one of 0 for each treatment.
func TestMomentBound(t *testing.T) {
	mean := 16.0 / 21
	squares := 8 * 7 * (6.0 / 7) * (1.0 / 7) / (9 * 9)
	s := math.Sqrt(squares / (7 * 6))
	factors := slices.Concat(slices.Repeat([]float64{mean - s}, 6), []float64{mean + 6*s})
	got, err := Bound(Problem{Blocks: same(3, 8), Replications: same(3, 8)})
	if want := stat.HarmonicMean(factors, nil); err != nil || math.Abs(got-want) > rounding {
		t.Errorf("bound %v, %v; want %v", got, err, want)
	}
}

// After any run of exchanges, what the updates keep is what a fresh computation gives.
func TestUpdates(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := drawProblem(rt)
		if len(p.Replications) == 1 {
			p.Replications = []int{1, p.Replications[0]}
			p.Blocks = append(p.Blocks, 1)
			p.Weights = nil
		}
		fewest, err := p.FewestComponents()
		if err != nil {
			rt.Fatal(err)
		}
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		s := newState(p, fewest)
		s.begin(p, len(p.Blocks), rng)
		s.refresh()
		for range refreshs {
			c, ok := s.try(rng.IntN(len(s.held)), rng.IntN(len(s.held)))
			if !ok {
				continue
			}
			fresh := newState(p, fewest)
			copy(fresh.held, s.held)
			fresh.held[c.p], fresh.held[c.q] = fresh.held[c.q], fresh.held[c.p]
			fresh.refresh()
			if fresh.value > 1000*s.value {
				// Parts a connected design: the search is told so, and never goes there.
				if next := s.value - c.gain; !(next > 500*s.value) {
					rt.Fatalf("%v: value %v after parting, fresh %v", fresh.counts(), next, fresh.value)
				}
				continue
			}
			s.apply(c)
			compare(rt, "value", []float64{s.value}, []float64{fresh.value})
			compare(rt, "G", s.g, fresh.g)
			compare(rt, "H", s.h, fresh.h)
			compare(rt, "G n", s.gn, fresh.gn)
			compare(rt, "H n", s.hn, fresh.hn)
			compare(rt, "nGn", s.gnn, fresh.gnn)
			compare(rt, "nHn", s.hnn, fresh.hnn)
			compare(rt, "κ", s.kappa, fresh.kappa)
			if e := Efficiency(s.counts(), p.Weights); e > 0 && s.ridge == ridge && math.Abs(1/s.value-e) > 10*ridge*e {
				rt.Fatalf("%v: value %v, efficiency %v", s.counts(), s.value, e)
			}
		}
	})
}

// compare asks for nine digits of the largest entry, or nine decimals: as many as the
// decisions of the search rest on.
func compare(rt *rapid.T, what string, got, want []float64) {
	size := 1.0
	for _, v := range want {
		size = math.Max(size, math.Abs(v))
	}
	for i := range want {
		if !(math.Abs(got[i]-want[i]) <= 1e-9*size) {
			rt.Fatalf("%s[%d] is %v, fresh %v", what, i, got[i], want[i])
		}
	}
}

// Whatever the problem, the design fits it, has the fewest components possible, and
// keeps below the bound.
func TestAnyProblem(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := drawProblem(rt)
		if t := len(p.Replications); rapid.Bool().Draw(rt, "pairs only") {
			w := mat.NewSymDense(t, nil)
			for i := 1; i < t; i += 2 {
				w.SetSym(i-1, i, 1)
			}
			p.Weights = w
		}
		seed := rapid.Uint64().Draw(rt, "seed")
		d, err := Search(context.Background(), p, rand.New(rand.NewPCG(seed, 1)), Options{Starts: 1, Proposals: 300})
		if err != nil {
			rt.Fatal(err)
		}
		checkDesign(rt, p, d)
	})
}

// The fewest components of tiny problems, against all designs.
func TestFewestComponents(t *testing.T) {
	for _, c := range []struct {
		p    Problem
		want int
	}{
		{Problem{Blocks: []int{1, 1, 1, 1}, Replications: []int{2, 2}}, 2},
		{Problem{Blocks: []int{2, 2}, Replications: []int{1, 1, 1, 1}}, 2},
		{Problem{Blocks: []int{2, 2, 2}, Replications: []int{2, 1, 1, 1, 1}}, 2},
		{Problem{Blocks: []int{1, 1, 1, 3}, Replications: []int{1, 1, 1}}, 1},
		{Problem{Blocks: []int{2, 2, 2, 2}, Replications: []int{2, 2, 1, 1, 1}}, 2},
		{Problem{Blocks: []int{3}, Replications: []int{3}}, 1},
	} {
		got, err := c.p.FewestComponents()
		if err != nil || got != c.want {
			t.Errorf("%v: %d components, %v; want %d", c.p, got, err, c.want)
		}
		d := search(t, c.p, 1, Options{Proposals: 1000})
		if len(d.Components) != c.want {
			t.Errorf("%v: components %v, want %d", c.p, d.Components, c.want)
		}
		if connected := exhaust(c.p) > 0; connected != (c.want == 1) {
			t.Errorf("%v: a connected design exists: %t", c.p, connected)
		}
	}
}

func TestErrors(t *testing.T) {
	for _, c := range []struct {
		p    Problem
		want error
		text string
	}{
		{Problem{Blocks: []int{2}}, ErrNoTreatments, "no treatments"},
		{Problem{Blocks: []int{2, -1}, Replications: []int{1}}, ErrNegative, "block 1 has -1"},
		{Problem{Blocks: []int{2}, Replications: []int{1, 0}}, ErrReplication, "treatment 1 has 0"},
		{Problem{Blocks: []int{2, 3}, Replications: []int{4, 4}}, nil, "8 units for 5 places, 3 too many"},
		{Problem{Replications: []int{1}}, nil, "1 units for 0 places, 1 too many"},
	} {
		d, err := Search(context.Background(), c.p, rand.New(rand.NewPCG(1, 1)), Options{})
		if err == nil || d != nil || !strings.Contains(err.Error(), c.text) {
			t.Errorf("%v: %v, %v; want %q", c.p, d, err, c.text)
			continue
		}
		if c.want != nil && !errors.Is(err, c.want) {
			t.Errorf("%v: %v is not %v", c.p, err, c.want)
		}
		var size *SizeError
		if errors.As(err, &size) != (c.want == nil) {
			t.Errorf("%v: %T", c.p, err)
		}
		if _, err := Bound(c.p); err == nil {
			t.Errorf("%v: a bound", c.p)
		}
	}
}

func TestPanics(t *testing.T) {
	p := Problem{Blocks: []int{2, 2}, Replications: []int{2, 2}}
	rng := rand.New(rand.NewPCG(1, 1))
	bad := func(w mat.Symmetric) func() {
		return func() { _ = Problem{p.Blocks, p.Replications, w}.Check() }
	}
	for _, c := range []struct {
		want string
		call func()
	}{
		{noSource, func() { _, _ = Search(context.Background(), p, nil, Options{}) }},
		{badOptions, func() { _, _ = Search(context.Background(), p, rng, Options{Starts: -1}) }},
		{badWeightSize, bad(control(3))},
		{badWeight, bad(mat.NewSymDense(2, []float64{0, -1, -1, 0}))},
		{badWeight, bad(mat.NewSymDense(2, []float64{0, math.NaN(), 0, 0}))},
		{badCounts, func() { Efficiency(nil, nil) }},
		{badCounts, func() { Components([][]int{{1, 2}, {1}}) }},
		{badCounts, func() { PairVariances([][]int{{1, -2}}) }},
		{noUnit, func() { CanonicalFactors([][]int{{1, 0}}) }},
	} {
		func() {
			defer func() {
				if got := recover(); got != c.want {
					t.Errorf("panic %v, want %q", got, c.want)
				}
			}()
			c.call()
		}()
	}
}

func TestStops(t *testing.T) {
	cause := errors.New("enough")
	ctx, cancel := context.WithCancelCause(context.Background())
	p := large()
	calls := 0
	d, err := Search(ctx, p, rand.New(rand.NewPCG(1, 1)), Options{Progress: func(Progress) {
		if calls++; calls == 3 {
			cancel(cause)
		}
	}})
	if d != nil || !errors.Is(err, cause) || calls != 3 {
		t.Errorf("%v, %v after %d calls; want the cause after 3", d, err, calls)
	}
}

func TestProgress(t *testing.T) {
	var seen []Progress
	p := Problem{Blocks: same(3, 6), Replications: same(3, 6)}
	d := search(t, p, 1, Options{Progress: func(pr Progress) { seen = append(seen, pr) }})
	if len(seen) < 8 {
		t.Fatalf("%d calls", len(seen))
	}
	for i, pr := range seen {
		if i > 0 && (pr.Done < seen[i-1].Done || pr.Efficiency < seen[i-1].Efficiency) || pr.Bound != d.Bound {
			t.Errorf("call %d: %+v after %+v", i, pr, seen[max(0, i-1)])
		}
	}
	last := seen[len(seen)-1]
	if last.Done != 1 || math.Abs(last.Efficiency-d.Efficiency) > 10*ridge {
		t.Errorf("last %+v, design %v", last, d.Efficiency)
	}
}

// The same seed gives the same design; the first is frozen.
func TestSameSeed(t *testing.T) {
	p := Problem{Blocks: []int{4, 3, 3, 2}, Replications: []int{3, 3, 2, 2}}
	first := search(t, p, 1, Options{})
	again := search(t, p, 1, Options{})
	if !slices.EqualFunc(first.Count, again.Count, slices.Equal) {
		t.Errorf("%v, then %v", first.Count, again.Count)
	}
	// This package's own output, on amd64.
	want := "[[1 1 1 1] [1 1 1 0] [1 1 0 1] [0 0 0 0]]"
	if got := fmt.Sprint(first.Count); got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// large has 24 treatments, 500 units, 40 blocks and 20 places to spare.
func large() Problem {
	return Problem{
		Blocks:       slices.Concat(same(13, 30), same(13, 10)),
		Replications: slices.Concat(same(20, 23), same(40, 1)),
	}
}

func TestLarge(t *testing.T) {
	d := search(t, large(), 1, Options{Starts: 1, Proposals: 50_000})
	// A tenth of the default effort ends within half a percent of what no design exceeds.
	if d.Efficiency < 0.995*d.Bound {
		t.Errorf("efficiency %v, bound %v", d.Efficiency, d.Bound)
	}
}

func BenchmarkLarge(b *testing.B) {
	for b.Loop() {
		search(b, large(), 1, Options{})
	}
}
