package cut

import (
	"fmt"
	"math"
)

// Piece is the size of the pieces wanted, mm: after planing.
type Piece struct{ Length, Width, Thickness float64 }

// Board is a piece of wood that pieces are cut from, mm as it lies there, and the
// pieces that are at hand from it already.
type Board struct {
	Name                     string
	Length, Width, Thickness float64 // all three 0: only pieces at hand are left of it
	AtHand                   []Used
}

// Saw says what cutting costs, mm.
type Saw struct {
	Kerf      float64 // of ripping and crosscutting
	EndTrim   float64 // lost at each end of a board, the kerf of that cut included
	EdgeTrim  float64 // lost at each long edge, likewise
	Planing   float64 // thickness lost by planing a piece, both faces together; at least so much is planed
	Resaw     bool    // whether a board thicker than a piece may be resawn
	ResawKerf float64
}

// Grid is how a board is divided.
type Grid struct {
	Strips   int    // across the width
	Layers   int    // in the thickness
	PerStrip int    // pieces along one layer of a strip
	Why      string // what is short and by how much, where there are none
}

// Pieces returns how many pieces the board yields.
func (g Grid) Pieces() int { return g.Strips * g.Layers * g.PerStrip }

// mostPieces is the number of pieces from one board above which its size or the
// piece's is taken for a mistake.
const mostPieces = 100_000

// longest is the length in mm above which a length is taken for a mistake.
const longest = 100_000

// size is a piece, a board or a saw in whole micrometres, by direction: along the
// grain, across it, in the thickness.
type size [3]int64

const (
	along = iota
	across
	thick
)

func micron(mm float64) int64 { return int64(math.Round(mm * 1000)) }

func millimetre(um int64) float64 { return float64(um) / 1000 }

// say writes a length in mm without needless digits.
func say(um int64) string { return fmt.Sprintf("%g mm", millimetre(um)) }

// shop is a piece and a saw in whole micrometres.
type shop struct {
	piece size
	rough size // as cut, before planing
	kerf  size // between two pieces
	trim  size // at each end
	resaw bool
}

// checked turns a piece and a saw into micrometres, or says what is wrong with them.
func checked(p Piece, s Saw) (shop, error) {
	for _, l := range []struct {
		name  string
		mm    float64
		least int64 // µm
	}{
		{"length of a piece", p.Length, 1}, {"width of a piece", p.Width, 1}, {"thickness of a piece", p.Thickness, 1},
		{"saw kerf", s.Kerf, 0}, {"end trim", s.EndTrim, 0}, {"edge trim", s.EdgeTrim, 0}, {"planing loss", s.Planing, 0}, {"resaw kerf", s.ResawKerf, 0},
	} {
		if err := inRange(l.name, l.mm, l.least); err != nil {
			return shop{}, err
		}
	}
	h := shop{
		piece: size{micron(p.Length), micron(p.Width), micron(p.Thickness)},
		kerf:  size{micron(s.Kerf), micron(s.Kerf), micron(s.ResawKerf)},
		trim:  size{micron(s.EndTrim), micron(s.EdgeTrim), 0},
		resaw: s.Resaw,
	}
	h.rough = h.piece
	h.rough[thick] += micron(s.Planing)
	return h, nil
}

func inRange(name string, mm float64, least int64) error {
	if !(mm >= 0) || mm > longest || micron(mm) < least {
		return fmt.Errorf("the %s is %g mm: it must be at least %g and at most %d mm", name, mm, millimetre(least), longest)
	}
	return nil
}

// sized turns a board into micrometres; the zero size where nothing is left of it.
func sized(b Board) (size, error) {
	if b.Length == 0 && b.Width == 0 && b.Thickness == 0 {
		return size{}, nil
	}
	for _, l := range []struct {
		name string
		mm   float64
	}{{"length", b.Length}, {"width", b.Width}, {"thickness", b.Thickness}} {
		if err := inRange(l.name+" of board "+b.Name, l.mm, 1); err != nil {
			return size{}, err
		}
	}
	return size{micron(b.Length), micron(b.Width), micron(b.Thickness)}, nil
}

// Yield returns how a board is divided into pieces, as many as it can yield. A board
// that is too small yields none and Why says in which direction it is short. Errors
// are lengths that are negative, not a number or above 100 m, and more than 100,000
// pieces from one board.
func Yield(b Board, p Piece, s Saw) (Grid, error) {
	h, err := checked(p, s)
	if err != nil {
		return Grid{}, err
	}
	wood, err := sized(b)
	if err != nil {
		return Grid{}, err
	}
	return h.grid(b.Name, wood)
}

var direction = [3]string{"length", "width", "thickness"}

// grid divides a board.
func (h shop) grid(name string, wood size) (Grid, error) {
	if wood == (size{}) {
		return Grid{Why: fmt.Sprintf("nothing is left of board %s to cut", name)}, nil
	}
	var n [3]int64
	for d := range n {
		n[d] = h.count(d, wood[d]-2*h.trim[d])
		if n[d] == 0 {
			need := h.rough[d] + 2*h.trim[d]
			what := "a piece"
			switch {
			case d == thick && h.rough[d] > h.piece[d]:
				what += " with its planing loss"
			case h.trim[d] > 0:
				what += " with the trim at both sides"
			}
			return Grid{Why: fmt.Sprintf("board %s has a %s of %s and %s needs %s: %s short", name, direction[d], say(wood[d]), what, say(need), say(need-wood[d]))}, nil
		}
	}
	if n[across] > mostPieces || n[thick] > mostPieces || n[along] > mostPieces || n[across]*n[thick] > mostPieces || n[across]*n[thick]*n[along] > mostPieces {
		return Grid{}, fmt.Errorf("board %s would yield more than %d pieces: check the sizes of the board and of the piece", name, mostPieces)
	}
	return Grid{Strips: int(n[across]), Layers: int(n[thick]), PerStrip: int(n[along])}, nil
}

// count returns how many rough pieces with kerfs between them lie in so much wood.
func (h shop) count(d int, room int64) int64 {
	if room < h.rough[d] {
		return 0
	}
	if d == thick && !h.resaw {
		return 1
	}
	return (room + h.kerf[d]) / (h.rough[d] + h.kerf[d])
}
