package censreg

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A concave function has a maximum unless it never falls along some direction.
// With z = γ·y - q·δ (see standard) a step along (d, g) moves every z by
// g·y - q·d. The log-likelihood never falls along it when, for g = 0,
//
//	q·d = 0 for every exact observation and every finite interval,
//	q·d ≥ 0 for every lower bound, q·d ≤ 0 for every upper bound,
//
// and, for g = 1, when d as a coefficient meets every observation without error.
// These are the conditions of Silvapulle and Burridge (1986) for the existence
// of the estimate. In the null space of the equalities both come down to the
// question whether a cone {u: M·u ≥ 0} contains more than zero, which is put to
// non-negative least squares: u is the projection of the sum of the rows of M on
// the cone (Moreau's decomposition), and zero if and only if no direction exists.

const (
	nullTolerance = 1e-9 // relative size of a singular value that counts as zero
	coneTolerance = 1e-8 // slack on the inequalities, for rows of length one
)

// unbounded looks for a direction with g = 0. It returns nil when there is none,
// otherwise the direction d in q's coordinates that moves as many observations
// as any, and which observations it moves.
func (z *standard) unbounded() (d []float64, moved []bool) {
	null := z.nullSpace(func(k kind) bool { return k == exact || k == interval })
	if len(null) == 0 {
		return nil, nil
	}
	m, rows := z.coneRows(null)
	moved = make([]bool, z.n())
	total := make([]float64, len(null))
	for {
		target := make([]float64, len(null))
		for i, a := range m {
			if moved[rows[i]] {
				continue
			}
			for j, v := range a {
				target[j] += v
			}
		}
		u := projectOnCone(m, target)
		if u == nil {
			break
		}
		grown := false
		for i, a := range m {
			if dot(a, u) > coneTolerance && !moved[rows[i]] {
				moved[rows[i]], grown = true, true
			}
		}
		if !grown {
			break
		}
		for j, v := range u {
			total[j] += v
		}
	}
	if norm(total) == 0 {
		return nil, nil
	}
	return combine(null, total, z.p), moved
}

// coneRows returns the rows of M, each of length one, and the observation each
// belongs to.
func (z *standard) coneRows(null [][]float64) (m [][]float64, rows []int) {
	for i, k := range z.kind {
		if k != lower && k != upper {
			continue
		}
		q := z.features(i)
		a := make([]float64, len(null))
		for j, u := range null {
			a[j] = dot(q, u)
			if k == upper {
				a[j] = -a[j]
			}
		}
		if length := norm(a); length > nullTolerance*norm(q) {
			for j := range a {
				a[j] /= length
			}
			m, rows = append(m, a), append(rows, i)
		}
	}
	return m, rows
}

// shifts reports whether some direction in the cone of unbounded changes the
// caller's coefficient of column j in the direction of sign, 1 or -1.
func (z *standard) shifts(j int, sign float64) bool {
	null := z.nullSpace(func(k kind) bool { return k == exact || k == interval })
	if len(null) == 0 {
		return false
	}
	m, _ := z.coneRows(null)
	// The coefficient changes by row j of R⁻¹ times d.
	effect := make([]float64, z.p)
	effect[j] = sign
	forwardSolve(z.r, effect)
	size := norm(effect)
	target := make([]float64, len(null))
	for i, u := range null {
		target[i] = dot(effect, u) / size
	}
	return projectOnCone(m, target) != nil
}

// nullSpace returns an orthonormal basis of the vectors that are orthogonal to
// the rows q of every observation whose kind is held.
func (z *standard) nullSpace(held func(kind) bool) [][]float64 {
	if z.p == 0 {
		return nil
	}
	var rows []int
	for i, k := range z.kind {
		if held(k) {
			rows = append(rows, i)
		}
	}
	r := triangle(len(rows), z.p, func(i int, dst []float64) { copy(dst, z.features(rows[i])) })
	var svd mat.SVD
	if !svd.Factorize(r, mat.SVDFull) {
		return nil
	}
	var v mat.Dense
	svd.VTo(&v)
	var null [][]float64
	for j, s := range svd.Values(nil) {
		if s <= nullTolerance*math.Sqrt(float64(z.n())) {
			null = append(null, mat.Col(nil, j, &v))
		}
	}
	return null
}

// combine returns the sum of u[j] times vector j.
func combine(vectors [][]float64, u []float64, p int) []float64 {
	d := make([]float64, p)
	for j, vector := range vectors {
		for i, v := range vector {
			d[i] += u[j] * v
		}
	}
	return d
}

// perfect looks for a direction with g = 1, a coefficient that meets every
// observation without error.
func (z *standard) perfect() bool {
	rows := make([]int, 0, z.n())
	for i, k := range z.kind {
		if k == exact {
			rows = append(rows, i)
		}
	}
	d, gain, met := z.meetExact(rows)
	if !met {
		return false
	}
	null := z.nullSpace(func(k kind) bool { return k == exact })
	// What is left are inequalities a·u + c·g ≥ 0 in the null space.
	m := [][]float64{append(make([]float64, len(null)), 1)}
	// They are relaxed by what rounding of the data may have taken from them.
	add := func(i int, sign, gap float64) {
		q, slack := z.features(i), 1e-10+z.slack(i, d, gain)
		a := make([]float64, len(null)+1)
		for j, u := range null {
			a[j] = sign * dot(q, u)
			if math.Abs(a[j]) <= nullTolerance*norm(q) {
				a[j] = 0
			}
		}
		a[len(null)] = sign*gap + slack
		if length := norm(a); length > 0 {
			for j := range a {
				a[j] /= length
			}
			m = append(m, a)
		}
	}
	for i, k := range z.kind {
		if k == exact {
			continue
		}
		fit := dot(z.features(i), d)
		if k != upper {
			add(i, 1, fit-z.y[i].lo)
		}
		if k != lower {
			add(i, -1, fit-z.y[i].hi)
		}
	}
	target := make([]float64, len(null)+1)
	target[len(null)] = 1
	return projectOnCone(m, target) != nil
}

// slack returns what rounding can amount to in y - q·d of observation i, where
// the rounding of the data was amplified by gain on the way to d.
func (z *standard) slack(i int, d []float64, gain float64) float64 {
	size := norm(z.features(i))
	return (16*z.noise+64*epsilon)*(1+gain*size) + 64*epsilon*norm(d)*size
}

// meetExact returns least-squares coefficients of the exact observations, the
// shortest where they are not unique, how much they amplify the rounding of the
// data, and whether they leave no residual beyond rounding.
func (z *standard) meetExact(rows []int) (d []float64, gain float64, met bool) {
	d = make([]float64, z.p)
	if z.p > 0 {
		r := triangle(len(rows), z.p+1, func(i int, dst []float64) {
			copy(dst, z.features(rows[i]))
			dst[z.p] = z.y[rows[i]].lo
		})
		var svd mat.SVD
		if !svd.Factorize(r.Slice(0, z.p, 0, z.p), mat.SVDFull) {
			return d, gain, false
		}
		var u, v mat.Dense
		svd.UTo(&u)
		svd.VTo(&v)
		right := mat.Col(nil, z.p, r)[:z.p]
		for j, s := range svd.Values(nil) {
			if s <= nullTolerance*math.Sqrt(float64(z.n())) {
				continue
			}
			gain = max(gain, math.Sqrt(float64(z.n()))/s)
			c := dot(mat.Col(nil, j, &u), right) / s
			for i := range d {
				d[i] += c * v.At(i, j)
			}
		}
	}
	for _, i := range rows {
		if !(math.Abs(z.y[i].lo-dot(z.features(i), d)) <= z.slack(i, d, 0)) {
			return d, gain, false
		}
	}
	return d, gain, true
}

// failure turns a direction in q's coordinates into the error that names what is
// at fault. Elements that are rounding are set to 0: the coarsest of three
// thresholds is taken that leaves the observations in place which the direction
// must not move.
func (z *standard) failure(d []float64, moved []bool) *UnboundedError {
	full := append([]float64(nil), d...)
	backSolve(z.r, full)
	top := largest(full)
	clean := make([]float64, z.p)
	for _, threshold := range []float64{1e-8, 1e-11, 1e-14} {
		// The columns are of like magnitude here: the powers of two are put
		// back below.
		for j, v := range full {
			clean[j] = v
			if math.Abs(v) <= threshold*top {
				clean[j] = 0
			}
		}
		if z.holds(clean, moved) {
			break
		}
	}
	e := &UnboundedError{Direction: clean}
	for j, v := range clean {
		if v != 0 {
			e.Columns = append(e.Columns, j)
			clean[j] = math.Ldexp(v, -z.xexp[j])
		}
	}
	top = largest(clean)
	for j := range clean {
		clean[j] /= top
	}
	for i, yes := range moved {
		if yes {
			e.Rows = append(e.Rows, z.row[i])
		}
	}
	return e
}

// holds reports whether d moves the observations that are not marked by less
// than 1e-6 of what it moves the others.
func (z *standard) holds(d []float64, moved []bool) bool {
	var held, free float64
	for i, yes := range moved {
		if v := math.Abs(dot(z.sample.features(i), d)); yes {
			free = max(free, v)
		} else {
			held = max(held, v)
		}
	}
	return held <= 1e-6*free
}

// largest returns the largest magnitude in v.
func largest(v []float64) float64 {
	var top float64
	for _, u := range v {
		top = max(top, math.Abs(u))
	}
	return top
}
