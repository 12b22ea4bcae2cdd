package studrange

import (
	"math"

	"bondtrial/stat/internal/quad"
)

// rangeRule is a trapezoidal rule with a fixed step for the distribution of the
// range of k independent standard normal variables.
type rangeRule struct {
	k     float64
	tail  tail
	step  float64
	top   float64 // near the mode of the largest of the k
	nodes []node  // nodes[i] is at z = (i − len(nodes)/2)·step
}

// node holds what depends on z alone.
type node struct {
	set    bool
	below  float64 // Φ(z)
	above  float64 // 1 − Φ(z)
	weight float64 // step · k φ(z), times Φ(z)^(k−1) for the upper tail
}

// zMax is beyond the z at which the normal density is zero in float64.
const zMax = 39.5

func newRangeRule(k int, t tail, step float64) *rangeRule {
	half := int(zMax / step)
	return &rangeRule{
		k:     float64(k),
		tail:  t,
		step:  step,
		top:   typicalMax(k),
		nodes: make([]node, 2*half+1),
	}
}

// typicalMax is the 1−1/(2k) quantile of the normal distribution, near which
// the largest of k normal variables lies.
func typicalMax(k int) float64 {
	return math.Sqrt2 * math.Erfinv(1-1/float64(k))
}

// prob returns the probability of the tail at w > 0. How far the step makes it
// wrong is for the caller to find out.
func (r *rangeRule) prob(w float64) float64 {
	term, start := r.lowerTerm, min(w/2, r.top)
	if r.tail == upper {
		term, start = r.upperTerm, max(w/2, r.top)
	}
	// For short w, C(w) = sqrt(k) (w/sqrt(2π))^(k−1) to within a share k w² of it.
	short := math.Sqrt(r.k) * math.Pow(w/math.Sqrt(2*math.Pi), r.k-1)
	if share := r.k * w * w; r.tail == lower && share < negligible {
		return short
	} else if r.tail == upper && short < 1 && share*short < negligible {
		return 1 - short
	}
	if start >= zMax-1 {
		return 0 // below 1e-320
	}
	mid := len(r.nodes) / 2
	i0 := mid + int(start/r.step)
	total := term(i0, w)
	for i := i0 + 1; i < len(r.nodes); i++ {
		t := term(i, w)
		total += t
		if t <= negligible*total {
			break
		}
	}
	for i := i0 - 1; i >= 0; i-- {
		t := term(i, w)
		total += t
		if t <= negligible*total {
			break
		}
	}
	return total
}

// upperTerm is the i-th term of S(w),
//
//	k φ(z) Φ(z)^(k−1) {1 − [1 − Φ(z−w)/Φ(z)]^(k−1)}
func (r *rangeRule) upperTerm(i int, w float64) float64 {
	n, z := r.node(i)
	if n.weight == 0 {
		return 0
	}
	share := min(quad.NormalBelow(z-w)/n.below, 1)
	return n.weight * -math.Expm1((r.k-1)*math.Log1p(-share))
}

// lowerTerm is the i-th term of C(w),
//
//	k φ(z) [Φ(z) − Φ(z−w)]^(k−1)
func (r *rangeRule) lowerTerm(i int, w float64) float64 {
	n, z := r.node(i)
	var between float64
	switch {
	case w < 0.5:
		between = quad.NormalBetween(z-w/2, w/2)
	case z < w/2:
		between = n.below - quad.NormalBelow(z-w)
	default:
		between = quad.NormalBelow(w-z) - n.above
	}
	return n.weight * math.Pow(between, r.k-1)
}

// node returns the node with index i and its z.
func (r *rangeRule) node(i int) (*node, float64) {
	z := float64(i-len(r.nodes)/2) * r.step
	n := &r.nodes[i]
	if !n.set {
		n.set = true
		n.below, n.above = quad.NormalBelow(z), quad.NormalBelow(-z)
		n.weight = r.step * r.k * math.Exp(-0.5*z*z) / math.Sqrt(2*math.Pi)
		if r.tail == upper {
			n.weight *= powOf1m(n.below, n.above, r.k-1)
		}
	}
	return n, z
}

// powOf1m returns p^n, where q is 1−p and may be far more exact than p shows.
func powOf1m(p, q, n float64) float64 {
	if q < p {
		return math.Exp(n * math.Log1p(-q))
	}
	return math.Pow(p, n)
}
