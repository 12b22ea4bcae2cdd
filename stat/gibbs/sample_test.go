package gibbs

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func sample(t testing.TB, m *Model, s Settings) *Posterior {
	t.Helper()
	p, err := Sample(context.Background(), m, s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// twoGroups is the first two groups of the Tukey example of the NIST/SEMATECH
// e-Handbook, section 7.4.7.1.
func twoGroups() *Model {
	y := []float64{6.9, 5.4, 5.8, 4.6, 4.0, 8.3, 6.8, 7.8, 9.2, 6.5}
	return &Model{Lo: y, Hi: y, Cell: []int{0, 0, 0, 0, 0, 1, 1, 1, 1, 1}, Cells: 2, Group: []int{0, 0}, Groups: 1}
}

// With exact observations, one scatter and no terms the posterior of a
// difference is Student's t about the difference of means: the textbook result
// for the prior 1/σ (Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.2
// and chapter 14).
func TestConjugateCaseIsStudentT(t *testing.T) {
	m := twoGroups()
	const draws = 100_000
	p := sample(t, m, Settings{Seed: 3, Draws: draws})
	d := make([]float64, draws)
	for i := range d {
		d[i] = p.Mean[1][i] - p.Mean[0][i]
	}
	slices.Sort(d)
	// Means 5.34 and 7.72; sums of squares 5.032 and 4.788, by hand.
	se := math.Sqrt((5.032 + 4.788) / 8 * (2.0 / 5))
	exact := distuv.StudentsT{Mu: 2.38, Sigma: se, Nu: 8}
	for _, q := range []float64{0.025, 0.05, 0.25, 0.5, 0.75, 0.95, 0.975} {
		want := exact.Quantile(q)
		// Five standard errors of a sample quantile of independent draws.
		tol := 5 * math.Sqrt(q*(1-q)/draws) / exact.Prob(want)
		if got := quantileSorted(d, q); math.Abs(got-want) > tol {
			t.Errorf("quantile %g = %.4f, want %.4f ± %.4f", q, got, want, tol)
		}
	}
}

// jagsModel rebuilds one of the models of testdata/jags.R from its data.
func jagsModel(t *testing.T, name string) *Model {
	cols := readCSV(t, "jags-data.csv")
	m := &Model{Cells: 4, Group: []int{0, 1, 2, 3}, Groups: 4, ScatterPrior: HalfT{3, 0.3}, ScatterRange: Range{1e-3, 1e3}}
	board := Term{Levels: 5, Prior: HalfT{3, 0.2}}
	for i, s := range cols["model"] {
		if s != name {
			continue
		}
		lo := number(t, cols["lo"][i])
		hi := lo
		if cols["bound"][i] == "TRUE" {
			hi = math.Inf(1)
		}
		m.Lo, m.Hi = append(m.Lo, lo), append(m.Hi, hi)
		c := int(number(t, cols["cell"][i])) - 1
		m.Cell = append(m.Cell, c)
		board.Level = append(board.Level, int(number(t, cols["board"][i]))-1)
	}
	m.Terms = []Term{board}
	if name == "learned" {
		m.Learn = []Learned{{Cells: []int{3}, From: []int{0, 1, 2}, DF: 4, Scale: 0.4}}
	}
	return m
}

// Expected: JAGS 4.3.1 by testdata/jags.R, the same model and priors, with the
// Monte Carlo error of each number. Five combined standard errors are allowed: of
// 100 numbers none should miss by more.
func TestPosteriorAgainstJAGS(t *testing.T) {
	want := readCSV(t, "jags-summary.csv")
	for _, name := range []string{"some", "learned"} {
		const draws = 120_000
		m := jagsModel(t, name)
		p := sample(t, m, Settings{Seed: 11, Draws: draws})
		of := map[string][]float64{"tau": p.TermSD[0]}
		for c := range 4 {
			of[fmt.Sprintf("mu[%d]", c+1)] = p.Mean[c]
			of[fmt.Sprintf("sigma[%d]", c+1)] = p.Sigma[c]
		}
		compared := 0
		for i, parameter := range want["parameter"] {
			x, ok := of[parameter]
			if want["model"][i] != name || !ok {
				continue
			}
			ess := min(ESSBulk(x, p.Chains), ESSTail(x, p.Chains))
			if ess < draws/50 {
				t.Errorf("%s %s: effective size %.0f of %d", name, parameter, ess, draws)
			}
			for _, q := range []struct {
				column string
				p      float64
			}{{"q025", 0.025}, {"q05", 0.05}, {"q50", 0.5}, {"q95", 0.95}, {"q975", 0.975}} {
				got, se := batchQuantile(x, q.p)
				w, wse := number(t, want[q.column][i]), number(t, want[q.column+"_se"][i])
				if z := (got - w) / math.Hypot(se, wse); math.Abs(z) > 5 {
					t.Errorf("%s %s %s = %.5f, JAGS has %.5f (z %.1f)", name, parameter, q.column, got, w, z)
				}
				compared++
			}
		}
		if compared != 45 {
			t.Errorf("%s: %d numbers compared, want 45", name, compared)
		}
	}
}

// batchQuantile is the quantile of all draws with its standard error from 40
// batches.
func batchQuantile(x []float64, p float64) (q, se float64) {
	const batches = 40
	qs := make([]float64, batches)
	n := len(x) / batches
	for k := range qs {
		b := slices.Clone(x[k*n : (k+1)*n])
		slices.Sort(b)
		qs[k] = quantileSorted(b, p)
	}
	_, v := moments(qs)
	all := slices.Clone(x)
	slices.Sort(all)
	return quantileSorted(all, p), math.Sqrt(v / batches)
}

func TestSameResultWhateverTheProcessors(t *testing.T) {
	m := jagsModel(t, "learned")
	set := Settings{Seed: 5, Draws: 4000}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	one := sample(t, m, set)
	runtime.GOMAXPROCS(4)
	four := sample(t, m, set)
	for c := range one.Mean {
		if !slices.Equal(one.Mean[c], four.Mean[c]) || !slices.Equal(one.Sigma[c], four.Sigma[c]) {
			t.Fatalf("cell %d differs between one processor and four", c)
		}
	}
	set.Seed++
	if other := sample(t, m, set); slices.Equal(one.Mean[0], other.Mean[0]) {
		t.Error("another seed gives the same draws")
	}
}

// Freezes what a seed gives, so that a change of algorithm is seen. The values
// are this package's own, computed on amd64; architectures that fuse
// multiplication and addition differ in the last digits.
func TestSeedIsFrozen(t *testing.T) {
	p := sample(t, jagsModel(t, "learned"), Settings{Seed: 5, Draws: 4000})
	got := []float64{p.Mean[0][0], p.Mean[3][3999], p.Sigma[2][1234], p.TermSD[0][77]}
	want := []float64{1.69049047362074, 2.41043817863543, 0.13892373543734, 0.0983086796169749}
	for i := range want {
		if math.Abs(got[i]-want[i]) > 1e-9*math.Abs(want[i]) {
			t.Errorf("draw %d = %.15g, want %.15g", i, got[i], want[i])
		}
	}
}

// Two ways through the same model: all means and levels at once, and block by
// block. Five combined standard errors are allowed.
func TestBlocksInTurnAgreeWithAllAtOnce(t *testing.T) {
	for _, name := range []string{"some", "learned"} {
		m := jagsModel(t, name)
		set := Settings{Seed: 2, Draws: 60_000}
		together := sample(t, m, set)
		old := denseMost
		denseMost = 0
		apart := sample(t, m, set)
		denseMost = old
		for c := range together.Mean {
			for _, q := range []float64{0.05, 0.5, 0.95} {
				a, sa := batchQuantile(together.Mean[c], q)
				b, sb := batchQuantile(apart.Mean[c], q)
				if z := (a - b) / math.Hypot(sa, sb); math.Abs(z) > 5 {
					t.Errorf("%s μ[%d] quantile %g: %.4f together, %.4f apart (z %.1f)", name, c, q, a, b, z)
				}
			}
		}
	}
}

// Whichever block is eliminated, the posterior is the same: here there are more
// levels than cells, in the JAGS models fewer.
func TestManyLevels(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	m := &Model{Cells: 3, Group: []int{0, 0, 0}, Groups: 1}
	board, day := Term{Levels: 40, Prior: HalfT{3, 0.2}}, Term{Levels: 4, Prior: HalfT{3, 0.2}}
	shift := make([]float64, 40)
	for b := range shift {
		shift[b] = 0.1 * rng.NormFloat64()
	}
	for i := range 240 {
		y := 2 + 0.3*float64(i%3) + shift[i%40] + 0.15*rng.NormFloat64()
		m.Lo, m.Hi = append(m.Lo, y), append(m.Hi, y)
		m.Cell = append(m.Cell, i%3)
		board.Level, day.Level = append(board.Level, i%40), append(day.Level, i/60)
	}
	m.Terms = []Term{day, board}
	p := sample(t, m, Settings{Seed: 1, Draws: 40_000})
	// The scatter of 240 − 45 values is known to 1/√390, three of them 15 %.
	if sigma, _ := moments(p.Sigma[0]); math.Abs(sigma-0.15) > 0.15*0.15 {
		t.Errorf("σ = %.3f, simulated with 0.15", sigma)
	}
	boards, _ := moments(p.TermSD[1])
	// 40 levels tell their standard deviation to 1/√80, three of them 34 %.
	if math.Abs(boards-0.1) > 0.034 {
		t.Errorf("τ of 40 levels = %.3f, simulated with 0.1", boards)
	}
	for c := range 2 {
		d := make([]float64, p.Draws)
		for i := range d {
			d[i] = p.Mean[c+1][i] - p.Mean[c][i]
		}
		mean, v := moments(d)
		if math.Abs(mean-0.3) > 4*math.Sqrt(v) {
			t.Errorf("difference %d is %.3f ± %.3f, simulated with 0.3", c, mean, math.Sqrt(v))
		}
	}
}

func TestUpperAndIntervalBounds(t *testing.T) {
	// By symmetry: y with lower bounds and −y with upper bounds have mirrored
	// posteriors; and an interval that is wide is no information.
	rng := rand.New(rand.NewPCG(4, 4))
	up := &Model{Cells: 1, Group: []int{0}, Groups: 1}
	for range 30 {
		y, limit := rng.NormFloat64(), 0.3+0.2*rng.NormFloat64()
		hi := y
		if y > limit {
			y, hi = limit, math.Inf(1)
		}
		up.Lo, up.Hi = append(up.Lo, y), append(up.Hi, hi)
		up.Cell = append(up.Cell, 0)
	}
	down := &Model{Cells: 1, Groups: 1, Cell: up.Cell, Group: up.Group}
	wide := &Model{Cells: 1, Groups: 1, Cell: up.Cell, Group: up.Group}
	for i := range up.Lo {
		down.Lo, down.Hi = append(down.Lo, -up.Hi[i]), append(down.Hi, -up.Lo[i])
		hi := up.Hi[i]
		if math.IsInf(hi, 1) {
			hi = 50
		}
		wide.Lo, wide.Hi = append(wide.Lo, up.Lo[i]), append(wide.Hi, hi)
	}
	set := Settings{Seed: 9, Draws: 60_000}
	a := sample(t, up, set)
	for name, other := range map[string]struct {
		m    *Model
		sign float64
	}{"mirrored": {down, -1}, "wide": {wide, 1}} {
		b := sample(t, other.m, set)
		ma, va := moments(a.Mean[0])
		mb, vb := moments(b.Mean[0])
		tol := 5 * math.Sqrt(va/ESSMean(a.Mean[0], 4)+vb/ESSMean(b.Mean[0], 4))
		if math.Abs(ma-other.sign*mb) > tol {
			t.Errorf("%s: means %.4f and %.4f differ by more than %.4f", name, ma, mb, tol)
		}
	}
}

func TestCheck(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		name string
		m    Model
		want error
	}{
		{"one value in each cell", Model{Lo: []float64{1, 2}, Hi: []float64{1, 2}, Cell: []int{0, 1}, Cells: 2, Group: []int{0, 0}, Groups: 1}, ErrNoScatter},
		{"equal values", Model{Lo: []float64{1, 1}, Hi: []float64{1, 1}, Cell: []int{0, 0}, Cells: 1, Group: []int{0}, Groups: 1}, ErrNoScatter},
		{"bounds only, flat", Model{Lo: []float64{1, 2, 2}, Hi: []float64{1, 2, inf}, Cell: []int{0, 0, 1}, Cells: 2, Group: []int{0, 0}, Groups: 1}, ErrFlatBounds},
		{"bounds only, learned", Model{Lo: []float64{1, 2, 2}, Hi: []float64{1, 2, inf}, Cell: []int{0, 0, 1}, Cells: 2, Group: []int{0, 0}, Groups: 1,
			Learn: []Learned{{Cells: []int{1}, From: []int{0}, DF: 4, Scale: 0.4}}}, nil},
	} {
		if _, err := Sample(context.Background(), &c.m, Settings{Draws: 400}); !errors.Is(err, c.want) {
			t.Errorf("%s: error %v, want %v", c.name, err, c.want)
		}
	}
}

func TestCheckPanics(t *testing.T) {
	y := []float64{1, 2}
	good := func() Model {
		return Model{Lo: y, Hi: y, Cell: []int{0, 0}, Cells: 1, Group: []int{0}, Groups: 1}
	}
	for name, spoil := range map[string]func(*Model){
		"lengths":      func(m *Model) { m.Cell = m.Cell[:1] },
		"cell":         func(m *Model) { m.Cell = []int{0, 1} },
		"group":        func(m *Model) { m.Group = []int{-1} },
		"groups":       func(m *Model) { m.Group = []int{0, 0} },
		"level":        func(m *Model) { m.Terms = []Term{{Level: []int{0, 2}, Levels: 2, Prior: HalfT{3, 1}}} },
		"term length":  func(m *Model) { m.Terms = []Term{{Level: []int{0}, Levels: 2, Prior: HalfT{3, 1}}} },
		"term prior":   func(m *Model) { m.Terms = []Term{{Level: []int{0, 1}, Levels: 2}} },
		"group prior":  func(m *Model) { m.Group, m.Groups, m.ScatterRange = []int{1}, 2, Range{0.1, 1} },
		"group range":  func(m *Model) { m.Group, m.Groups, m.ScatterPrior = []int{1}, 2, HalfT{3, 1} },
		"reversed":     func(m *Model) { m.Lo, m.Hi = []float64{1, 3}, []float64{1, 2} },
		"not a number": func(m *Model) { m.Lo = []float64{1, math.NaN()} },
		"learned twice": func(m *Model) {
			m.Learn = []Learned{{Cells: []int{0}, DF: 1, Scale: 1}, {Cells: []int{0}, DF: 1, Scale: 1}}
		},
		"learned from learned": func(m *Model) { m.Learn = []Learned{{Cells: []int{0}, From: []int{0}, DF: 1, Scale: 1}} },
		"learned prior":        func(m *Model) { m.Learn = []Learned{{Cells: []int{0}}} },
	} {
		m := good()
		spoil(&m)
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			m.Check()
		}()
	}
}

func TestStopsAtOnce(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	calls := 0
	_, err := Sample(ctx, twoGroups(), Settings{Draws: 1 << 30 >> 4, Progress: func(done, of int) {
		if calls++; done > of {
			t.Error("more done than there is")
		}
		cancel()
	}, Chains: 4})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want %v", err, context.Canceled)
	}
}

// Exact observations that coincide in all cells of a group would let its σ fall to
// 0, and the spread of the scatters rise without end; the range holds them.
func TestCoincidingObservations(t *testing.T) {
	inf := math.Inf(1)
	m := &Model{
		Lo:   []float64{2.1, 2.0, 2.2, 2.3, 2.3, 2.3, 2.1},
		Hi:   []float64{2.1, 2.0, 2.2, 2.3, 2.3, inf, inf},
		Cell: []int{0, 0, 0, 1, 1, 1, 1}, Cells: 2, Group: []int{0, 1}, Groups: 2,
		ScatterPrior: HalfT{3, 0.3}, ScatterRange: Range{0.01, 3},
	}
	p := sample(t, m, Settings{Seed: 1, Draws: 40_000})
	for g, draws := range p.Sigma {
		if lo, hi := slices.Min(draws), slices.Max(draws); !(lo >= 0.01 && hi <= 3) {
			t.Errorf("σ[%d] from %v to %v", g, lo, hi)
		}
		if r := RHat(p.Mean[g], p.Chains); !(r < 1.05) {
			t.Errorf("R-hat of μ[%d] is %v", g, r)
		}
	}
}

func TestOverflowIsAnError(t *testing.T) {
	m := twoGroups()
	m.Lo = slices.Clone(m.Lo)
	for i := range m.Lo {
		m.Lo[i] *= 1e200
	}
	m.Hi = m.Lo
	if _, err := Sample(context.Background(), m, Settings{Draws: 4000}); !errors.Is(err, ErrRange) {
		t.Errorf("error %v, want %v", err, ErrRange)
	}
}
