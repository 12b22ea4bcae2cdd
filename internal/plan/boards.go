package plan

import (
	"fmt"
	"strings"

	"bondtrial/internal/plan/cut"
	"bondtrial/internal/plan/trialfile"
)

// rack is what there is of one wood.
type rack struct {
	wood   string
	boards []board
}

// board is a source of pieces that resemble each other.
type board struct {
	name   string
	pieces int    // that it yields
	why    string // why it yields none
	cut    int    // index into the cut list's boards, −1 where it is not cut
}

// piecesEach is the number of pieces in a specimen.
const piecesEach = 2

// places is the number of packs, of so many specimens side by side, that the
// boards can give.
func (r *rack) places(pack int) int {
	n := 0
	for _, b := range r.boards {
		n += b.pieces / (piecesEach * pack)
	}
	return n
}

// stack finds out what the boards of a trial yield.
func (p *Plan) stack() ([]rack, error) {
	t := p.Trial
	piece := cut.Piece{Length: float64(t.Specimen.Length), Width: float64(t.Specimen.Width), Thickness: float64(t.Specimen.Thickness)}
	c := t.Cutting
	// Boards thicker than two pieces are resawn with the same saw.
	p.saw = cut.Saw{Kerf: float64(c.Kerf), Planing: float64(c.Planing), Resaw: true, ResawKerf: float64(c.Kerf)}
	p.reuse = cut.Reuse{Loss: float64(c.Planing), LeastThickness: float64(c.LeastThickness)}
	p.piece = piece
	var racks []rack
	for _, w := range t.Woods {
		r := rack{wood: w.Name}
		for _, b := range t.Boards {
			if b.Wood != w.Name {
				continue
			}
			if b.Pieces > 0 {
				r.boards = append(r.boards, board{b.Name, b.Pieces, "", -1})
				continue
			}
			if err := p.toCut(&r, b.Name, cut.Board{Name: w.Name + " " + b.Name,
				Length: float64(b.Length), Width: float64(b.Width), Thickness: float64(b.Thickness)}); err != nil {
				return nil, err
			}
		}
		for k, u := range t.Reused {
			if u.Wood != w.Name {
				continue
			}
			name := u.Board
			if name == "" {
				name = fmt.Sprintf("reused %d", k+1)
			}
			if err := p.toCut(&r, name, cut.Board{Name: w.Name + " " + name, AtHand: used(u, piece)}); err != nil {
				return nil, err
			}
		}
		racks = append(racks, r)
	}
	return racks, nil
}

// used are pieces of an earlier trial as package cut sees them.
func used(u trialfile.Reused, piece cut.Piece) []cut.Used {
	pieces := make([]cut.Used, u.Pieces)
	for i := range pieces {
		pieces[i] = cut.Used{Name: fmt.Sprint(i + 1), Length: piece.Length, Width: piece.Width, Thickness: float64(u.Thickness)}
	}
	return pieces
}

// toCut puts a board on the cut list and on the rack.
func (p *Plan) toCut(r *rack, name string, b cut.Board) error {
	all, err := cut.Make([]cut.Board{b}, nil, p.piece, p.saw, p.reuse)
	if err != nil {
		return fmt.Errorf("cutting: %w", err)
	}
	for k := range r.boards {
		if strings.EqualFold(r.boards[k].name, name) {
			return fmt.Errorf("on %s two boards are called %s: give one another name", r.wood, name)
		}
	}
	r.boards = append(r.boards, board{name, all.Pieces, strings.Join(append(all.Boards[0].Retired, all.Boards[0].Grid.Why), "; "), len(p.boards)})
	p.boards = append(p.boards, b)
	return nil
}

// cutList plans how the boards that are cut give what is wanted of them.
func (p *Plan) cutList(racks []rack, wanted map[[2]string]int) error {
	if len(p.boards) == 0 {
		return nil
	}
	pieces := make([]int, len(p.boards))
	for _, r := range racks {
		for _, b := range r.boards {
			if b.cut >= 0 {
				pieces[b.cut] = wanted[[2]string{r.wood, b.name}]
			}
		}
	}
	var err error
	if p.Cut, err = cut.Make(p.boards, pieces, p.piece, p.saw, p.reuse); err != nil {
		return fmt.Errorf("cutting: %w", err)
	}
	return nil
}
