package blockdesign

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

// rounding is what a few hundred operations on numbers of order 1 may lose.
const rounding = 1e-12

// records reads a CSV file in testdata without its header.
func records(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 2 {
		t.Fatalf("%s has no rows", name)
	}
	return rows[1:]
}

func integer(t *testing.T, s string) int {
	t.Helper()
	v, err := strconv.Atoi(s)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func integers(t *testing.T, s string) []int {
	t.Helper()
	var list []int
	for _, f := range strings.Fields(s) {
		list = append(list, integer(t, f))
	}
	return list
}

func same(value, n int) []int { return slices.Repeat([]int{value}, n) }

func TestReferenceDesigns(t *testing.T) {
	for _, row := range records(t, "block_designs.csv") {
		name, treatments := row[0], integer(t, row[1])
		r, k := integer(t, row[3]), integer(t, row[4])
		var counts [][]int
		for _, block := range strings.Split(row[9], "|") {
			n := make([]int, treatments)
			for _, i := range integers(t, block) {
				n[i-1]++
			}
			counts = append(counts, n)
		}
		got := Efficiency(counts, nil)
		// Half a unit of the last digit given.
		if want := number(t, row[8]); math.Abs(got-want) > 0.5e-4 {
			t.Errorf("%s: efficiency %.6f, want %.4f", name, got, want)
		}
		factors := CanonicalFactors(counts)
		if mean := stat.HarmonicMean(factors, nil); math.Abs(got-mean) > rounding {
			t.Errorf("%s: efficiency %v, harmonic mean of the factors %v", name, got, mean)
		}
		if row[6] != "True" {
			continue
		}
		want := number(t, row[5]) * float64(treatments) / float64(r*k)
		for _, e := range append(factors, got) {
			if math.Abs(e-want) > rounding {
				t.Errorf("%s: factor %v, want λt/(rk) = %v", name, e, want)
			}
		}
	}
}

// control weighs treatment i against the first by i+1 and other pairs by a half.
func control(t int) *mat.SymDense {
	w := mat.NewSymDense(t, nil)
	for i := range t {
		for j := range i {
			w.SetSym(i, j, 0.5)
			if j == 0 {
				w.SetSym(i, j, float64(i+1))
			}
		}
	}
	return w
}

// Against R (testdata/README.md).
func TestUnbalancedDesigns(t *testing.T) {
	for _, row := range records(t, "efficiency.csv") {
		var counts [][]int
		for _, block := range strings.Split(row[0], "|") {
			counts = append(counts, integers(t, block))
		}
		var weights mat.Symmetric
		if row[1] == "control" {
			weights = control(len(counts[0]))
		}
		if got, want := Efficiency(counts, weights), number(t, row[2]); math.Abs(got-want) > rounding {
			t.Errorf("%s, %s: efficiency %.15f, want %.15f", row[0], row[1], got, want)
		}
		for i, e := range CanonicalFactors(counts) {
			if want := number(t, strings.Fields(row[3])[i]); math.Abs(e-want) > rounding {
				t.Errorf("%s: factor %d is %.15f, want %.15f", row[0], i, e, want)
			}
		}
	}
}

// drawCounts draws a design in which each treatment has a unit.
func drawCounts(rt *rapid.T) [][]int {
	t := rapid.IntRange(1, 6).Draw(rt, "treatments")
	b := rapid.IntRange(1, 6).Draw(rt, "blocks")
	counts := make([][]int, b)
	for i := range counts {
		counts[i] = rapid.SliceOfN(rapid.SampledFrom([]int{0, 0, 0, 1, 1, 2}), t, t).Draw(rt, "block")
	}
	for i := range t {
		counts[rapid.IntRange(0, b-1).Draw(rt, "home")][i]++
	}
	return counts
}

func TestRelabelling(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		counts := drawCounts(rt)
		n := len(counts[0])
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		blocks, treatments := rng.Perm(len(counts)), rng.Perm(n)
		other := make([][]int, len(counts))
		for b := range counts {
			other[blocks[b]] = make([]int, n)
			for i, v := range counts[b] {
				other[blocks[b]][treatments[i]] = v
			}
		}
		if a, b := Efficiency(counts, nil), Efficiency(other, nil); math.Abs(a-b) > rounding {
			rt.Fatalf("%v: %v, relabelled %v", counts, a, b)
		}
		f, g := CanonicalFactors(counts), CanonicalFactors(other)
		for i := range f {
			if math.Abs(f[i]-g[i]) > rounding {
				rt.Fatalf("%v: factors %v, relabelled %v", counts, f, g)
			}
		}
	})
}

// Components, variances, factors and efficiency tell the same story about which
// treatments can be compared.
func TestConnectedness(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		counts := drawCounts(rt)
		components := Components(counts)
		component := make([]int, len(counts[0]))
		members := 0
		for c, member := range components {
			members += len(member)
			for _, i := range member {
				component[i] = c
			}
		}
		if members != len(component) {
			rt.Fatalf("%v: components %v", counts, components)
		}
		variance := PairVariances(counts)
		for i := range component {
			for j := range i {
				if math.IsInf(variance.At(i, j), 1) != (component[i] != component[j]) {
					rt.Fatalf("%v: components %v, variance of %d and %d is %v", counts, components, i, j, variance.At(i, j))
				}
			}
		}
		zeros := 0
		for _, e := range CanonicalFactors(counts) {
			// A factor of these small designs is 0 or above 1/100.
			if e < 1e-9 {
				zeros++
			}
		}
		if zeros != len(components)-1 {
			rt.Fatalf("%v: %d factors of zero, components %v", counts, zeros, components)
		}
		if (Efficiency(counts, nil) > 0) != (len(components) == 1) {
			rt.Fatalf("%v: efficiency %v, components %v", counts, Efficiency(counts, nil), components)
		}
	})
}

func TestSpecialValues(t *testing.T) {
	ones := [][]int{{1, 1, 1, 1}, {1, 1, 1, 1}, {2, 2, 2, 2}}
	if e := Efficiency(ones, nil); math.Abs(e-1) > rounding {
		t.Errorf("complete blocks: %v", e)
	}
	// Replications differ, but all blocks are alike.
	if e := Efficiency([][]int{{1, 2, 3}, {1, 2, 3}}, control(3)); math.Abs(e-1) > rounding {
		t.Errorf("blocks alike: %v", e)
	}
	if e := Efficiency([][]int{{3}, {0}}, nil); e != 1 {
		t.Errorf("one treatment: %v", e)
	}
	if e := Efficiency([][]int{{1, 0}, {1, 0}}, nil); e != 0 {
		t.Errorf("treatment without a unit: %v", e)
	}
	apart := [][]int{{1, 1, 0, 0}, {0, 0, 1, 1}}
	if e := Efficiency(apart, nil); e != 0 {
		t.Errorf("unconnected: %v", e)
	}
	// Only pairs that can be compared count.
	within := mat.NewSymDense(4, nil)
	within.SetSym(0, 1, 2)
	within.SetSym(2, 3, 1)
	if e := Efficiency(apart, within); math.Abs(e-1) > rounding {
		t.Errorf("unconnected, weights within: %v", e)
	}
	if e, even := Efficiency(ones[:1], mat.NewSymDense(4, nil)), Efficiency(ones[:1], nil); e != even {
		t.Errorf("no positive weight: %v, want %v", e, even)
	}
	want := [][]int{{0, 1}, {2, 3}}
	if got := Components(apart); !slices.EqualFunc(got, want, slices.Equal) {
		t.Errorf("components %v, want %v", got, want)
	}
}
