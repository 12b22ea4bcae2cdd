package order

import (
	"math"
	"math/rand/v2"
	"testing"
)

// All distances but n mod 3 are in one three each, x is y+z within what is
// allowed, what is left out is as likely to be one distance as another, and one
// three has y next to z on average, less the share that is left out.
func TestSplit(t *testing.T) {
	const draws = 2000
	c := chance{rand.New(rand.NewPCG(1, 1))}
	for _, k := range []struct{ n, half, most int }{
		{12, 0, 2}, {16, 0, 2}, {16, 1, 3}, {24, 0, 4}, {25, 1, 5}, {42, 1, 5}, {43, 0, 20}, {200, 1, 41},
	} {
		seen := make([]int, k.n+1)
		next := 0
		for range draws {
			once := make([]bool, k.n+1)
			for _, v := range split(k.n, k.half, k.most, false, c) {
				for _, m := range []int{v.x, v.y, v.z} {
					if once[m] {
						t.Fatalf("%v: distance %d is in two threes", k, m)
					}
					once[m] = true
					seen[m]++
				}
				if e := 2*(v.x-v.y-v.z) + k.half; max(e, -e) > k.most || v.y <= v.z || v.x <= v.y {
					t.Fatalf("%v: %v", k, v)
				}
				if v.y-v.z == 1 {
					next++
				}
			}
		}
		in := float64(k.n - k.n%3)
		p := in / float64(k.n)
		sum := 0.0
		for _, o := range seen[1:] {
			sum += math.Pow(float64(o)-draws*p, 2) / (draws * p)
			if k.n%3 == 0 && o != draws {
				t.Fatalf("%v: a distance is missing", k)
			}
		}
		// Sum of n nearly independent squares of mean 1-p: five standard deviations
		// above, false alarm level 2.9e-7 each, from memory, unconfirmed.
		if n, mean := float64(k.n), 1-p; sum > mean*(n+5*math.Sqrt(2*n)) {
			t.Errorf("%v: what is left out: %.1f, expected %.1f", k, sum, mean*n)
		}
		// Where few distances are to be split some leave no such three: 0.05 is
		// what that was seen to take (measured: at most 0.045, at 12 distances).
		if got := float64(next) / draws; math.Abs(got-p) > 0.05+5*math.Sqrt(p*(1-p)/draws) {
			t.Errorf("%v: %.3f threes with neighbours, want %.3f", k, got, p)
		}
	}
}

// A limit is the largest deviation, as odd as n(N+1), whose mean is within 2 % of
// N of the middle and whose r, from its definition as cov/(sd·sd) with variance
// (N²-1)/12 of the places and p(1-p) of being of the adhesive, is at most 0.05.
func TestLimits(t *testing.T) {
	keeps := func(d, n, total int) bool {
		all := float64(total)
		p := float64(n) / all
		off := float64(d) / float64(2*n)
		r := p * off / math.Sqrt((all*all-1)/12*p*(1-p))
		return off <= 0.02*all+1e-9 && r <= 0.05+1e-12 // 1e-9, 1e-12: rounding
	}
	for total := 4; total <= 300; total++ {
		for n := 2; n < total-1; n++ {
			d := limits([]int{n, total - n}, total)[0]
			if (d+n*(total+1))%2 != 0 || d > 1 && !keeps(d, n, total) || keeps(d+2, n, total) {
				t.Fatalf("%d of %d: %d", n, total, d)
			}
		}
	}
	// One that stands alone: half a place more, twice the count.
	if l := limits([]int{1, 5, 5}, 11); l[0] != -1 || l[1] != 5 || l[2] != 5 {
		t.Errorf("limits %v", l)
	}
	units := []unit{{0, 0}, {1, 0}, {1, 0}, {0, 0}}
	if e := excess([]int{0, 3, 1, 2}, units, []int{2, 2}, []int{0, 0}); e != 1000 { // one place each
		t.Errorf("excess %d", e)
	}
	if e := excess([]int{0, 1, 2, 3}, units, []int{2, 2}, []int{0, 0}); e != 0 {
		t.Errorf("excess %d of a mirror", e)
	}
}

func TestRoot(t *testing.T) {
	for n := range 10000 {
		if r := root(n); r*r > n || (r+1)*(r+1) <= n {
			t.Fatalf("root of %d is %d", n, r)
		}
	}
	for _, n := range []int{1<<52 - 1, 1 << 52, 1<<62 - 1} {
		if r := root(n); r*r > n || (r+1)*(r+1) <= n && (r+1)*(r+1) > 0 {
			t.Errorf("root of %d is %d", n, r)
		}
	}
}

// Every number is equally likely: chi-squared with 6 degrees of freedom, whose
// upper point for 1e-6 is 38.3 (1 - its CDF is exp(-x/2)(1+x/2+x²/8), which is
// 9.7e-7 there).
func TestBelow(t *testing.T) {
	c := chance{rand.New(rand.NewPCG(2, 2))}
	var seen [7]int
	const draws = 70000
	for range draws {
		seen[c.below(7)]++
	}
	sum := 0.0
	for _, o := range seen {
		sum += math.Pow(float64(o)-draws/7, 2) / (draws / 7)
	}
	if sum > 38.3 {
		t.Errorf("chi-squared %.1f: %v", sum, seen)
	}
}
