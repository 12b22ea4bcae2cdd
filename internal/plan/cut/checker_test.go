package cut_test

import (
	"fmt"
	"math"

	"bondtrial/internal/plan/cut"
)

// part is a box in whole micrometres.
type part struct{ from, to [3]int64 }

func toPart(b cut.Box) (p part) {
	for d := range 3 {
		p.from[d] = int64(math.Round(b.From[d] * 1000))
		p.to[d] = int64(math.Round(b.To[d] * 1000))
	}
	return p
}

func (p part) empty() bool {
	return p.from[0] >= p.to[0] || p.from[1] >= p.to[1] || p.from[2] >= p.to[2]
}

func (p part) volume() int64 {
	return (p.to[0] - p.from[0]) * (p.to[1] - p.from[1]) * (p.to[2] - p.from[2])
}

func (p part) overlaps(q part) bool {
	for d := range 3 {
		if p.from[d] >= q.to[d] || q.from[d] >= p.to[d] {
			return false
		}
	}
	return !p.empty() && !q.empty()
}

func (p part) within(q part) bool {
	for d := range 3 {
		if p.from[d] < q.from[d] || p.to[d] > q.to[d] {
			return false
		}
	}
	return true
}

// faults checks the layout of a board from the sizes alone, sharing nothing with the
// code that made it: the pieces have the right size, nothing overlaps or lies
// outside the board, everything together is the board, and the cuts, carried out in
// their order and each right through what is left of a part, give exactly the pieces
// and the offcuts.
func faults(b cut.Board, p cut.Piece, s cut.Saw, l cut.Layout) (list []string) {
	fault := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	board := toPart(cut.Box{To: [3]float64{b.Length, b.Width, b.Thickness}})
	want := toPart(cut.Box{To: [3]float64{p.Length, p.Width, p.Thickness}})
	var all []part
	kept := make(map[part]int)
	for _, x := range l.Pieces {
		q := toPart(x)
		for d := range 3 {
			if q.to[d]-q.from[d] != want.to[d] {
				fault("a piece of %v mm", x.Size())
			}
		}
		all = append(all, q)
	}
	for _, o := range l.Offcuts {
		all = append(all, toPart(o.Box))
		if toPart(o.Box).empty() {
			fault("an offcut of nothing: %s", o.Where)
		}
	}
	for _, q := range all {
		kept[q]++
	}
	for _, c := range l.Cuts {
		all = append(all, toPart(c.Waste))
	}
	var total int64
	for i, q := range all {
		total += q.volume()
		if !q.within(board) {
			fault("%v lies outside the board", q)
		}
		for _, r := range all[:i] {
			if q.overlaps(r) {
				fault("%v and %v overlap", q, r)
			}
		}
	}
	if total != board.volume() {
		fault("pieces, waste and offcuts have %d µm³, the board %d", total, board.volume())
	}
	return append(list, carryOut(board, s, l, kept)...)
}

// carryOut makes the cuts one after the other.
func carryOut(board part, s cut.Saw, l cut.Layout, kept map[part]int) (list []string) {
	fault := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	parts := []part{board}
	for _, c := range l.Cuts {
		q := toPart(c.Waste)
		d, kerf := 0, s.Kerf
		switch c.Kind {
		case cut.TrimEnd:
			kerf = s.EndTrim
		case cut.TrimEdge:
			d, kerf = 1, s.EdgeTrim
		case cut.Rip:
			d = 1
		case cut.Resaw:
			d, kerf = 2, s.ResawKerf
		case cut.Plane:
			d, kerf = 2, math.Inf(1)
		}
		at := -1
		for i, r := range parts {
			through := q.within(r)
			for e := range 3 {
				through = through && (e == d || q.from[e] == r.from[e] && q.to[e] == r.to[e])
			}
			if through && (q.from[d] > r.from[d] || q.to[d] < r.to[d]) && (!q.empty() || q.from[d] > r.from[d] && q.to[d] < r.to[d]) {
				at = i
			}
		}
		if at < 0 {
			fault("%v %v goes through no part", c.Kind, c.Waste)
			return list
		}
		r := parts[at]
		width := q.to[d] - q.from[d]
		if full := int64(math.Round(kerf * 1000)); width > full && c.Kind != cut.Plane || width < full && q.to[d] != r.to[d] {
			fault("%v takes %d µm, want %v mm", c.Kind, width, kerf)
		}
		low, high := r, r
		low.to[d], high.from[d] = q.from[d], q.to[d]
		parts = append(parts[:at], parts[at+1:]...)
		for _, x := range []part{low, high} {
			if !x.empty() {
				parts = append(parts, x)
			}
		}
	}
	for _, x := range parts {
		if kept[x]--; kept[x] < 0 {
			fault("the cuts leave %v, which is neither a piece nor an offcut", x)
		}
	}
	for x, n := range kept {
		if n > 0 {
			fault("the cuts do not give %v", x)
		}
	}
	return list
}
