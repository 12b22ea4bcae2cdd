package cut

import "fmt"

// Box is a part of a board, mm: from one corner to the opposite one, along the
// grain, across it, and in the thickness.
type Box struct{ From, To [3]float64 }

// Size returns the lengths of the sides, mm.
func (b Box) Size() (s [3]float64) {
	for d := range s {
		s[d] = b.To[d] - b.From[d]
	}
	return s
}

// Volume returns the volume, mm³.
func (b Box) Volume() float64 {
	s := b.Size()
	return s[0] * s[1] * s[2]
}

// CutKind is a step of cutting.
type CutKind int

const (
	TrimEnd  CutKind = iota // an end of the board
	TrimEdge                // a long edge of the board
	Rip                     // a strip off the board
	Resaw                   // a layer off a strip
	Crosscut                // a piece off a layer
	Plane                   // a piece to its thickness
)

// String returns the step in the words of the trade.
func (k CutKind) String() string {
	switch k {
	case TrimEnd:
		return "trim end"
	case TrimEdge:
		return "trim edge"
	case Rip:
		return "rip"
	case Resaw:
		return "resaw"
	case Crosscut:
		return "crosscut"
	case Plane:
		return "plane"
	}
	return "unknown cut"
}

// Cut is one step and the wood it turns into dust and shavings.
type Cut struct {
	Kind  CutKind
	Strip int // from 1; 0: the whole board
	Layer int // of the strip, from 1; 0: the whole strip
	Piece int // from 1, as in Layout.Pieces; 0: no single one
	Waste Box
}

// Offcut is wood that is left over in one part.
type Offcut struct {
	Where  string // which part of the board
	Box    Box
	Pieces int // how many further pieces it would yield, not trimmed again unless it is the whole board
}

// Layout is how one board is cut. Pieces, the waste of the cuts and the offcuts fill
// the board exactly and do not overlap.
type Layout struct {
	Pieces  []Box
	Cuts    []Cut // in the order they are made
	Offcuts []Offcut
}

// block is a box in micrometres.
type block struct{ from, to size }

func (b block) box() (x Box) {
	for d := range 3 {
		x.From[d], x.To[d] = millimetre(b.from[d]), millimetre(b.to[d])
	}
	return x
}

// split parts the block at a place in one direction.
func (b block) split(d int, at int64) (low, high block) {
	low, high = b, b
	low.to[d], high.from[d] = at, at
	return low, high
}

// saw lays out one board.
type saw struct {
	shop
	grid   Grid
	wanted int // pieces still to be cut
	layout Layout
}

// lay cuts so many pieces from a board that yields at least so many.
func (h shop) lay(wood size, g Grid, wanted int) Layout {
	w := &saw{shop: h, grid: g, wanted: wanted}
	if wanted == 0 {
		if wood != (size{}) {
			w.layout.Offcuts = []Offcut{{"the whole board", block{to: wood}.box(), g.Pieces()}}
		}
		return w.layout
	}
	board := block{to: wood}
	for d, kind := range []CutKind{TrimEnd, TrimEdge} {
		if h.trim[d] > 0 {
			var low, high block
			low, board = board.split(d, h.trim[d])
			board, high = board.split(d, wood[d]-h.trim[d])
			w.cut(kind, 0, 0, 0, low)
			w.cut(kind, 0, 0, 0, high)
		}
	}
	type numbered struct {
		block
		n int
	}
	var strips []numbered
	perStrip := g.Layers * g.PerStrip
	for n := 1; n <= (wanted+perStrip-1)/perStrip; n++ {
		var strip block
		strip, board = w.part(across, Rip, n, 0, board)
		strips = append(strips, numbered{strip, n})
	}
	w.left("beside the strips", board)
	for _, s := range strips {
		w.strip(s.block, s.n)
	}
	return w.layout
}

// part takes a rough piece's size off a block and returns it and what is left after
// the kerf.
func (w *saw) part(d int, kind CutKind, strip, layer int, b block) (part, rest block) {
	part, rest = b.split(d, b.from[d]+w.rough[d])
	if rest.to[d] > rest.from[d] {
		var kerf block
		kerf, rest = rest.split(d, min(rest.from[d]+w.kerf[d], rest.to[d]))
		w.cut(kind, strip, layer, 0, kerf)
	}
	return part, rest
}

// strip resaws a strip into the layers that are needed and crosscuts them.
func (w *saw) strip(b block, n int) {
	var layers []block
	need := (min(w.wanted, w.grid.Layers*w.grid.PerStrip) + w.grid.PerStrip - 1) / w.grid.PerStrip
	for len(layers) < need {
		over := b.to[thick] - b.from[thick] - w.rough[thick]
		if !w.resaw || over <= w.kerf[thick] {
			layers = append(layers, b) // what is over is planed away
			b.from[thick] = b.to[thick]
			break
		}
		var layer block
		layer, b = w.part(thick, Resaw, n, len(layers)+1, b)
		layers = append(layers, layer)
	}
	w.left(fmt.Sprintf("strip %d, in the thickness", n), b)
	for k, l := range layers {
		w.layer(l, n, k+1)
	}
}

// layer crosscuts a layer into pieces and planes them.
func (w *saw) layer(b block, strip, layer int) {
	for range min(w.wanted, w.grid.PerStrip) {
		var rough block
		rough, b = w.part(along, Crosscut, strip, layer, b)
		piece, shavings := rough.split(thick, rough.from[thick]+w.piece[thick])
		w.layout.Pieces = append(w.layout.Pieces, piece.box())
		w.cut(Plane, strip, layer, len(w.layout.Pieces), shavings)
		w.wanted--
	}
	w.left(fmt.Sprintf("strip %d, layer %d, at its end", strip, layer), b)
}

// cut notes a step. Planing that takes nothing is no step; a cut without kerf is one.
func (w *saw) cut(kind CutKind, strip, layer, piece int, b block) {
	if kind == Plane && b.from[thick] == b.to[thick] {
		return
	}
	w.layout.Cuts = append(w.layout.Cuts, Cut{kind, strip, layer, piece, b.box()})
}

// left notes an offcut, if there is anything of it.
func (w *saw) left(where string, b block) {
	further := int64(1)
	for d := range 3 {
		room := b.to[d] - b.from[d]
		if room <= 0 {
			return
		}
		further *= w.count(d, room)
	}
	w.layout.Offcuts = append(w.layout.Offcuts, Offcut{where, b.box(), int(further)})
}
