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
	cut    []cut.Board // those of them that are cut, or that have pieces at hand
}

// board is a source of pieces that resemble each other.
type board struct {
	name   string
	pieces int    // that it yields
	run    int    // pieces that lie one after the other along the grain: neighbours
	why    string // why it yields none
	cut    int    // index into the rack's cut, −1 where it is not cut
}

// piecesEach is the number of pieces in a specimen.
const piecesEach = 2

// places is the number of packs, of so many specimens side by side, that the board
// gives. The pieces of a pack lie in one run.
func (b *board) places(pack int) int {
	each := piecesEach * pack
	return b.pieces/b.run*(b.run/each) + b.pieces%b.run/each
}

// first is the number of the first piece of a pack, and of its board's pieces from
// 1.
func (b *board) first(pack, k int) int {
	each := piecesEach * pack
	inRun := b.run / each
	if inRun == 0 || k/inRun >= b.pieces/b.run {
		full := b.pieces / b.run
		return full*b.run + (k-full*inRun)*each + 1
	}
	return k/inRun*b.run + k%inRun*each + 1
}

// places is what the boards of a rack give together.
func (r *rack) places(pack int) int {
	n := 0
	for k := range r.boards {
		n += r.boards[k].places(pack)
	}
	return n
}

// workshop is what pieces are cut to, and how.
type workshop struct {
	piece cut.Piece
	saw   cut.Saw
	reuse cut.Reuse
}

// leastLoss is what cleaning the old adhesive off takes at the least, mm.
const leastLoss = 0.01

func newWorkshop(t *trialfile.Trial) workshop {
	c := t.Cutting
	return workshop{
		piece: cut.Piece{Length: float64(t.Specimen.Length), Width: float64(t.Specimen.Width), Thickness: float64(t.Specimen.Thickness)},
		// Boards thicker than two pieces are resawn with the same saw.
		saw:   cut.Saw{Kerf: float64(c.Kerf), Planing: float64(c.Planing), Resaw: true, ResawKerf: float64(c.Kerf)},
		reuse: cut.Reuse{Loss: max(float64(c.Planing), leastLoss), LeastThickness: float64(c.LeastThickness)},
	}
}

// stack finds out what the boards of a trial yield.
func stack(t *trialfile.Trial) ([]rack, error) {
	shop := newWorkshop(t)
	var racks []rack
	for _, w := range t.Woods {
		r := rack{wood: w.Name}
		for _, b := range t.Boards {
			switch {
			case b.Wood != w.Name:
			case b.Pieces > 0:
				r.boards = append(r.boards, board{name: b.Name, pieces: b.Pieces, run: b.Pieces, cut: -1})
			default:
				r.toCut(b.Name, cut.Board{Length: float64(b.Length), Width: float64(b.Width), Thickness: float64(b.Thickness)})
			}
		}
		for k, u := range t.Reused {
			if u.Wood != w.Name {
				continue
			}
			if err := sameJoint(t, u); err != nil {
				return nil, err
			}
			name := u.Board
			if name == "" {
				name = fmt.Sprintf("reused %d", k+1)
			}
			r.atHand(name, used(u, shop.piece))
		}
		if err := r.measure(shop); err != nil {
			return nil, err
		}
		racks = append(racks, r)
	}
	return racks, nil
}

// sameJoint refuses pieces whose thickness would change the bonded area.
func sameJoint(t *trialfile.Trial, u trialfile.Reused) error {
	after := u.Thickness - t.Cutting.Planing
	if t.Specimen.Joint != trialfile.Butt || after >= t.Specimen.Thickness {
		return nil
	}
	return fmt.Errorf("line %d: reused pieces of %s are %.4g mm thick when planed, and the bond of a butt joint goes by the thickness: %.4g mm less than the specimen's %.4g mm",
		u.Line, u.Wood, float64(after), float64(t.Specimen.Thickness-after), float64(t.Specimen.Thickness))
}

// used are pieces of an earlier trial as package cut sees them.
func used(u trialfile.Reused, piece cut.Piece) []cut.Used {
	pieces := make([]cut.Used, u.Pieces)
	for i := range pieces {
		pieces[i] = cut.Used{Length: piece.Length, Width: piece.Width, Thickness: float64(u.Thickness)}
	}
	return pieces
}

func (r *rack) toCut(name string, b cut.Board) {
	b.Name = name
	r.boards = append(r.boards, board{name: name, cut: len(r.cut)})
	r.cut = append(r.cut, b)
}

// atHand adds pieces to a board, which may have been on the rack already.
func (r *rack) atHand(name string, pieces []cut.Used) {
	for k := range r.boards {
		if b := &r.boards[k]; strings.EqualFold(b.name, name) && b.cut >= 0 {
			r.cut[b.cut].AtHand = append(r.cut[b.cut].AtHand, pieces...)
			return
		}
	}
	r.toCut(name, cut.Board{AtHand: pieces})
}

// measure finds out what the boards that are cut yield.
func (r *rack) measure(shop workshop) error {
	if len(r.cut) == 0 {
		return nil
	}
	all, err := cut.Make(r.cut, nil, shop.piece, shop.saw, shop.reuse)
	if err != nil {
		return fmt.Errorf("cutting %s: %w", r.wood, err)
	}
	for k := range r.boards {
		b := &r.boards[k]
		if b.cut < 0 {
			continue
		}
		p := &all.Boards[b.cut]
		b.pieces, b.run = p.Wanted, p.Grid.PerStrip
		if len(p.FromHand) > 0 || b.run == 0 {
			b.run = max(b.pieces, 1) // pieces at hand come first and have no neighbours
		}
		b.why = strings.Join(append(p.Retired, p.Grid.Why), "; ")
	}
	return nil
}

// cutList plans how the boards give what is wanted of them: pieces by board.
func (r *rack) cutList(shop workshop, wanted map[string]int) (*cut.Plan, error) {
	pieces := make([]int, len(r.cut))
	for _, b := range r.boards {
		if b.cut >= 0 {
			pieces[b.cut] = wanted[b.name]
		}
	}
	c, err := cut.Make(r.cut, pieces, shop.piece, shop.saw, shop.reuse)
	if err != nil {
		return nil, fmt.Errorf("cutting %s: %w", r.wood, err)
	}
	return c, nil
}
