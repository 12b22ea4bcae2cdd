package censreg

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// readCSV returns the rows of a file in testdata by column name. Lines that
// begin with # are comments.
func readCSV(t testing.TB, name string) []map[string]string {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.Comment = '#'
	table, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var rows []map[string]string
	for _, record := range table[1:] {
		row := make(map[string]string)
		for j, column := range table[0] {
			row[column] = record[j]
		}
		rows = append(rows, row)
	}
	return rows
}

// number parses a field; R writes Inf for infinity.
func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// simulated is one data set of survreg_data.csv, strengths and not logarithms.
type simulated struct {
	group          []string
	u, lo, hi, wgt []float64
}

// load returns a data set of survreg_data.csv.
func load(t testing.TB, set string) simulated {
	t.Helper()
	var s simulated
	for _, row := range readCSV(t, "survreg_data.csv") {
		if row["set"] != set {
			continue
		}
		s.group = append(s.group, row["group"])
		s.u = append(s.u, number(t, row["u"]))
		s.lo = append(s.lo, number(t, row["lo"]))
		s.hi = append(s.hi, number(t, row["hi"]))
		s.wgt = append(s.wgt, number(t, row["weight"]))
	}
	if len(s.lo) == 0 {
		t.Fatalf("no data set %q", set)
	}
	return s
}

// levels returns the distinct groups in order.
func (s simulated) levels() []string {
	seen := make(map[string]bool)
	var names []string
	for _, g := range s.group {
		if !seen[g] {
			seen[g] = true
			names = append(names, g)
		}
	}
	sort.Strings(names)
	return names
}

// design returns the matrix of a coding of survreg.R: cell means, treatment
// contrasts, or cell means and the covariate u.
func (s simulated) design(coding string) *mat.Dense {
	names := s.levels()
	p := len(names)
	if coding == "covariate" {
		p++
	}
	x := mat.NewDense(len(s.lo), p, nil)
	for i, g := range s.group {
		for j, name := range names {
			if g == name {
				x.Set(i, j, 1)
			}
		}
		switch coding {
		case "treatment":
			x.Set(i, 0, 1)
		case "covariate":
			x.Set(i, p-1, s.u[i])
		}
	}
	return x
}

// logs returns the bounds of the logarithms and Σ w·log t over the exact
// observations, the difference between the two scales of the log-likelihood.
func (s simulated) logs() (lo, hi []float64, jacobian float64) {
	lo, hi = make([]float64, len(s.lo)), make([]float64, len(s.lo))
	for i := range lo {
		lo[i], hi[i] = math.Log(s.lo[i]), math.Log(s.hi[i])
		if lo[i] == hi[i] {
			jacobian += s.wgt[i] * lo[i]
		}
	}
	return lo, hi, jacobian
}

// byName returns the distribution that survreg calls name.
func byName(name string) Distribution {
	if name == "weibull" || name == "extreme" {
		return SmallestExtreme
	}
	return Normal
}

// within reports whether got and want agree to tol of the larger of |want| and
// size.
func within(got, want, tol, size float64) bool {
	return math.Abs(got-want) <= tol*max(math.Abs(want), size)
}

func TestSurvreg(t *testing.T) {
	// Expected values: R survreg, testdata/survreg.R (versions in
	// survreg_fits.csv). R stops when the log-likelihood changes by less than
	// 1e-12 of itself, after which a Newton step leaves rounding; 1e-10 of a
	// value, or of 0.1 where a coefficient is smaller, allows R's standard
	// errors and its interval probabilities a few digits.
	const tol = 1e-10
	type key struct{ set, coding, dist string }
	want := make(map[key]map[string]float64)
	var order []key
	for _, row := range readCSV(t, "survreg_fits.csv") {
		k := key{row["set"], row["coding"], row["dist"]}
		if want[k] == nil {
			want[k] = make(map[string]float64)
			order = append(order, k)
		}
		want[k][row["quantity"]] = number(t, row["value"])
	}
	if len(order) != 40 {
		t.Fatalf("%d fits in survreg_fits.csv, want 40", len(order))
	}
	worst := 0.0
	for _, k := range order {
		t.Run(k.set+"/"+k.coding+"/"+k.dist, func(t *testing.T) {
			s := load(t, k.set)
			lo, hi, jacobian := s.logs()
			opt := &Options{Weights: s.wgt}
			if k.coding == "fixed" {
				opt.FixedScale = 0.25 // as in survreg.R
			}
			f, err := Regress(s.design(k.coding), lo, hi, byName(k.dist), opt)
			if err != nil {
				t.Fatal(err)
			}
			got := map[string]float64{
				"scale": f.Scale, "loglik_y": f.LogLik, "loglik_strength": f.LogLik - jacobian,
			}
			for j, v := range f.Coef {
				got["coef"+strconv.Itoa(j+1)] = v
				got["se"+strconv.Itoa(j+1)] = f.StdErr[j]
			}
			if opt.FixedScale == 0 {
				got["selogscale"] = f.StdErr[len(f.Coef)]
			}
			if len(got) != len(want[k]) {
				t.Fatalf("%d quantities, want %d", len(got), len(want[k]))
			}
			for q, w := range want[k] {
				worst = max(worst, math.Abs(got[q]-w)/max(math.Abs(w), 0.1))
				if !within(got[q], w, tol, 0.1) {
					t.Errorf("%s = %.12g, want %.12g", q, got[q], w)
				}
			}
		})
	}
	t.Logf("largest relative difference from survreg: %.2g", worst)
}
