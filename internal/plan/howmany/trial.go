package howmany

import (
	"math"
	"math/rand/v2"
)

// layout is which specimen of a wood is what: the cell and the board of each
// reading. Cells go by combination, then adhesive.
type layout struct {
	cells, boards int
	cell, board   []int
}

// boardsFor returns how many boards of a wood carry n specimens in each of its
// cells, and how many are missing. No more are used than there are specimens in a
// cell, so that a board holds every cell, unless a board yields too few.
func (w *Wood) boardsFor(n, cells int) (use, short int) {
	if w.Boards == 0 {
		return 0, 0
	}
	need := 1
	if w.PerBoard > 0 {
		need = (n*cells + w.PerBoard - 1) / w.PerBoard
	}
	return max(need, min(w.Boards, n)), max(0, need-w.Boards)
}

// newLayout deals specimens to boards: each goes to a board with room that holds
// its cell least often, then to the one whose specimens its cell has met least
// often, then to the emptiest. It is a plain rule that gives complete blocks where
// they are possible and connected, nearly balanced ones else.
func newLayout(n, cells, boards int) layout {
	l := layout{cells: cells, boards: boards}
	room := math.MaxInt
	if boards > 0 {
		room = (n*cells + boards - 1) / boards
	}
	on := make([][]int, boards) // board, cell: how many
	load := make([]int, boards)
	for b := range on {
		on[b] = make([]int, cells)
	}
	met := make([][]int, cells)
	for c := range met {
		met[c] = make([]int, cells)
	}
	for r := range n {
		for k := range cells {
			c := (k + r) % cells
			best, least := -1, math.Inf(1)
			for b := range boards {
				if load[b] >= room {
					continue
				}
				meets := 0
				for o, m := range on[b] {
					if o != c {
						meets += m * met[c][o]
					}
				}
				if cost := 1e8*float64(on[b][c]) + 1e3*float64(meets) + float64(load[b]); cost < least {
					best, least = b, cost
				}
			}
			l.cell = append(l.cell, c)
			l.board = append(l.board, max(best, 0))
			if best < 0 {
				continue
			}
			for o, m := range on[best] {
				met[c][o] += m
				met[o][c] += m
			}
			on[best][c]++
			load[best]++
		}
	}
	return l
}

// design is one trial to simulate and judge, for one n.
type design struct {
	adhesives, combos, n int
	woods                []layout
	groups               int  // of scatters
	boardTerm            bool // the model has one
	pairs                []pair
	families             [][]int // indices into pairs
	margin               float64
	shape                shape
	crit, t95, t90       *factor

	truth
}

// truth is what the readings are drawn from, logarithms all.
type truth struct {
	bond         []float64 // adhesive
	sd           []float64 // adhesive
	wood, woodSD []float64 // wood
	boardSD, rig float64
}

// pair is two cells of a wood, a the one with the lower index.
type pair struct{ wood, a, b int }

// newDesign lays out a trial. The input is filled.
func newDesign(in *Input, n int) *design {
	d := &design{adhesives: len(in.Adhesives), combos: in.Combinations, n: n, groups: len(in.Adhesives), margin: math.Log1p(in.Margin)}
	if in.PooledScatter {
		d.groups = 1
	}
	cells := d.adhesives * d.combos
	levels, repeated, crossed := 0, false, false
	control := in.index(in.Control)
	for w := range in.Woods {
		boards, _ := in.Woods[w].boardsFor(n, cells)
		l := newLayout(n, cells, boards)
		d.woods = append(d.woods, l)
		levels += max(boards, 1)
		repeated = repeated || boards < n*cells
		crossed = crossed || boards > 1 && l.crossed()
		for c := range d.combos {
			var family []int
			for i := range d.adhesives {
				for j := i + 1; j < d.adhesives; j++ {
					if control < 0 || i == control || j == control {
						family = append(family, len(d.pairs))
						d.pairs = append(d.pairs, pair{w, c*d.adhesives + i, c*d.adhesives + j})
					}
				}
			}
			d.families = append(d.families, family)
		}
	}
	// The engine's rule for a term that can be told from the rest.
	d.boardTerm = levels > 1 && repeated && crossed
	together := 1
	if in.AllWoods {
		together = len(d.families)
		var all []int
		for _, f := range d.families {
			all = append(all, f...)
		}
		d.families = [][]int{all}
	}
	d.shape = shape{d.adhesives, control >= 0, together, 0.95}
	d.crit = factorOf(d.shape)
	d.t95 = factorOf(shape{2, false, 1, 0.95})
	d.t90 = factorOf(shape{2, false, 1, 0.90})
	return d
}

// crossed reports whether some cell is on more than one board.
func (l *layout) crossed() bool {
	first := make(map[int]int)
	for i, c := range l.cell {
		if b, ok := first[c]; ok && b != l.board[i] {
			return true
		}
		first[c] = l.board[i]
	}
	return false
}

// expect sets the truth: the probed pair at the given ratio about their middle.
func (d *design) expect(in *Input, ratio float64) {
	t := truth{boardSD: in.BoardSD, rig: math.Inf(1)}
	if in.RigLimit > 0 {
		t.rig = math.Log(in.RigLimit)
	}
	for _, a := range in.Adhesives {
		t.bond = append(t.bond, math.Log(in.Level*a.Relative))
		t.sd = append(t.sd, a.SD)
	}
	for _, w := range in.Woods {
		t.wood = append(t.wood, math.Log(w.Strength))
		t.woodSD = append(t.woodSD, w.SD)
	}
	a, b := in.index(in.Pair[0]), in.index(in.Pair[1])
	middle := 0.5 * (t.bond[a] + t.bond[b])
	up := 0.5 * math.Log(ratio)
	if t.bond[a] < t.bond[b] {
		up = -up
	}
	t.bond[a], t.bond[b] = middle+up, middle-up
	d.truth = t
}

// shareLimited is the expected share of a wood's specimens that the wood ends
// before the rig does. Bond and wood are normal and independent, so that without a
// rig's limit it is Φ of their distance over the root of their variances; the
// limit needs an integral.
func (d *design) shareLimited(w int) float64 {
	sum := 0.0
	for a := range d.adhesives {
		sum += d.limitedOf(a, w)
	}
	return sum / float64(d.adhesives)
}

// limitedOf is that share of one adhesive.
func (d *design) limitedOf(a, w int) float64 {
	return limited(d.bond[a], math.Hypot(d.sd[a], d.boardSD), d.wood[w], math.Hypot(d.woodSD[w], d.boardSD), d.rig)
}

// stoppedOf is the expected share of an adhesive's specimens that the rig stops.
func (d *design) stoppedOf(a, w int) float64 {
	return upper((d.rig-d.bond[a])/math.Hypot(d.sd[a], d.boardSD)) * upper((d.rig-d.wood[w])/math.Hypot(d.woodSD[w], d.boardSD))
}

// limited is P(Y < X and Y < rig) for X ~ N(bond, s), Y ~ N(wood, t).
func limited(bond, s, wood, t, rig float64) float64 {
	if math.IsInf(wood, 1) {
		return 0
	}
	if math.IsInf(rig, 1) {
		return upper((wood - bond) / math.Hypot(s, t))
	}
	// The trapezoidal rule in y; its ends are negligible or at the rig's limit.
	const steps = 2000
	lo, hi := wood-9*t, min(rig, wood+9*t)
	if hi <= lo {
		return 0
	}
	h, sum := (hi-lo)/steps, 0.0
	for i := range steps + 1 {
		y := lo + float64(i)*h
		z := (y - wood) / t
		f := math.Exp(-0.5*z*z) / (t * math.Sqrt(2*math.Pi)) * upper((y-bond)/s)
		if i == 0 || i == steps {
			f *= 0.5
		}
		sum += f
	}
	return sum * h
}

// upper is the normal probability above z.
func upper(z float64) float64 { return 0.5 * math.Erfc(z/math.Sqrt2) }

// observed is what the breaks of a wood gave: log strengths, and which of them are
// lower bounds, by the wood or by the rig.
type observed struct {
	y     []float64
	bound []bool
	wood  int // how many the wood ended
}

// draw simulates the breaks of all woods.
func (d *design) draw(rng *rand.Rand, out []observed) {
	for w := range d.woods {
		l, o := &d.woods[w], &out[w]
		n := len(l.cell)
		if len(o.y) != n {
			o.y, o.bound = make([]float64, n), make([]bool, n)
		}
		shift := make([]float64, 2*max(l.boards, 1))
		if l.boards > 0 {
			for b := range shift {
				shift[b] = d.boardSD * rng.NormFloat64()
			}
		}
		o.wood = 0
		for i, c := range l.cell {
			a, b := c%d.adhesives, l.board[i]
			if l.boards == 0 {
				// Boards are not kept apart: every specimen has one of its own.
				shift[0], shift[1] = d.boardSD*rng.NormFloat64(), d.boardSD*rng.NormFloat64()
			}
			bond := d.bond[a] + shift[2*b] + d.sd[a]*rng.NormFloat64()
			wood := d.wood[w] + shift[2*b+1] + d.woodSD[w]*rng.NormFloat64()
			o.y[i], o.bound[i] = bond, wood < bond
			if wood < bond {
				o.y[i] = wood
			}
			if o.y[i] >= d.rig {
				o.y[i], o.bound[i] = d.rig, true
			} else if wood < bond {
				o.wood++
			}
		}
	}
}

// source returns the randomness of one trial: it depends on the seed, on n, on
// the arm and on the trial's number, and on nothing else.
func source(seed uint64, n, arm, trial int) *rand.Rand {
	return rand.New(rand.NewPCG(mix(seed), mix(uint64(trial)<<24^uint64(n)<<4^uint64(arm))))
}

// mix spreads neighbouring numbers over all (the finalizer of SplitMix64: Steele,
// Lea and Flood 2014).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}
