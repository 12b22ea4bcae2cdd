package censreg

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// fitOrFail fits and fails the test on an error.
func fitOrFail(t testing.TB, x mat.Matrix, lo, hi []float64, d Distribution, opt *Options) *Fit {
	t.Helper()
	f, err := Regress(x, lo, hi, d, opt)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// sameFit compares two fits to tol of a standard error (coefficients), of σ, of
// the log-likelihood and of each standard error.
func sameFit(t testing.TB, what string, a, b *Fit, tol float64) {
	t.Helper()
	for j := range a.Coef {
		if math.Abs(a.Coef[j]-b.Coef[j]) > tol*b.StdErr[j] {
			t.Errorf("%s: coefficient %d is %.15g and %.15g", what, j, a.Coef[j], b.Coef[j])
		}
	}
	for j := range a.StdErr {
		if !within(a.StdErr[j], b.StdErr[j], tol, 0) {
			t.Errorf("%s: standard error %d is %.15g and %.15g", what, j, a.StdErr[j], b.StdErr[j])
		}
	}
	if !within(a.Scale, b.Scale, tol, 0) || !within(a.LogLik, b.LogLik, tol, 1) {
		t.Errorf("%s: scale %.15g and %.15g, log-likelihood %.15g and %.15g", what, a.Scale, b.Scale, a.LogLik, b.LogLik)
	}
}

var (
	bothDistributions = []Distribution{Normal, SmallestExtreme}
	censoredSets      = []string{"s15", "s35", "s60", "mix"}
)

// Without bounds the normal fit is least squares: β solves the normal equations,
// σ² is the residual sum of squares over n, the standard errors are those of
// least squares with that σ, and log σ has standard error 1/sqrt(2n).
func TestNoBoundsIsLeastSquares(t *testing.T) {
	s := load(t, "s00")
	lo, hi, _ := s.logs()
	x := s.design("covariate")
	f := fitOrFail(t, x, lo, hi, Normal, nil)

	// Three routes with rounding of their own; 1e-12 is ample for 32 numbers.
	const tol = 1e-12
	n, p := x.Dims()
	var ls mat.VecDense
	if err := ls.SolveVec(x, mat.NewVecDense(n, lo)); err != nil {
		t.Fatal(err)
	}
	var rss float64
	for i := range n {
		res := lo[i] - mat.Dot(mat.NewVecDense(p, x.RawRowView(i)), &ls)
		rss += res * res
	}
	var gram, inverse mat.Dense
	gram.Mul(x.T(), x)
	if err := inverse.Inverse(&gram); err != nil {
		t.Fatal(err)
	}
	sigma := math.Sqrt(rss / float64(n))
	if !within(f.Scale, sigma, tol, 0) {
		t.Errorf("scale %.15g, least squares gives %.15g", f.Scale, sigma)
	}
	for j := range p {
		if !within(f.Coef[j], ls.AtVec(j), tol, 1) {
			t.Errorf("coefficient %d is %.15g, least squares gives %.15g", j, f.Coef[j], ls.AtVec(j))
		}
		if se := sigma * math.Sqrt(inverse.At(j, j)); !within(f.StdErr[j], se, tol, 0) {
			t.Errorf("standard error %d is %.15g, least squares gives %.15g", j, f.StdErr[j], se)
		}
	}
	if se := 1 / math.Sqrt(2*float64(n)); !within(f.StdErr[p], se, tol, 0) {
		t.Errorf("standard error of log σ is %.15g, want %.15g", f.StdErr[p], se)
	}
	want := -float64(n) / 2 * (math.Log(2*math.Pi*sigma*sigma) + 1)
	if !within(f.LogLik, want, tol, 1) {
		t.Errorf("log-likelihood %.15g, want %.15g", f.LogLik, want)
	}
}

// The score is zero at the maximum, the log-likelihood there is what LogLik
// says, and it is lower on all sides by what Cov says.
func TestMaximum(t *testing.T) {
	for _, set := range censoredSets {
		for _, d := range bothDistributions {
			s := load(t, set)
			lo, hi, _ := s.logs()
			x, opt := s.design("covariate"), &Options{Weights: s.wgt}
			f := fitOrFail(t, x, lo, hi, d, opt)
			for j, v := range f.Score {
				// In units of its own standard deviation; two Newton steps
				// beyond 1e-7 leave rounding only, 1e-16 for each of 60 terms.
				if math.Abs(v*f.StdErr[j]) > 1e-12 {
					t.Errorf("%s %v: score %d is %.3g standard deviations", set, d, j, v*f.StdErr[j])
				}
			}
			top := LogLik(x, lo, hi, d, opt, f.Coef, f.Scale)
			if !within(top, f.LogLik, 1e-13, 1) {
				t.Errorf("%s %v: LogLik gives %.15g, fit has %.15g", set, d, top, f.LogLik)
			}
			// Moving one parameter by h conditional standard deviations, the
			// others held, lowers ℓ by h²/2, up to third order in h.
			const h = 1e-3
			var info mat.Dense
			if err := info.Inverse(f.Cov); err != nil {
				t.Fatal(err)
			}
			p := len(f.Coef)
			for j := range p + 1 {
				var drop float64
				for _, sign := range []float64{-1, 1} {
					coef, scale := append([]float64(nil), f.Coef...), f.Scale
					if move := sign * h / math.Sqrt(info.At(j, j)); j < p {
						coef[j] += move
					} else {
						scale *= math.Exp(move)
					}
					drop += (top - LogLik(x, lo, hi, d, opt, coef, scale)) / 2
				}
				// The odd orders cancel; the fourth is of relative size h²,
				// rounding of ℓ is 1e-14/h².
				if !within(drop, h*h/2, 1e-5, 0) {
					t.Errorf("%s %v: parameter %d: log-likelihood falls by %.6g, want %.6g", set, d, j, drop, h*h/2)
				}
			}
		}
	}
}

// Cell means and treatment contrasts are one model.
func TestParameterisationsAgree(t *testing.T) {
	for _, set := range censoredSets {
		for _, d := range bothDistributions {
			s := load(t, set)
			lo, hi, _ := s.logs()
			opt := &Options{Weights: s.wgt}
			cell := fitOrFail(t, s.design("cell"), lo, hi, d, opt)
			contrast := fitOrFail(t, s.design("treatment"), lo, hi, d, opt)
			const tol = 1e-10 // two maximisations in different coordinates
			if !within(cell.LogLik, contrast.LogLik, tol, 1) || !within(cell.Scale, contrast.Scale, tol, 0) {
				t.Errorf("%s %v: log-likelihoods %.15g and %.15g, scales %.15g and %.15g",
					set, d, cell.LogLik, contrast.LogLik, cell.Scale, contrast.Scale)
			}
			for j := 1; j < len(cell.Coef); j++ {
				if got := contrast.Coef[0] + contrast.Coef[j]; math.Abs(got-cell.Coef[j]) > tol*cell.StdErr[j] {
					t.Errorf("%s %v: mean %d is %.15g and %.15g", set, d, j, cell.Coef[j], got)
				}
				v := contrast.Cov.At(0, 0) + 2*contrast.Cov.At(0, j) + contrast.Cov.At(j, j)
				if !within(math.Sqrt(v), cell.StdErr[j], tol, 0) {
					t.Errorf("%s %v: its standard error is %.15g and %.15g", set, d, cell.StdErr[j], math.Sqrt(v))
				}
			}
		}
	}
}

func TestRowOrderIsIrrelevant(t *testing.T) {
	s := load(t, "mix")
	lo, hi, _ := s.logs()
	x := s.design("covariate")
	n, p := x.Dims()
	order := rand.New(rand.NewPCG(1, 2)).Perm(n)
	y := mat.NewDense(n, p, nil)
	lo2, hi2, w2 := make([]float64, n), make([]float64, n), make([]float64, n)
	for i, from := range order {
		y.SetRow(i, x.RawRowView(from))
		lo2[i], hi2[i], w2[i] = lo[from], hi[from], s.wgt[from]
	}
	for _, d := range bothDistributions {
		a := fitOrFail(t, x, lo, hi, d, &Options{Weights: s.wgt})
		b := fitOrFail(t, y, lo2, hi2, d, &Options{Weights: w2})
		sameFit(t, d.String(), a, b, 1e-11) // sums in another order
	}
}

// A weight of 3 is three observations, a weight of 0 is none, and an observation
// between -Inf and +Inf is none.
func TestWeightsAreReplication(t *testing.T) {
	s := load(t, "mix")
	lo, hi, _ := s.logs()
	x := s.design("covariate")
	n, p := x.Dims()
	var rows []float64
	var lo2, hi2 []float64
	for i := range n {
		for range int(s.wgt[i]) {
			rows = append(rows, x.RawRowView(i)...)
			lo2, hi2 = append(lo2, lo[i]), append(hi2, hi[i])
		}
	}
	long := mat.NewDense(len(lo2), p, rows)
	more := mat.NewDense(n+2, p, nil)
	more.Slice(0, n, 0, p).(*mat.Dense).Copy(x)
	more.SetRow(n, make([]float64, p))
	more.SetRow(n+1, x.RawRowView(0))
	inf := math.Inf(1)
	lo3, hi3 := append(append([]float64(nil), lo...), 100, -inf), append(append([]float64(nil), hi...), 100, inf)
	w3 := append(append([]float64(nil), s.wgt...), 0, 5)
	for _, d := range bothDistributions {
		a := fitOrFail(t, x, lo, hi, d, &Options{Weights: s.wgt})
		b := fitOrFail(t, long, lo2, hi2, d, nil)
		sameFit(t, d.String()+" replicated", a, b, 1e-11)
		if a.Weight != float64(len(lo2)) || b.Weight != a.Weight || a.Exact != b.Exact {
			t.Errorf("weights %v and %v, exact %v and %v, want %v in all", a.Weight, b.Weight, a.Exact, b.Exact, len(lo2))
		}
		c := fitOrFail(t, more, lo3, hi3, d, &Options{Weights: w3})
		sameFit(t, d.String()+" padded", a, c, 1e-11)
	}
}

// With y replaced by c·y + x·b, coefficients become c·β + b, σ becomes c·σ, and
// the log-likelihood falls by log c for each exact observation. A level of 5e9
// standard deviations costs nothing but the digits of the data themselves.
func TestShiftAndScale(t *testing.T) {
	for _, set := range censoredSets {
		for _, d := range bothDistributions {
			s := load(t, set)
			lo, hi, _ := s.logs()
			x := s.design("cell")
			opt := &Options{Weights: s.wgt}
			a := fitOrFail(t, x, lo, hi, d, opt)
			for _, c := range []float64{1e-100, 0.37, 1e100} {
				lo2, hi2 := make([]float64, len(lo)), make([]float64, len(lo))
				for i := range lo {
					lo2[i], hi2[i] = c*lo[i], c*hi[i]
				}
				b := fitOrFail(t, x, lo2, hi2, d, opt)
				for j := range b.Coef {
					b.Coef[j] /= c
					b.StdErr[j] /= c
				}
				b.Scale /= c
				b.LogLik += b.Exact * math.Log(c)
				sameFit(t, "scaled", a, b, 1e-10)
			}
			// The low digits of y that a shift by 2^30 takes are rounded away
			// first, so that both data sets are the same. The constant takes up
			// the shift. It stands last, so that a plain dot product would round
			// the others' share away before it comes.
			const shift = 1 << 30
			x = constantLast(s.design("treatment"))
			last := len(a.Coef) - 1
			lo2, hi2 := make([]float64, len(lo)), make([]float64, len(lo))
			lo3, hi3 := make([]float64, len(lo)), make([]float64, len(lo))
			for i := range lo {
				lo2[i], hi2[i] = lo[i]+shift, hi[i]+shift
				lo3[i], hi3[i] = lo2[i]-shift, hi2[i]-shift
			}
			b, c := fitOrFail(t, x, lo2, hi2, d, opt), fitOrFail(t, x, lo3, hi3, d, opt)
			b.Coef[last] -= shift
			// The constant itself is rounded to 2⁻²², 2e-7 beside standard errors of
			// 0.05; nothing else is.
			if math.Abs(b.Coef[last]-c.Coef[last]) > 0x1p-22 {
				t.Errorf("%s %v: constant %.15g shifted, %.15g not", set, d, b.Coef[last], c.Coef[last])
			}
			b.Coef[last] = c.Coef[last]
			sameFit(t, "shifted", c, b, 1e-11)
		}
	}
}

// constantLast returns x with its first column moved to the end.
func constantLast(x *mat.Dense) *mat.Dense {
	n, p := x.Dims()
	y := mat.NewDense(n, p, nil)
	y.Slice(0, n, 0, p-1).(*mat.Dense).Copy(x.Slice(0, n, 1, p))
	y.Slice(0, n, p-1, p).(*mat.Dense).Copy(x.Slice(0, n, 0, 1))
	return y
}

// A fit with σ fixed at the estimate is the fit, and Cov then is that of β given
// σ, the inverse of a block of the information.
func TestFixedScaleAtTheEstimate(t *testing.T) {
	s := load(t, "s35")
	lo, hi, _ := s.logs()
	x := s.design("treatment")
	for _, d := range bothDistributions {
		free := fitOrFail(t, x, lo, hi, d, nil)
		held := fitOrFail(t, x, lo, hi, d, &Options{FixedScale: free.Scale})
		p := len(free.Coef)
		if held.Scale != free.Scale || held.Cov.SymmetricDim() != p || len(held.StdErr) != p || len(held.Score) != p {
			t.Fatalf("scale %v, covariance of size %d", held.Scale, held.Cov.SymmetricDim())
		}
		var info, want mat.Dense
		if err := info.Inverse(free.Cov); err != nil {
			t.Fatal(err)
		}
		if err := want.Inverse(info.Slice(0, p, 0, p)); err != nil {
			t.Fatal(err)
		}
		for j := range p {
			// Two inversions of a matrix of condition 100 or so.
			if math.Abs(held.Coef[j]-free.Coef[j]) > 1e-9*free.StdErr[j] ||
				!within(held.StdErr[j], math.Sqrt(want.At(j, j)), 1e-10, 0) {
				t.Errorf("%v: coefficient %.15g ± %.15g, want %.15g ± %.15g", d,
					held.Coef[j], held.StdErr[j], free.Coef[j], math.Sqrt(want.At(j, j)))
			}
		}
	}
}

// The mirror image of a normal sample has the mirror image as its fit; lower and
// upper bounds change places.
func TestMirror(t *testing.T) {
	s := load(t, "mix")
	lo, hi, _ := s.logs()
	x := s.design("covariate")
	n := len(lo)
	lo2, hi2 := make([]float64, n), make([]float64, n)
	for i := range lo {
		lo2[i], hi2[i] = -hi[i], -lo[i]
	}
	opt := &Options{Weights: s.wgt}
	a, b := fitOrFail(t, x, lo, hi, Normal, opt), fitOrFail(t, x, lo2, hi2, Normal, opt)
	for j := range b.Coef {
		b.Coef[j] = -b.Coef[j]
	}
	sameFit(t, "mirror", a, b, 1e-11)
}

// A matrix that has no rows to show gives the same fit as a Dense.
func TestAnyMatrix(t *testing.T) {
	s := load(t, "s15")
	lo, hi, _ := s.logs()
	x := s.design("cell")
	turned := mat.DenseCopyOf(x.T())
	a, b := fitOrFail(t, x, lo, hi, Normal, nil), fitOrFail(t, turned.T(), lo, hi, Normal, nil)
	sameFit(t, "transpose", a, b, 0)
	if u, v := LogLik(x, lo, hi, Normal, nil, a.Coef, a.Scale), LogLik(turned.T(), lo, hi, Normal, nil, a.Coef, a.Scale); u != v {
		t.Errorf("log-likelihoods %v and %v", u, v)
	}
}
