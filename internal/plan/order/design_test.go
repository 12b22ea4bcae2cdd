package order_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"bondtrial/internal/plan/order"
)

// trial makes specimens from the counts of each adhesive's cells.
func trial(adhesives ...[]int) []order.Specimen {
	var s []order.Specimen
	for a, cells := range adhesives {
		for cell, n := range cells {
			for range n {
				s = append(s, order.Specimen{Adhesive: string(rune('A' + a)), Cell: fmt.Sprint(cell)})
			}
		}
	}
	return s
}

// alike is a trial of adhesives with the same cells.
func alike(adhesives int, cells ...int) []order.Specimen {
	return trial(slices.Repeat([][]int{cells}, adhesives)...)
}

func adhesivesOf(specimens []order.Specimen) []string {
	names := make([]string, len(specimens))
	for i, s := range specimens {
		names[i] = s.Adhesive
	}
	return names
}

func source(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

func draw(specimens []order.Specimen, seed uint64) order.Order {
	o, err := order.Draw(specimens, source(seed))
	if err != nil {
		panic(err)
	}
	return o
}

// A tally counts over many orders which specimen stands where and which follows
// which.
type tally struct {
	n, kinds  int
	kind      []int // adhesive by specimen
	count     []int // specimens by adhesive
	orders    int
	place     []int // n×n: specimen, place
	follows   []int // n×n: specimen, the one that follows it
	kindPlace []int // kinds×n
	sum, sum2 []float64
}

func newTally(specimens []order.Specimen) *tally {
	t := &tally{n: len(specimens)}
	seen := map[string]int{}
	for _, s := range specimens {
		k, ok := seen[s.Adhesive]
		if !ok {
			k = len(t.count)
			seen[s.Adhesive] = k
			t.count = append(t.count, 0)
		}
		t.kind = append(t.kind, k)
		t.count[k]++
	}
	t.kinds = len(t.count)
	t.place, t.follows = make([]int, t.n*t.n), make([]int, t.n*t.n)
	t.kindPlace = make([]int, t.kinds*t.n)
	t.sum, t.sum2 = make([]float64, t.kinds*t.kinds), make([]float64, t.kinds*t.kinds)
	return t
}

func (t *tally) add(sequence []int) {
	t.orders++
	pairs := make([]float64, t.kinds*t.kinds)
	for k, i := range sequence {
		t.place[i*t.n+k]++
		t.kindPlace[t.kind[i]*t.n+k]++
		if k > 0 {
			before := sequence[k-1]
			t.follows[before*t.n+i]++
			pairs[t.kind[before]*t.kinds+t.kind[i]]++
		}
	}
	for k, v := range pairs {
		t.sum[k] += v
		t.sum2[k] += v * v
	}
}

// excess returns the sum over cells of (seen-expected)²/variance less its mean,
// in standard deviations, for cells that each are hit with probability p in an
// order. The cells of alike specimens tell the same story, up to that many
// times: the variance is that of independent cells times alike, its largest.
func (t *tally) excess(seen []int, p func(cell int) float64, alike float64) float64 {
	sum, cells := 0.0, 0.0
	for k, o := range seen {
		if q := p(k); q > 0 {
			e := float64(t.orders) * q
			sum += (float64(o) - e) * (float64(o) - e) / (e * (1 - q))
			cells++
		}
	}
	return (sum - cells) / math.Sqrt(2*cells*alike)
}

// places is the excess over all specimens and places: four specimens at most
// have places that follow from each other.
func (t *tally) places() float64 {
	return t.excess(t.place, func(int) float64 { return 1 / float64(t.n) }, 4)
}

// worstPlaces is the chi-squared statistic of the specimen whose places are the
// least uniform, as a normal deviate (Wilson and Hilferty 1931: the cube root of
// chi-squared over its degrees of freedom is nearly normal).
func (t *tally) worstPlaces() float64 {
	worst := 0.0
	e, df := float64(t.orders)/float64(t.n), float64(t.n-1)
	for i := range t.n {
		sum := 0.0
		for _, o := range t.place[i*t.n : (i+1)*t.n] {
			sum += (float64(o) - e) * (float64(o) - e) / e
		}
		worst = max(worst, (math.Cbrt(sum/df)-1+2/(9*df))/math.Sqrt(2/(9*df)))
	}
	return worst
}

// kindPlaces is the excess over all adhesives and places; an adhesive is in the
// mirror place of its own too, and with two adhesives the one is where the other is not.
func (t *tally) kindPlaces() float64 {
	return t.excess(t.kindPlace, func(k int) float64 { return float64(t.count[k/t.n]) / float64(t.n) }, 4)
}

// neighbours is the excess over all ordered pairs of specimens; two neighbours
// of one adhesive imply those at the mirror places and in the same four, eight
// with both directions.
func (t *tally) neighbours() float64 {
	return t.excess(t.follows, func(k int) float64 {
		if k/t.n == k%t.n {
			return 0
		}
		return 1 / float64(t.n)
	}, 8)
}

// worstKinds is the largest deviation, in standard errors, of how often an
// adhesive follows an adhesive from the n·m/N (n(n-1)/N for itself) of complete
// random orders.
func (t *tally) worstKinds() float64 {
	worst := 0.0
	for a, n := range t.count {
		for b, m := range t.count {
			if a == b {
				m--
			}
			mean := t.sum[a*t.kinds+b] / float64(t.orders)
			variance := t.sum2[a*t.kinds+b]/float64(t.orders) - mean*mean
			difference := math.Abs(mean - float64(n)*float64(m)/float64(t.n))
			if difference > 1e-9 {
				worst = max(worst, difference/math.Sqrt(variance/float64(t.orders)))
			}
		}
	}
	return worst
}
