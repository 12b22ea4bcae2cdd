package order_test

import (
	"math"
	"slices"
	"testing"

	"bondtrial/internal/plan/order"
)

const seeds = 10000

// beyond is the deviation, in standard deviations of a normal quantity, that is
// taken for a fault. The chance of a larger one is 2.9e-7 (upper tail of the
// normal distribution, from memory, unconfirmed); with the most figures that one
// trial has, 84 specimens and 144 pairs of adhesives on two sides, the false
// alarm level of a trial is below 1.2e-4. The seeds are fixed, so that the test
// gives the same every time.
const beyond = 5

// Every specimen is equally likely in every place, and neighbours are as in
// complete random orders.
func TestPlacesAndNeighboursAreAsByChance(t *testing.T) {
	for _, c := range []struct {
		name      string
		specimens []order.Specimen
	}{
		{"6 of 14, cells even and odd", alike(6, 4, 4, 3, 3)},
		{"6 of 5", alike(6, 5)},
		{"12 of 3", alike(12, 3)},
		{"12 of 4", alike(12, 4)},
		{"5 of 5", alike(5, 5)},
		{"4 of 12, cells of 3", alike(4, 3, 3, 3, 3)},
		{"4 of 3", alike(4, 3)},
		{"4 of 2", alike(4, 2)},
		{"3 and 31", trial([]int{3}, []int{31})},
		{"3 to 7", trial([]int{3}, []int{4}, []int{5}, []int{6}, []int{7})},
		{"2 to 11, N odd", trial([]int{2}, []int{2}, []int{2}, []int{3}, []int{8}, []int{9}, []int{11})},
		{"one alone", trial([]int{1}, []int{7}, []int{9}, []int{9})},
		{"two alone, cells of 1", trial([]int{1}, []int{1}, []int{1, 1, 1, 4}, []int{3, 3, 3}, []int{10}, []int{4})},
	} {
		y := newTally(c.specimens)
		for seed := range uint64(seeds) {
			y.add(draw(c.specimens, seed).Sequence)
		}
		for _, f := range []struct {
			what string
			z    float64
		}{
			{"places", y.places()}, {"places of the worst specimen", y.worstPlaces()},
			{"places of adhesives", y.kindPlaces()}, {"neighbours", y.neighbours()},
			{"neighbours of adhesives", y.worstKinds()},
		} {
			if !(f.z < beyond) {
				t.Errorf("%s: %s are %.1f standard deviations from chance", c.name, f.what, f.z)
			}
		}
		t.Logf("%-28s places %5.1f, worst specimen %4.1f, adhesives %5.1f; neighbours %5.1f, adhesives %4.1f",
			c.name, y.places(), y.worstPlaces(), y.kindPlaces(), y.neighbours(), y.worstKinds())
	}
}

// The tests above can see what they are for: redrawing complete random orders
// until the limits are kept pulls a small adhesive to the middle and keeps its
// specimens apart.
func TestRedrawingWouldBeSeen(t *testing.T) {
	specimens := trial([]int{4}, []int{12})
	y := newTally(specimens)
	rng := source(1)
	for range seeds {
		sequence := rng.Perm(len(specimens))
		for !within(sequence, specimens) {
			sequence = rng.Perm(len(specimens))
		}
		y.add(sequence)
	}
	if y.places() < beyond || y.kindPlaces() < beyond || y.worstKinds() < beyond {
		t.Errorf("places %.1f, adhesives %.1f, neighbours %.1f: not seen", y.places(), y.kindPlaces(), y.worstKinds())
	}
}

func within(sequence []int, specimens []order.Specimen) bool {
	for _, f := range order.Balance(sequence, adhesivesOf(specimens)) {
		if !f.Within() {
			return false
		}
	}
	return true
}

// Where all adhesives have the same count, places are uniform however few the
// specimens, though neighbours are not always: with three of each and N odd, what
// is balanced parts the partners in the middle (see the package comment).
func TestPlacesOfFewSpecimens(t *testing.T) {
	for _, specimens := range [][]order.Specimen{alike(2, 2), alike(2, 3), alike(3, 3), alike(5, 3), alike(7, 3), alike(3, 1), alike(2, 1), alike(1, 5)} {
		y := newTally(specimens)
		for seed := range uint64(seeds) {
			y.add(draw(specimens, seed).Sequence)
		}
		if z := max(y.places(), y.worstPlaces()); !(z < beyond) {
			t.Errorf("%d specimens: places are %.1f standard deviations from chance", len(specimens), z)
		}
	}
}

// Arrangements hardly ever have to be drawn again, and the order is not its own
// mirror image. Measured over 10,000 seeds: 0 of the first four trials, 0 to
// 1.2 % of the last.
func TestRedrawsAreRare(t *testing.T) {
	for _, c := range []struct {
		specimens []order.Specimen
		most      float64 // share of the seeds that are drawn again
		mirrors   float64 // share of the orders whose adhesives read the same from both ends
	}{
		{alike(6, 4, 4, 3, 3), 0.001, 0},
		{alike(6, 5), 0.001, 0},
		{alike(12, 4), 0.001, 0.05},
		{trial([]int{3}, []int{4}, []int{5}, []int{6}, []int{7}), 0.001, 0},
		{alike(5, 3), 0.02, 0},
	} {
		again, mirrors := 0, 0
		for seed := range uint64(2000) {
			o := draw(c.specimens, seed)
			if !o.Kept {
				t.Errorf("seed %d: %d specimens: the limits are not kept", seed, len(c.specimens))
			}
			if o.Draws > 1 {
				again++
			}
			names := make([]string, len(o.Sequence))
			for k, i := range o.Sequence {
				names[k] = c.specimens[i].Adhesive
			}
			back := slices.Clone(names)
			slices.Reverse(back)
			if slices.Equal(names, back) {
				mirrors++
			}
		}
		if float64(again) > 2000*c.most || float64(mirrors) > 2000*c.mirrors {
			t.Errorf("%d specimens: %d of 2000 drawn again, %d mirror images", len(c.specimens), again, mirrors)
		}
		t.Logf("%d specimens: %d of 2000 drawn again, %d mirror images", len(c.specimens), again, mirrors)
	}
}

// No adhesive is more at the ends than chance would have it: the squared
// distance of an adhesive from the middle of the order varies less than in
// complete random orders, in which the mean over n of N uniform places has
// variance (1/180)/n·(N-n)/(N-1), 1/180 being that of (u-1/2)² for u uniform in
// (0,1) (integral of u⁴ less the square of that of u²).
func TestEndsAreBalancedToo(t *testing.T) {
	specimens := alike(6, 4, 4, 3, 3)
	const n, all, orders = 14.0, 84.0, 2000
	sum := 0.0
	for seed := range uint64(orders) {
		mean := 0.0
		for k, i := range draw(specimens, seed).Sequence {
			if specimens[i].Adhesive == "A" {
				u := (float64(k)+0.5)/all - 0.5
				mean += u * u / n
			}
		}
		sum += (mean - 1.0/12) * (mean - 1.0/12)
	}
	// A ratio of 1 would have a standard error of √(2/2000), 0.03.
	if ratio := sum / orders / (1.0 / 180 / n * (all - n) / (all - 1)); ratio > 0.8 || math.IsNaN(ratio) {
		t.Errorf("the variance is %.2f of that by chance", ratio)
	} else {
		t.Logf("the variance is %.2f of that by chance", ratio)
	}
}
