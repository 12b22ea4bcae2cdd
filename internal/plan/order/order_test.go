package order_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"bondtrial/internal/plan/order"
)

// Two adhesives of four specimens each, in two woods, glued up in an order from
// seed 7.
func Example() {
	var specimens []order.Specimen
	var adhesives []string
	for _, adhesive := range []string{"Tarn", "Rill"} {
		for _, wood := range []string{"ash", "ash", "larch", "larch"} {
			specimens = append(specimens, order.Specimen{Adhesive: adhesive, Cell: wood})
			adhesives = append(adhesives, adhesive)
		}
	}
	o, err := order.Draw(specimens, rand.New(rand.NewPCG(7, 0)))
	if err != nil {
		fmt.Println(err)
		return
	}
	for k, i := range o.Sequence {
		fmt.Printf("%d %s, %s\n", k+1, specimens[i].Adhesive, specimens[i].Cell)
	}
	for _, f := range order.Balance(o.Sequence, adhesives) {
		fmt.Println(f)
	}
	// Output:
	// 1 Tarn, larch
	// 2 Rill, ash
	// 3 Rill, larch
	// 4 Tarn, ash
	// 5 Tarn, ash
	// 6 Rill, ash
	// 7 Rill, larch
	// 8 Tarn, larch
	// Tarn: 4 specimens, mean place 4.5, 0.0 % off, r 0.00
	// Rill: 4 specimens, mean place 4.5, 0.0 % off, r 0.00
}

// anyTrial draws specimens of up to 40 adhesives with counts and cells that
// differ.
func anyTrial(t *rapid.T, most int) []order.Specimen {
	adhesives := rapid.IntRange(1, 40).Draw(t, "adhesives")
	cells := rapid.IntRange(1, 6).Draw(t, "cells")
	slope := rapid.Float64Range(1, 4).Draw(t, "slope")
	rng := source(rapid.Uint64().Draw(t, "seed of the trial"))
	specimens := make([]order.Specimen, 1+rng.IntN(most))
	for i := range specimens {
		specimens[i] = order.Specimen{
			Adhesive: fmt.Sprint("adhesive ", int(float64(adhesives)*math.Pow(rng.Float64(), slope))),
			Cell:     fmt.Sprint(rng.IntN(cells)),
		}
	}
	return specimens
}

func isPermutation(sequence []int, n int) bool {
	sorted := slices.Sorted(slices.Values(sequence))
	for k, i := range sorted {
		if k != i {
			return false
		}
	}
	return len(sorted) == n
}

// figures computes the mean place and Pearson's r from their definitions.
func figures(sequence []int, specimens []order.Specimen, adhesive string) (n int, mean, r float64) {
	var x, y []float64
	for k, i := range sequence {
		is := 0.0
		if specimens[i].Adhesive == adhesive {
			is = 1
			n++
			mean += float64(k + 1)
		}
		x, y = append(x, float64(k+1)), append(y, is)
	}
	mx, my := average(x), average(y)
	var sxy, sxx, syy float64
	for k := range x {
		sxy += (x[k] - mx) * (y[k] - my)
		sxx += (x[k] - mx) * (x[k] - mx)
		syy += (y[k] - my) * (y[k] - my)
	}
	if sxx > 0 && syy > 0 {
		r = sxy / math.Sqrt(sxx*syy)
	}
	return n, mean / float64(n), r
}

func average(s []float64) float64 {
	sum := 0.0
	for _, v := range s {
		sum += v
	}
	return sum / float64(len(s))
}

// Whatever the counts, each specimen has one place, and the limits are kept as
// the doc comment of Draw says.
func TestLimitsAreKept(t *testing.T) {
	t.Run("few", rapid.MakeCheck(func(t *rapid.T) { checkLimits(t, 60) }))
	t.Run("many", rapid.MakeCheck(func(t *rapid.T) { checkLimits(t, 2000) }))
}

func checkLimits(t *rapid.T, most int) {
	specimens := anyTrial(t, most)
	seed := rapid.Uint64().Draw(t, "seed")
	o := draw(specimens, seed)
	total := len(specimens)
	if !isPermutation(o.Sequence, total) || o.Batch != nil {
		t.Fatalf("not an order: %v", o)
	}
	if !o.Kept {
		t.Fatalf("the limits are not kept after %d arrangements", o.Draws)
	}
	if again := draw(specimens, seed); !slices.Equal(again.Sequence, o.Sequence) {
		t.Fatal("the same seed gave another order")
	}
	names := adhesivesOf(specimens)
	alone := 0.0
	for _, f := range order.Balance(o.Sequence, names) {
		if f.Specimens == 1 {
			alone++
		}
	}
	const rounding = 1e-9 // of sums of 2000 numbers below 2000
	for _, f := range order.Balance(o.Sequence, names) {
		n, mean, r := figures(o.Sequence, specimens, f.Adhesive)
		middle := float64(total+1) / 2
		if f.Specimens != n || math.Abs(f.Mean-mean) > rounding || math.Abs(f.R-r) > rounding ||
			math.Abs(f.Off-100*(mean-middle)/float64(total)) > rounding {
			t.Fatalf("%v: by definition %d, mean %v, r %v", f, n, mean, r)
		}
		if n == 1 || f.Within() {
			continue
		}
		// Half a place over the count where the places cannot add up to the
		// middle, and half a place where one single is left.
		allowed := 0.0
		if n*(total+1)%2 == 1 {
			allowed += 0.5 / float64(n)
		}
		if math.Mod(alone, 2) == 1 {
			allowed += 0.5
		}
		if math.Abs(mean-middle) > allowed+rounding {
			t.Fatalf("%v, with %d specimens in all", f, total)
		}
	}
}

// A batch is one adhesive's, is glued in one go, and is not larger than one
// opening serves.
func TestBatches(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		specimens := anyTrial(t, 200)
		size := map[string]int{}
		batched := false
		for i, s := range specimens {
			if _, ok := size[s.Adhesive]; !ok {
				size[s.Adhesive] = rapid.IntRange(0, 9).Draw(t, s.Adhesive)
			}
			specimens[i].Batch = size[s.Adhesive]
			batched = batched || size[s.Adhesive] > 0
		}
		o := draw(specimens, rapid.Uint64().Draw(t, "seed"))
		if !isPermutation(o.Sequence, len(specimens)) {
			t.Fatalf("not an order: %v", o.Sequence)
		}
		if !batched {
			if o.Batch != nil {
				t.Fatal("batches where there are none")
			}
			return
		}
		members := map[int][]int{}
		last := 0
		for _, i := range o.Sequence {
			if b := o.Batch[i]; b != last {
				if b != last+1 {
					t.Fatalf("batch %d comes after batch %d", b, last)
				}
				last = b
			}
			members[last] = append(members[last], i)
		}
		least, most, batches, count := map[string]int{}, map[string]int{}, map[string]int{}, map[string]int{}
		for b := 1; b <= last; b++ {
			name := specimens[members[b][0]].Adhesive
			n := len(members[b])
			for _, i := range members[b] {
				if specimens[i].Adhesive != name {
					t.Fatalf("batch %d has two adhesives", b)
				}
			}
			if batches[name] == 0 || n < least[name] {
				least[name] = n
			}
			most[name] = max(most[name], n)
			batches[name]++
			count[name] += n
		}
		for name, n := range count {
			one := max(1, size[name])
			if most[name] > one || most[name]-least[name] > 1 || batches[name] != (n+one-1)/one {
				t.Fatalf("%s: %d specimens in %d batches of %d to %d, one opening serves %d", name, n, batches[name], least[name], most[name], one)
			}
		}
	})
}

// Batches are balanced like specimens, and the cells of an adhesive are spread
// over its batches.
func TestBatchesAreBalanced(t *testing.T) {
	specimens := alike(6, 6, 6, 4)
	for i := range specimens {
		specimens[i].Batch = 4
	}
	y := newTally(specimens)
	for seed := range uint64(seeds) {
		o := draw(specimens, seed)
		y.add(o.Sequence)
		if !o.Kept || !within(o.Sequence, specimens) {
			t.Fatalf("seed %d: the limits are not kept: %v", seed, order.Balance(o.Sequence, adhesivesOf(specimens)))
		}
		cells := map[string]int{}
		for i, s := range specimens {
			cells[fmt.Sprint(o.Batch[i], s.Cell)]++
		}
		for what, n := range cells {
			if n > 2 { // 6 of a cell in 4 batches are at most 2 in each
				t.Fatalf("seed %d: batch and cell %s: %d specimens", seed, what, n)
			}
		}
	}
	if z := max(y.worstPlaces(), y.places()); !(z < beyond) {
		t.Errorf("places are %.1f standard deviations from chance", z)
	}
}

func TestDrawRefuses(t *testing.T) {
	for _, c := range []struct {
		first, second int
		want          string
	}{
		{4, 5, "adhesive Tarn: batches of 4 and of 5: give all its specimens one batch size"},
		{4, -1, "specimen 2 (Tarn): a batch of -1: write how many specimens one opening serves, or 0 for no batches"},
	} {
		_, err := order.Draw([]order.Specimen{{Adhesive: "Tarn", Batch: c.first}, {Adhesive: "Tarn", Batch: c.second}}, source(1))
		if err == nil || err.Error() != c.want {
			t.Errorf("%d and %d: %v, want %s", c.first, c.second, err, c.want)
		}
	}
	panics(t, "order: no random source", func() { order.Draw(nil, nil) })
	panics(t, "order: too many specimens", func() { order.Draw(make([]order.Specimen, order.Most+1), source(1)) })
	panics(t, "order: not as many places as specimens", func() { order.Balance([]int{0}, nil) })
	panics(t, "order: a specimen is missing or named twice", func() { order.Balance([]int{0, 0}, []string{"a", "b"}) })
	panics(t, "order: a specimen is missing or named twice", func() { order.Balance([]int{0, 2}, []string{"a", "b"}) })
}

func panics(t *testing.T, want string, f func()) {
	t.Helper()
	defer func() {
		if got := recover(); got != want {
			t.Errorf("panic %v, want %s", got, want)
		}
	}()
	f()
}

func TestNothingToOrder(t *testing.T) {
	if o := draw(nil, 1); len(o.Sequence) != 0 || !o.Kept || len(o.Places()) != 0 {
		t.Errorf("no specimens: %v", o)
	}
	if o := draw(alike(1, 1), 1); !slices.Equal(o.Sequence, []int{0}) || !o.Kept {
		t.Errorf("one specimen: %v", o)
	}
	if f := order.Balance([]int{0}, []string{"Tarn"}); len(f) != 1 || f[0] != (order.Figure{Adhesive: "Tarn", Specimens: 1, Mean: 1}) {
		t.Errorf("one specimen: %v", f)
	}
}

// The largest trial that is taken stays within whole numbers.
func TestMostSpecimens(t *testing.T) {
	specimens := make([]order.Specimen, order.Most-1)
	for i := range specimens {
		specimens[i].Adhesive = fmt.Sprint(i % 7 * (i % 3))
	}
	if o := draw(specimens, 1); !o.Kept || !within(o.Sequence, specimens) {
		t.Error("the limits are not kept")
	}
}

func TestFiguresInWords(t *testing.T) {
	// By hand: A at 1 and 4 of 5 has mean 2.5, half a place early, 10 % of 5; the
	// covariance with the places is 2/5·(-1/2), their variance 2, that of the
	// indicator 6/25: r = -0.2/√0.48 = -0.2887.
	f := order.Balance([]int{0, 2, 3, 1, 4}, []string{"A", "A", "B", "B", "C"})
	for k, want := range []string{
		"A: 2 specimens, mean place 2.5, 10.0 % early, r -0.29",
		"B: 2 specimens, mean place 2.5, 10.0 % early, r -0.29",
		"C: 1 specimen, mean place 5.0, 40.0 % late, r 0.71",
	} {
		if got := f[k].String(); got != want || f[k].Within() {
			t.Errorf("%s, within %v; want %s", got, f[k].Within(), want)
		}
	}
	if got, want := order.Balance([]int{0, 1, 2, 3}, []string{"A", "B", "B", "A"})[0], "A: 2 specimens, mean place 2.5, 0.0 % off, r 0.00"; got.String() != want || !got.Within() {
		t.Errorf("%s, want %s", got, want)
	}
}
