package simulate_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"bondtrial/internal/simulate"
)

// most is how many standard errors of the simulation a mean may be away from the
// truth: beyond it once in 150,000 (normal distribution, two sides).
const most = 4.5

func phi(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }
func cdf(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// weaker is the mean of the smaller of two independent normal variables (C. E. Clark,
// Operations Research 9, 1961, p. 147, with the sign turned; from memory, and
// confirmed below by the simulation itself).
func weaker(m1, s1, m2, s2 float64) float64 {
	theta := math.Hypot(s1, s2)
	a := (m2 - m1) / theta
	return m1*cdf(a) + m2*cdf(-a) - theta*phi(a)
}

// Each specimen of its own board: logarithms and wood-limited shares of every cell
// are those of the truth.
func TestBreakerFollowsTheTruth(t *testing.T) {
	truth := simulate.Demo()
	truth.RigLimit = 0
	const n = 6000
	b := truth.Breaker(rand.New(rand.NewPCG(1, 2)))
	limited, cells := 0.0, 0
	for w, wood := range truth.Woods {
		for _, a := range truth.Adhesives {
			for l, level := range truth.Factor.Levels {
				sum, squares, byWood := 0.0, 0.0, 0
				for i := range n {
					mpa, share, rig := b.Break(a.Name, wood.Name, fmt.Sprint(a.Name, level, i), level)
					if rig || !(share >= 0 && share <= 100) || math.Mod(float64(share), 5) != 0 {
						t.Fatalf("share %v, rig limited %v", share, rig)
					}
					x := math.Log(mpa)
					sum, squares = sum+x, squares+x*x
					if share >= 75 {
						byWood++
					}
				}
				mean := sum / n
				se := math.Sqrt((squares/n - mean*mean) / n)
				want := weaker(math.Log(a.Strength[w]*truth.Factor.Ratio[l]), math.Hypot(a.SD, truth.BoardSD), math.Log(wood.Strength), math.Hypot(wood.SD, truth.BoardSD))
				if math.Abs(mean-want) > most*se {
					t.Errorf("%s on %s, %s: mean of logarithms %.4f, want %.4f within %.4f", a.Name, wood.Name, level, mean, want, most*se)
				}
				limited += float64(byWood) / n
				cells++
			}
		}
	}
	// The standard error of a share is largest at one half.
	got, want, se := limited/float64(cells), truth.ShareLimited(), 0.5/math.Sqrt(float64(n*cells))
	if math.Abs(got-want) > most*se {
		t.Errorf("wood-limited %.4f, want %.4f within %.4f", got, want, most*se)
	}
}

// Pieces of one board share a shift of the bond: the means of boards scatter by it.
func TestBreakerBoardsShareAShift(t *testing.T) {
	truth := simulate.Demo()
	truth.LimitShare(0)
	truth.RigLimit = 0
	const boards, pieces = 800, 10
	b := truth.Breaker(rand.New(rand.NewPCG(3, 4)))
	a := truth.Adhesives[0]
	var means []float64
	for board := range boards {
		sum := 0.0
		for range pieces {
			mpa, _, _ := b.Break(a.Name, "ash", fmt.Sprint(board), "dry")
			sum += math.Log(mpa)
		}
		means = append(means, sum/pieces)
	}
	mean, v := 0.0, 0.0
	for _, m := range means {
		mean += m / boards
	}
	for _, m := range means {
		v += (m - mean) * (m - mean) / (boards - 1)
	}
	want := truth.BoardSD*truth.BoardSD + a.SD*a.SD/pieces
	// The variance of a sample variance of normal values is 2 σ⁴ / (n − 1).
	if se := want * math.Sqrt(2/float64(boards-1)); math.Abs(v-want) > most*se {
		t.Errorf("the means of boards scatter by %.5f, want %.5f within %.5f", v, want, most*se)
	}
}

func TestBreakerStopsAtTheRigsLimit(t *testing.T) {
	truth := simulate.Demo()
	truth.RigLimit = 5
	b := truth.Breaker(rand.New(rand.NewPCG(5, 6)))
	at, below := 0, 0
	for i := range 400 {
		mpa, share, rig := b.Break("Pemmet white", "ash", fmt.Sprint(i), "damp")
		switch {
		case rig && mpa == 5 && math.IsNaN(float64(share)):
			at++
		case !rig && mpa < 5 && !math.IsNaN(float64(share)):
			below++
		default:
			t.Fatalf("%v MPa, share %v, rig limited %v", mpa, share, rig)
		}
	}
	if at == 0 || below == 0 {
		t.Errorf("%d at the limit, %d below", at, below)
	}
}

func TestBreakerSameSeedSameBreaks(t *testing.T) {
	run := func() (out []float64) {
		b := simulate.Demo().Breaker(rand.New(rand.NewPCG(7, 8)))
		for i := range 50 {
			mpa, _, _ := b.Break("Quavik foam", "larch", fmt.Sprint(i%6), "dry")
			out = append(out, mpa)
		}
		return out
	}
	a, b := run(), run()
	for i := range a {
		if a[i] != b[i] {
			t.Fatalf("break %d: %v and %v", i, a[i], b[i])
		}
	}
}

func TestBreakerKnowsItsTruth(t *testing.T) {
	for _, c := range [][3]string{{"Nobody", "ash", "dry"}, {"Quavik foam", "oak", "dry"}, {"Quavik foam", "ash", "wet"}} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%v: no panic", c)
				}
			}()
			simulate.Demo().Breaker(rand.New(rand.NewPCG(1, 1))).Break(c[0], c[1], "1", c[2])
		}()
	}
}
