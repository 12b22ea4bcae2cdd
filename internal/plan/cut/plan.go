package cut

import (
	"fmt"
	"sort"
	"strings"
)

// Plan is how all boards are cut.
type Plan struct {
	Boards       []BoardPlan // in the order given
	Pieces       int         // pieces provided, from hand and cut
	Used         int         // boards that are cut
	FewestBoards int         // boards that would have to be cut at the least if every piece might come from any board
	Waste        float64     // mm³ of dust and shavings
	LeastWaste   float64     // mm³ that no way of cutting these pieces from these boards can go below
}

// BoardPlan is how one board is cut.
type BoardPlan struct {
	Board      Board
	Grid       Grid     // what the board yields in full
	Uses       []int    // further uses of each piece at hand, by its index in Board.AtHand
	Retired    []string // why pieces at hand have no further use, one line for each of them
	Wanted     int      // pieces wanted
	FromHand   []int    // indices into Board.AtHand of the pieces taken, each for one use
	Cut        int      // pieces cut
	Left       int      // pieces that can still be cut afterwards
	Layout     Layout   // of the pieces that are cut
	Waste      float64  // mm³ of dust and shavings
	LeastWaste float64  // mm³ that no way of cutting so many pieces from this board can go below
	Note       string   // what should be thought over; empty: nothing
}

// Shortage is a board of which more is wanted than it has.
type Shortage struct {
	Board   string
	Wanted  int    // pieces wanted
	Yield   int    // pieces that can be cut
	Hand    int    // pieces at hand that have a use left
	Retired int    // pieces at hand that have none
	Why     string // why nothing can be cut; empty where something can
}

// Short returns by how many pieces the board is short.
func (s Shortage) Short() int { return s.Wanted - s.Yield - s.Hand }

// ShortError says which boards are short and by how much.
type ShortError []Shortage

// Error lists the boards, one on a line.
func (e ShortError) Error() string {
	var lines []string
	for _, s := range e {
		l := fmt.Sprintf("board %s: %d pieces wanted, it yields %d", s.Board, s.Wanted, s.Yield)
		if s.Hand > 0 || s.Retired > 0 {
			l += fmt.Sprintf(" and has %d at hand", s.Hand)
		}
		if s.Retired > 0 {
			l += fmt.Sprintf(" (and %d too worn or too small)", s.Retired)
		}
		l += fmt.Sprintf(": %d short", s.Short())
		if s.Why != "" {
			l += " (" + s.Why + ")"
		}
		lines = append(lines, l)
	}
	return strings.Join(lines, "\n")
}

// stock is a board with what it can give.
type stock struct {
	board   Board
	wood    size
	grid    Grid
	uses    []int
	hand    []int // indices of pieces at hand with a use left
	retired []string
}

// Make plans how the pieces wanted from each board are provided: from those at hand
// in the order they are listed, then by cutting. A nil wanted asks for all that every
// board can give. Reuse matters only where pieces are at hand.
//
// It panics where wanted is not as long as boards or holds a negative number. Errors
// are a [ShortError] where more is wanted of boards than they have, two boards of one
// name, and lengths that cannot be (see [Yield] and [Uses]).
func Make(boards []Board, wanted []int, p Piece, s Saw, r Reuse) (*Plan, error) {
	if wanted != nil && len(wanted) != len(boards) {
		panic("cut: wanted and boards differ in length")
	}
	h, stocks, err := take(boards, p, s, r)
	if err != nil {
		return nil, err
	}
	plan := new(Plan)
	var short ShortError
	for i, k := range stocks {
		want := k.grid.Pieces() + len(k.hand)
		if wanted != nil {
			want = wanted[i]
		}
		if want < 0 {
			panic("cut: a negative number of pieces is wanted")
		}
		if want > k.grid.Pieces()+len(k.hand) {
			short = append(short, Shortage{k.board.Name, want, k.grid.Pieces(), len(k.hand), len(k.retired), k.grid.Why})
			continue
		}
		b := h.provide(k, want)
		plan.Boards = append(plan.Boards, b)
		plan.Pieces += want
		plan.Waste += b.Waste
		plan.LeastWaste += b.LeastWaste
		if b.Cut > 0 {
			plan.Used++
		}
	}
	if short != nil {
		return nil, short
	}
	_, plan.FewestBoards, _ = fewest(stocks, plan.Pieces)
	return plan, nil
}

// take looks at every board and every piece at hand.
func take(boards []Board, p Piece, s Saw, r Reuse) (h shop, stocks []stock, err error) {
	if h, err = checked(p, s); err != nil {
		return h, nil, err
	}
	seen := make(map[string]bool)
	for _, b := range boards {
		if seen[b.Name] {
			return h, nil, fmt.Errorf("two boards are named %s: give each a name of its own", b.Name)
		}
		seen[b.Name] = true
		k := stock{board: b}
		if k.wood, err = sized(b); err != nil {
			return h, nil, err
		}
		if k.grid, err = h.grid(b.Name, k.wood); err != nil {
			return h, nil, err
		}
		for i, u := range b.AtHand {
			n, why, err := Uses(u, p, r)
			if err != nil {
				return h, nil, fmt.Errorf("board %s: %w", b.Name, err)
			}
			k.uses = append(k.uses, n)
			if n > 0 {
				k.hand = append(k.hand, i)
			} else {
				k.retired = append(k.retired, why)
			}
		}
		stocks = append(stocks, k)
	}
	return h, stocks, nil
}

// provide cuts one board of which no more is wanted than it has.
func (h shop) provide(k stock, want int) BoardPlan {
	fromHand := k.hand[:min(want, len(k.hand))]
	b := BoardPlan{Board: k.board, Grid: k.grid, Uses: k.uses, Retired: k.retired, Wanted: want, FromHand: fromHand, Cut: want - len(fromHand)}
	b.Left = k.grid.Pieces() - b.Cut
	b.Layout = h.lay(k.wood, k.grid, b.Cut)
	for _, c := range b.Layout.Cuts {
		b.Waste += c.Waste.Volume()
	}
	b.LeastWaste = h.leastWaste(k.wood, b.Cut)
	if !h.resaw && b.Cut > 0 && k.wood[thick] >= 2*h.rough[thick] {
		b.Note = fmt.Sprintf("board %s is %s thick and a piece %s: %s of each piece are planed away; think of resawing", k.board.Name, say(k.wood[thick]), say(h.piece[thick]), say(k.wood[thick]-h.piece[thick]))
	}
	return b
}

// leastWaste returns the volume in mm³ that must turn to dust and shavings, however
// so many pieces are cut from a board whose ends and edges are trimmed.
//
// Trim and planing are what they are. For kerfs, grow every rough piece by half a
// kerf on each side. Two pieces are a kerf apart in some direction, so the grown
// pieces do not overlap, and what they have grown by is waste as far as it lies in
// the board. In one direction the growth is kerf × the piece's face for each piece,
// and outside the board lies at most kerf × the board's face.
func (h shop) leastWaste(wood size, pieces int) float64 {
	if pieces == 0 {
		return 0
	}
	var room, rough, piece, kerf [3]float64
	all := 1.0
	inner := 1.0
	for d := range 3 {
		room[d] = millimetre(wood[d] - 2*h.trim[d])
		rough[d], piece[d], kerf[d] = millimetre(h.rough[d]), millimetre(h.piece[d]), millimetre(h.kerf[d])
		all *= millimetre(wood[d])
		inner *= room[d]
	}
	if !h.resaw {
		rough[thick], kerf[thick] = room[thick], 0
	}
	n := float64(pieces)
	waste := all - inner + n*piece[along]*piece[across]*(rough[thick]-piece[thick])
	for d := range 3 {
		e, f := (d+1)%3, (d+2)%3
		waste += max(0, kerf[d]*(n*rough[e]*rough[f]-room[e]*room[f]))
	}
	return waste
}

// Fewest spreads a number of pieces over boards such that as few boards as possible
// are cut: pieces at hand are used first, then the boards that yield most, the earlier
// of two that yield the same. It returns the pieces wanted from each board, for
// [Make], and the number of boards cut. Where all boards together have too little,
// the error says what is short and by how much.
func Fewest(boards []Board, pieces int, p Piece, s Saw, r Reuse) (wanted []int, cut int, err error) {
	if pieces < 0 {
		panic("cut: a negative number of pieces is wanted")
	}
	_, stocks, err := take(boards, p, s, r)
	if err != nil {
		return nil, 0, err
	}
	wanted, cut, short := fewest(stocks, pieces)
	if short == 0 {
		return wanted, cut, nil
	}
	err = fmt.Errorf("%d pieces are wanted and the %d boards have %d: %d short", pieces, len(boards), pieces-short, short)
	for _, k := range stocks {
		if k.grid.Why != "" {
			err = fmt.Errorf("%w\n%s", err, k.grid.Why)
		}
	}
	return nil, 0, err
}

func fewest(stocks []stock, pieces int) (wanted []int, cut, short int) {
	wanted = make([]int, len(stocks))
	order := make([]int, len(stocks))
	for i, k := range stocks {
		order[i] = i
		wanted[i] = min(pieces, len(k.hand))
		pieces -= wanted[i]
	}
	sort.SliceStable(order, func(a, b int) bool { return stocks[order[a]].grid.Pieces() > stocks[order[b]].grid.Pieces() })
	for _, i := range order {
		if n := min(pieces, stocks[i].grid.Pieces()); n > 0 {
			wanted[i] += n
			pieces -= n
			cut++
		}
	}
	return wanted, cut, pieces
}
