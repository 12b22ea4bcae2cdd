package blockdesign

import "gonum.org/v1/gonum/mat"

// A ridge is added to the size of every block inside the search. It stands for random
// block effects of variance σ²/ridge: a design that is not connected has a value that
// is large but finite. For connected ones it changes the value by a share of about
// ridge. Where no design can be connected it is larger, for the sake of accuracy: the
// search then makes best use of comparisons between blocks that vary widely.
const (
	ridge     = 1e-6
	wideRidge = 1e-3
)

// state is a design under search, with all that it takes to know in a few
// operations what an exchange of two places would do to its value.
//
// With n_b the column of counts of block b and κ_b its units plus ridge, it keeps
//
//	G = (R − Σ n_b n_bᵀ/κ_b + r rᵀ/n)⁻¹,  H = G L G
//
// and for each block G n_b, H n_b, n_bᵀG n_b, n_bᵀH n_b. Its value, tr(GL), is the
// reciprocal of the efficiency.
type state struct {
	t, b  int
	lap   []float64 // L, t×t
	r     []float64
	units float64
	ridge float64

	block []int // of each place; the places of a block are next to each other
	first []int // place of each block, and one past the last
	held  []int // treatment at each place, or free
	open  []int // the places that annealing uses

	kappa    []float64
	g, h     []float64 // t×t
	gn, hn   []float64 // b×t
	gnn, hnn []float64 // b
	value    float64

	v1, v2, z1, z2 []float64 // scratch for apply
}

const free = -1

func newState(p Problem, fewest int) *state {
	s := &state{t: len(p.Replications), b: len(p.Blocks), lap: laplacian(p), ridge: ridge}
	if fewest > 1 {
		s.ridge = wideRidge
	}
	s.first = append(s.first, 0)
	for b, k := range p.Blocks {
		for range k {
			s.block = append(s.block, b)
			s.held = append(s.held, free)
		}
		s.first = append(s.first, len(s.block))
	}
	for _, r := range p.Replications {
		s.r = append(s.r, float64(r))
		s.units += float64(r)
	}
	s.kappa = make([]float64, s.b)
	s.g, s.h = make([]float64, s.t*s.t), make([]float64, s.t*s.t)
	s.gn, s.hn = make([]float64, s.b*s.t), make([]float64, s.b*s.t)
	s.gnn, s.hnn = make([]float64, s.b), make([]float64, s.b)
	scratch := make([]float64, 4*s.t)
	s.v1, s.v2, s.z1, s.z2 = scratch[:s.t], scratch[s.t:2*s.t], scratch[2*s.t:3*s.t], scratch[3*s.t:]
	return s
}

// counts returns the design as counts[block][treatment].
func (s *state) counts() [][]int {
	counts := make([][]int, s.b)
	for b := range counts {
		counts[b] = make([]int, s.t)
	}
	for place, i := range s.held {
		if i != free {
			counts[s.block[place]][i]++
		}
	}
	return counts
}

// refresh computes everything afresh from held.
func (s *state) refresh() {
	t := s.t
	info := mat.NewSymDense(t, nil)
	for i := range t {
		for j := range i + 1 {
			info.SetSym(i, j, s.r[i]*s.r[j]/s.units)
		}
		info.SetSym(i, i, info.At(i, i)+s.r[i])
	}
	for b, row := range s.counts() {
		s.kappa[b] = float64(sum(row)) + s.ridge
		for i, n := range row {
			for j, m := range row[:i+1] {
				if n > 0 && m > 0 {
					info.SetSym(i, j, info.At(i, j)-float64(n*m)/s.kappa[b])
				}
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(info) {
		// Not reached: ridge makes the matrix positive definite.
		panic(notDefinite)
	}
	var g, h, lg mat.Dense
	inv := mat.NewSymDense(t, nil)
	_ = chol.InverseTo(inv) // an error only says how badly conditioned it is
	g.CloneFrom(inv)
	lg.Mul(mat.NewDense(t, t, s.lap), &g)
	h.Mul(&g, &lg)
	copy(s.g, g.RawMatrix().Data)
	copy(s.h, h.RawMatrix().Data)
	s.value = mat.Trace(&lg)
	for b := range s.b {
		gn, hn := s.gn[b*t:(b+1)*t], s.hn[b*t:(b+1)*t]
		clear(gn)
		clear(hn)
		for place := s.first[b]; place < s.first[b+1]; place++ {
			if i := s.held[place]; i != free {
				addTo(gn, 1, s.g[i*t:(i+1)*t])
				addTo(hn, 1, s.h[i*t:(i+1)*t])
			}
		}
		s.gnn[b], s.hnn[b] = s.over(b, gn), s.over(b, hn)
	}
}

// over returns the sum of x over the units of block b.
func (s *state) over(b int, x []float64) float64 {
	total := 0.0
	for _, i := range s.held[s.first[b]:s.first[b+1]] {
		if i != free {
			total += x[i]
		}
	}
	return total
}

// change is what an exchange of two places does: the inverse of G becomes
// G⁻¹ − U S Uᵀ with two columns U, each a combination of e_i, e_j, n_b and n_c.
// With M = S⁻¹ − UᵀGU, G becomes G + GU M⁻¹ UᵀG.
type change struct {
	p, q       int // places; if one is free, it is q
	gain       float64
	k          pair // UᵀHU
	minv       pair // M⁻¹
	wild       bool // too far for the updated matrices to stay accurate
	i, j, b, c int  // treatments and blocks; j is free for a move
}

// pair is a symmetric matrix of two rows.
type pair struct{ a, ab, b float64 }

// try works out the exchange of what places p and q hold. ok is false if it would
// change nothing.
func (s *state) try(p, q int) (c change, ok bool) {
	if s.held[p] == free {
		p, q = q, p
	}
	c = change{p: p, q: q, i: s.held[p], j: s.held[q], b: s.block[p], c: s.block[q]}
	if c.b == c.c || c.i == c.j {
		return c, false
	}
	var m pair
	if c.j == free {
		m = s.gramMove(&c)
	} else {
		m = s.gramSwap(&c)
	}
	det := m.a*m.b - m.ab*m.ab
	if !(det < 0) {
		// Not reached but by rounding: S and M have one negative eigenvalue each.
		return c, false
	}
	c.minv = pair{m.b / det, -m.ab / det, m.a / det}
	c.gain = -(c.minv.a*c.k.a + 2*c.minv.ab*c.k.ab + c.minv.b*c.k.b)
	next := s.value - c.gain
	// A block that has one unit, or none, with only ridge to give it weight.
	thin := c.j == free && (s.kappa[c.b] < 1.5 || s.kappa[c.c] < 0.5)
	c.wild = thin || s.ridge > ridge || next < s.value/8 || next > s.value*8
	return c, true
}

// gramSwap sets c.k and returns M for the exchange of treatment i in block b with j
// in block c: the columns are d = e_j − e_i and n_b/κ_b − n_c/κ_c + (1/κ_b+1/κ_c) d/2,
// and S exchanges them.
func (s *state) gramSwap(c *change) (m pair) {
	t, kb, kc := s.t, 1/s.kappa[c.b], 1/s.kappa[c.c]
	half := (kb + kc) / 2
	form := func(x, xn, xnn []float64) pair {
		rowB, rowC := xn[c.b*t:(c.b+1)*t], xn[c.c*t:(c.c+1)*t]
		dd := x[c.i*t+c.i] + x[c.j*t+c.j] - 2*x[c.i*t+c.j]
		du := (rowB[c.j]-rowB[c.i])*kb - (rowC[c.j]-rowC[c.i])*kc
		uu := xnn[c.b]*kb*kb - 2*s.over(c.b, rowC)*kb*kc + xnn[c.c]*kc*kc
		return pair{dd, du + half*dd, uu + 2*half*du + half*half*dd}
	}
	ug := form(s.g, s.gn, s.gnn)
	c.k = form(s.h, s.hn, s.hnn)
	return pair{-ug.a, 1 - ug.ab, -ug.b}
}

// gramMove is gramSwap for taking treatment i out of block b to a free place of c:
// the columns are e_i − n_b/κ_b and e_i − n_c/κ_c.
func (s *state) gramMove(c *change) (m pair) {
	t, kb, kc := s.t, 1/s.kappa[c.b], 1/s.kappa[c.c]
	form := func(x, xn, xnn []float64) pair {
		rowB, rowC := xn[c.b*t:(c.b+1)*t], xn[c.c*t:(c.c+1)*t]
		ii, ib, ic := x[c.i*t+c.i], rowB[c.i]*kb, rowC[c.i]*kc
		bc := s.over(c.b, rowC) * kb * kc
		return pair{
			ii - 2*ib + xnn[c.b]*kb*kb,
			ii - ib - ic + bc,
			ii - 2*ic + xnn[c.c]*kc*kc,
		}
	}
	ug := form(s.g, s.gn, s.gnn)
	c.k = form(s.h, s.hn, s.hnn)
	sb := (s.kappa[c.b] - 1) / s.kappa[c.b]
	sc := -(s.kappa[c.c] + 1) / s.kappa[c.c]
	return pair{sb - ug.a, -ug.ab, sc - ug.b}
}

// apply makes the exchange c, which must come from try on the present state.
func (s *state) apply(c change) {
	s.held[c.p], s.held[c.q] = s.held[c.q], s.held[c.p]
	if c.wild {
		s.refresh()
		return
	}
	s.held[c.p], s.held[c.q] = s.held[c.q], s.held[c.p]
	s.columns(c)
	s.updateMatrices(c)
	s.held[c.p], s.held[c.q] = s.held[c.q], s.held[c.p]
	t := s.t
	for _, e := range []struct {
		treatment, block int
		sign             float64
	}{{c.i, c.b, -1}, {c.j, c.b, 1}, {c.i, c.c, 1}, {c.j, c.c, -1}} {
		if e.treatment == free {
			continue
		}
		addTo(s.gn[e.block*t:(e.block+1)*t], e.sign, s.g[e.treatment*t:(e.treatment+1)*t])
		addTo(s.hn[e.block*t:(e.block+1)*t], e.sign, s.h[e.treatment*t:(e.treatment+1)*t])
	}
	if c.j == free {
		s.kappa[c.b]--
		s.kappa[c.c]++
	}
	for b := range s.b {
		s.gnn[b] = s.over(b, s.gn[b*t:(b+1)*t])
		s.hnn[b] = s.over(b, s.hn[b*t:(b+1)*t])
	}
	s.value -= c.gain
}

// columns sets v1, v2 to GU and z1, z2 to HU.
func (s *state) columns(c change) {
	t, kb, kc := s.t, 1/s.kappa[c.b], 1/s.kappa[c.c]
	fill := func(x, xn, first, second []float64) {
		rowI := x[c.i*t : (c.i+1)*t]
		rowB, rowC := xn[c.b*t:(c.b+1)*t], xn[c.c*t:(c.c+1)*t]
		if c.j == free {
			for a := range first {
				first[a] = rowI[a] - rowB[a]*kb
				second[a] = rowI[a] - rowC[a]*kc
			}
			return
		}
		rowJ := x[c.j*t : (c.j+1)*t]
		half := (kb + kc) / 2
		for a := range first {
			first[a] = rowJ[a] - rowI[a]
			second[a] = rowB[a]*kb - rowC[a]*kc + half*first[a]
		}
	}
	fill(s.g, s.gn, s.v1, s.v2)
	fill(s.h, s.hn, s.z1, s.z2)
}

// updateMatrices carries G, H, G n_b and H n_b over the change of rank two, the n_b
// as they were before it.
//
//	G += V M⁻¹ Vᵀ,  H += Z M⁻¹ Vᵀ + V M⁻¹ Zᵀ + V (M⁻¹ UᵀHU M⁻¹) Vᵀ,  V = GU, Z = HU
func (s *state) updateMatrices(c change) {
	t, m := s.t, c.minv
	// mk is M⁻¹ UᵀHU, kk is M⁻¹ UᵀHU M⁻¹.
	mk11, mk12 := m.a*c.k.a+m.ab*c.k.ab, m.a*c.k.ab+m.ab*c.k.b
	mk21, mk22 := m.ab*c.k.a+m.b*c.k.ab, m.ab*c.k.ab+m.b*c.k.b
	kk := pair{mk11*m.a + mk12*m.ab, mk11*m.ab + mk12*m.b, mk21*m.ab + mk22*m.b}
	// add adds to a row of G and of H what its products v = Vᵀx, z = Zᵀx ask for.
	add := func(g, h []float64, v1, v2, z1, z2 float64) {
		a1, a2 := m.a*v1+m.ab*v2, m.ab*v1+m.b*v2
		b1 := m.a*z1 + m.ab*z2 + kk.a*v1 + kk.ab*v2
		b2 := m.ab*z1 + m.b*z2 + kk.ab*v1 + kk.b*v2
		for i := range g {
			g[i] += a1*s.v1[i] + a2*s.v2[i]
			h[i] += a1*s.z1[i] + a2*s.z2[i] + b1*s.v1[i] + b2*s.v2[i]
		}
	}
	for i := range t {
		add(s.g[i*t:(i+1)*t], s.h[i*t:(i+1)*t], s.v1[i], s.v2[i], s.z1[i], s.z2[i])
	}
	for b := range s.b {
		add(s.gn[b*t:(b+1)*t], s.hn[b*t:(b+1)*t],
			s.over(b, s.v1), s.over(b, s.v2), s.over(b, s.z1), s.over(b, s.z2))
	}
}

func addTo(dst []float64, f float64, x []float64) {
	for i, v := range x {
		dst[i] += f * v
	}
}
