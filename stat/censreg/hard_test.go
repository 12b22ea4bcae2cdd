package censreg

import (
	"bufio"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// hardSet is a file of testdata/hard: data that broke the maximisation while it
// was written, or that have no estimate.
type hardSet struct {
	x         *mat.Dense
	lo, hi    []float64
	dists     []Distribution
	opt       *Options
	expect    string
	columns   []int
	rows      []int
	hasReason bool
}

func readHard(t *testing.T, name string) hardSet {
	t.Helper()
	s := hardSet{dists: bothDistributions, opt: &Options{}}
	file, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	lines := bufio.NewScanner(file)
	for lines.Scan() {
		line, comment := strings.CutPrefix(lines.Text(), "# ")
		if !comment {
			continue
		}
		key, value, _ := strings.Cut(line, ": ")
		switch key {
		case "expect":
			fields := strings.Fields(value)
			s.expect = fields[0]
			list := &s.columns
			for _, f := range fields[1:] {
				switch f {
				case "columns":
				case "rows":
					list = &s.rows
				default:
					*list = append(*list, int(number(t, f)))
				}
			}
		case "fixed":
			s.opt.FixedScale = number(t, value)
		case "dist":
			s.dists = []Distribution{byName(value)}
		default:
			s.hasReason = true
		}
	}
	table := readCSV(t, strings.TrimPrefix(name, "testdata/"))
	p := len(table[0]) - 3
	s.x = mat.NewDense(len(table), p, nil)
	for i, row := range table {
		s.lo, s.hi = append(s.lo, number(t, row["lo"])), append(s.hi, number(t, row["hi"]))
		s.opt.Weights = append(s.opt.Weights, number(t, row["weight"]))
		for j := range p {
			s.x.Set(i, j, number(t, row[fmt.Sprint("x", j)]))
		}
	}
	return s
}

func TestHard(t *testing.T) {
	names, err := filepath.Glob("testdata/hard/*.csv")
	if err != nil || len(names) < 25 {
		t.Fatalf("%d files in testdata/hard, %v", len(names), err)
	}
	sentinels := map[string]error{
		"noexact": ErrNoExact, "perfect": ErrPerfectFit, "singular": ErrSingular, "range": ErrRange,
	}
	for _, name := range names {
		s := readHard(t, filepath.ToSlash(name))
		if !s.hasReason {
			t.Errorf("%s does not say what happened", name)
		}
		for _, d := range s.dists {
			t.Run(strings.TrimSuffix(filepath.Base(name), ".csv")+"/"+d.String(), func(t *testing.T) {
				f, err := Regress(s.x, s.lo, s.hi, d, s.opt)
				switch s.expect {
				case "fit":
					if err != nil {
						t.Fatal(err)
					}
					checkFit(t, f)
					checkTop(t, s, d, f)
				case "unbounded":
					var e *UnboundedError
					if !errors.As(err, &e) {
						t.Fatalf("error %v, want an *UnboundedError", err)
					}
					if !slices.Equal(e.Columns, s.columns) || !slices.Equal(e.Rows, s.rows) {
						t.Errorf("columns %v, rows %v, want %v, %v", e.Columns, e.Rows, s.columns, s.rows)
					}
					checkDirection(t, e, s.x, s.lo, s.hi, d, s.opt)
					for j := range s.x.RawMatrix().Cols {
						b, err := LowerBound(s.x, s.lo, s.hi, d, s.opt, j, 0.95)
						// A profile that is flat beyond what float64 resolves is said
						// to be so (thin_cone).
						if errors.Is(err, ErrSingular) && strings.Contains(name, "thin_cone") {
							continue
						}
						if err != nil || math.IsNaN(b) || math.IsInf(b, 1) {
							t.Errorf("bound of column %d: %v, %v", j, b, err)
						}
					}
				case "rank":
					var e *RankError
					if !errors.As(err, &e) || !slices.Equal(e.Columns, s.columns) {
						t.Errorf("error %v, want a *RankError with columns %v", err, s.columns)
					}
				default:
					want, ok := sentinels[s.expect]
					if !ok {
						t.Fatalf("unknown expectation %q", s.expect)
					}
					if !errors.Is(err, want) {
						t.Errorf("error %v, want %v", err, want)
					}
				}
				if err != nil && f != nil {
					t.Error("a fit beside an error")
				}
			})
		}
	}
}

// checkTop fails the test when LogLik, an independent route through the data,
// finds a higher value close to the fit than at it.
func checkTop(t *testing.T, s hardSet, d Distribution, f *Fit) {
	t.Helper()
	top := LogLik(s.x, s.lo, s.hi, d, s.opt, f.Coef, f.Scale)
	// Rounding of Coef to float64 shows in the value where coefficients are large
	// beside σ, as rounding of a sum of that size.
	slack := 1e-11 * (1 + math.Abs(top))
	if math.Abs(top-f.LogLik) > slack {
		t.Errorf("LogLik gives %.15g, the fit has %.15g", top, f.LogLik)
	}
	for j := range f.StdErr {
		for _, sign := range []float64{-1, 1} {
			coef, scale := append([]float64(nil), f.Coef...), f.Scale
			if move := sign * 0.01 * f.StdErr[j]; j < len(coef) {
				coef[j] += move
			} else {
				scale *= math.Exp(move)
			}
			if v := LogLik(s.x, s.lo, s.hi, d, s.opt, coef, scale); v > top+slack {
				t.Errorf("parameter %d: log-likelihood %.15g a hundredth of a standard error away, %.15g at the fit", j, v, top)
			}
		}
	}
}

// checkDirection fails the test unless the log-likelihood grows, and never
// falls, along the direction of an UnboundedError.
func checkDirection(t interface {
	Helper()
	Errorf(string, ...any)
}, e *UnboundedError, x mat.Matrix, lo, hi []float64, d Distribution, opt *Options) {
	t.Helper()
	// From a point among the data, with a scale that lets every observation be
	// seen.
	n, p := x.Dims()
	var spread, reach float64
	for i := range n {
		for _, v := range []float64{lo[i], hi[i]} {
			if !math.IsInf(v, 0) {
				spread = max(spread, math.Abs(v))
			}
		}
		reach = max(reach, math.Abs(dot(mat.Row(nil, i, x), e.Direction)))
	}
	if spread == 0 {
		spread = 1
	}
	coef := make([]float64, p)
	last := LogLik(x, lo, hi, d, opt, coef, spread)
	first := last
	for _, far := range []float64{0.25, 0.5, 1, 2, 3} {
		for j, v := range e.Direction {
			coef[j] = far * v * spread / reach
			if math.IsInf(coef[j], 0) {
				return // a covariate of 1e-158 beside bounds of 1e150
			}
		}
		v := LogLik(x, lo, hi, d, opt, coef, spread)
		// The direction is clean to 1e-8 of its length (columns below that are
		// set to 0), and slopes of ℓ are of the order of the number of rows.
		if v < last-1e-6*float64(n) {
			t.Errorf("log-likelihood falls from %v to %v along %v", last, v, e.Direction)
		}
		last = v
	}
	if !(last > first) {
		t.Errorf("log-likelihood does not grow along %v", e.Direction)
	}
}
