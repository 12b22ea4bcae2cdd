package cut_test

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bondtrial/internal/plan/cut"
)

var (
	block = cut.Piece{Length: 100, Width: 40, Thickness: 20}
	bench = cut.Saw{Kerf: 3, EndTrim: 20, Planing: 2}
	ash   = cut.Board{Name: "ash-1", Length: 1000, Width: 150, Thickness: 25}
	spent = cut.Reuse{Loss: 1.5, LeastThickness: 15}
)

// near allows for rounding: sums of some hundred products in float64, each of which
// is right to 1e-16, so 1e-12 is generous and 1 mm³ in a board still shows.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-12*math.Max(math.Abs(a), math.Abs(b)) }

// Worked by hand. Ash, 1000 × 150 × 25 mm, into pieces of 100 × 40 × 20 mm; saw
// kerf 3, end trim 20 at each end, 2 for planing:
//
//	along   1000 − 2·20 = 960;  9·100 + 8·3 = 924, a tenth would need 1027   9
//	across  3·40 + 2·3 = 126, a fourth would need 169 of 150                 3
//	thick   20 + 2 = 22 of 25                                                1
//	pieces  9·3·1 = 27, together 27·100·40·20           = 2,160,000 mm³
//	trim    2·20·150·25                                  =   150,000
//	rips    3·3·960·25 (the third parts off the rest)    =   216,000
//	cross   27·3·40·25                                   =    81,000
//	planing 27·100·40·(25 − 20)                          =   540,000
//	left    150 − 3·40 − 3·3 = 21 wide: 960·21·25        =   504,000
//	left    960 − 9·100 − 9·3 = 33 long: 3·33·40·25      =    99,000
//	all     1000·150·25                                  = 3,750,000
//
// The waste is 987,000. Its bound: trim and planing as above; across the grain
// 3·(27·40·25 − 150·25) = 69,750; along it 3·(27·100·25 − 960·25) = 130,500;
// together 890,250.
func TestBoardByHand(t *testing.T) {
	p, err := cut.Make([]cut.Board{ash}, nil, block, bench, spent)
	if err != nil {
		t.Fatal(err)
	}
	b := p.Boards[0]
	if want := (cut.Grid{Strips: 3, Layers: 1, PerStrip: 9}); b.Grid != want || b.Cut != 27 || b.Left != 0 {
		t.Errorf("grid %+v, %d cut, %d left; want %+v, 27, 0", b.Grid, b.Cut, b.Left, want)
	}
	if !near(p.Waste, 987000) || !near(p.LeastWaste, 890250) {
		t.Errorf("waste %v, at least %v; want 987000, 890250", p.Waste, p.LeastWaste)
	}
	type left struct {
		Where string
		Size  [3]float64
	}
	var got []left
	for _, o := range b.Layout.Offcuts {
		got = append(got, left{o.Where, o.Box.Size()})
	}
	want := []left{{"beside the strips", [3]float64{960, 21, 25}}, {"strip 1, layer 1, at its end", [3]float64{33, 40, 25}},
		{"strip 2, layer 1, at its end", [3]float64{33, 40, 25}}, {"strip 3, layer 1, at its end", [3]float64{33, 40, 25}}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	kinds := make(map[cut.CutKind]int)
	for _, c := range b.Layout.Cuts {
		kinds[c.Kind]++
	}
	if d := cmp.Diff(map[cut.CutKind]int{cut.TrimEnd: 2, cut.Rip: 3, cut.Crosscut: 27, cut.Plane: 27}, kinds); d != "" {
		t.Error(d)
	}
	for _, f := range faults(ash, block, bench, b.Layout) {
		t.Error(f)
	}
}

// Of the same board, 11 pieces. By hand: two strips, of the second 2 pieces; left
// are 150 − 2·43 = 64 mm beside them, that is one strip of 9; in the second strip
// 960 − 2·103 = 754 mm, that is 7; in the first 33 mm. 9 + 7 = 27 − 11.
func TestSomeOfABoard(t *testing.T) {
	p, err := cut.Make([]cut.Board{ash}, []int{11}, block, bench, spent)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, o := range p.Boards[0].Layout.Offcuts {
		got = append(got, fmt.Sprint(o.Where, " ", o.Box.Size(), " ", o.Pieces))
	}
	want := []string{"beside the strips [960 64 25] 9", "strip 1, layer 1, at its end [33 40 25] 0", "strip 2, layer 1, at its end [754 40 25] 7"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if b := p.Boards[0]; b.Left != 16 || len(b.Layout.Pieces) != 11 {
		t.Errorf("%d pieces, %d left; want 11, 16", len(b.Layout.Pieces), b.Left)
	}
}

// Resawing, by hand: 50 mm thick, a layer is 20 + 2 = 22 mm, the kerf 2 mm:
// 2·22 + 2 = 46 of 50; a slab of 50 − 2·22 − 2·2 = 2 mm is left. 54 pieces. At 48 mm
// the last 2 mm are all kerf's, and are planed away: no slab. Without resawing 27, and
// 50 − 20 = 30 mm of each are planed away.
func TestResaw(t *testing.T) {
	thick := ash
	thick.Thickness = 50
	s := bench
	s.Resaw, s.ResawKerf = true, 2
	p, err := cut.Make([]cut.Board{thick}, nil, block, s, spent)
	if err != nil {
		t.Fatal(err)
	}
	if b := p.Boards[0]; b.Grid.Layers != 2 || b.Cut != 54 || b.Note != "" {
		t.Errorf("%+v, %d cut, note %q", b.Grid, b.Cut, b.Note)
	}
	slabs := func(p *cut.Plan) (list []float64) {
		for _, o := range p.Boards[0].Layout.Offcuts {
			if strings.Contains(o.Where, "thickness") {
				list = append(list, o.Box.Size()[2])
			}
		}
		return list
	}
	if d := cmp.Diff([]float64{2, 2, 2}, slabs(p)); d != "" {
		t.Error(d)
	}
	thick.Thickness = 48
	if p, err = cut.Make([]cut.Board{thick}, nil, block, s, spent); err != nil || slabs(p) != nil || p.Pieces != 54 {
		t.Errorf("slabs %v of %d pieces (%v), want none of 54", slabs(p), p.Pieces, err)
	}
	thick.Thickness = 50
	if p, err = cut.Make([]cut.Board{thick}, nil, block, bench, spent); err != nil || p.Pieces != 27 || !strings.Contains(p.Boards[0].Note, "30 mm of each piece are planed away; think of resawing") {
		t.Errorf("%d pieces, note %q (%v)", p.Pieces, p.Boards[0].Note, err)
	}
}

// Decimal fractions fit exactly: 3 × 1.1 in 3.3, 7 × 0.3 + 6 × 0.1 in 2.7, and one
// thousandth less does not (in binary fractions 3 × 1.1 > 3.3).
func TestExactFit(t *testing.T) {
	s := cut.Saw{Kerf: 0.1}
	b := cut.Board{Name: "b", Length: 3.5, Width: 2.7, Thickness: 1.1}
	p := cut.Piece{Length: 1.1, Width: 0.3, Thickness: 1.1}
	if g, err := cut.Yield(b, p, s); err != nil || g.Pieces() != 3*7 {
		t.Errorf("%+v (%v), want 3 × 7", g, err)
	}
	b.Length, b.Width = 3.499, 2.699
	if g, err := cut.Yield(b, p, s); err != nil || g.Pieces() != 2*6 {
		t.Errorf("%+v (%v), want 2 × 6", g, err)
	}
}

// What is short and by how much, in each direction; worked by hand from TestBoardByHand.
func TestTooSmall(t *testing.T) {
	for _, c := range []struct {
		length, width, thickness float64
		want                     string
	}{
		{139.5, 150, 25, "board ash-1 has a length of 139.5 mm and a piece with the trim at both sides needs 140 mm: 0.5 mm short"},
		{1000, 39, 25, "board ash-1 has a width of 39 mm and a piece needs 40 mm: 1 mm short"},
		{1000, 150, 21, "board ash-1 has a thickness of 21 mm and a piece with its planing loss needs 22 mm: 1 mm short"},
		{0, 0, 0, "nothing is left of board ash-1 to cut"},
	} {
		b := cut.Board{Name: "ash-1", Length: c.length, Width: c.width, Thickness: c.thickness}
		if g, err := cut.Yield(b, block, bench); err != nil || g.Pieces() != 0 || g.Why != c.want {
			t.Errorf("%v: %+v (%v), want %q", b, g, err, c.want)
		}
	}
}

// Uses left, by hand: 20 mm, least 15, 1.5 a time: 18.5, 17, 15.5, then 14 is too
// thin: 3 uses, and one before it where the piece is fresh.
func TestUses(t *testing.T) {
	used := func(thickness float64, fresh bool) cut.Used {
		return cut.Used{Name: "a7", Length: 100, Width: 40, Thickness: thickness, Fresh: fresh}
	}
	narrow := used(20, false)
	narrow.Width = 39.25
	for _, c := range []struct {
		piece cut.Used
		want  int
		why   string
	}{
		{used(20, false), 3, ""},
		{used(20, true), 4, ""},
		{used(16.5, false), 1, ""},
		{used(16.4, false), 0, "a7 is 16.4 mm thick and has to keep 15 mm after planing off 1.5 mm: 0.1 mm short, retire it"},
		{used(16.4, true), 1, ""},
		{used(15, true), 1, ""},
		{used(14.9, true), 0, "a7 is 14.9 mm thick and has to keep 15 mm: 0.1 mm short, retire it"},
		{narrow, 0, "a7 is 39.25 mm wide and a piece is 40 mm: 0.75 mm short"},
	} {
		if n, why, err := cut.Uses(c.piece, block, spent); n != c.want || why != c.why || err != nil {
			t.Errorf("%+v: %d, %q (%v); want %d, %q", c.piece, n, why, err, c.want, c.why)
		}
	}
}

// More wanted than there is, by hand: ash-1 yields 27 and has one of two pieces at
// hand left, larch-1 yields none.
func TestShort(t *testing.T) {
	one := ash
	one.AtHand = []cut.Used{{Name: "a1", Length: 100, Width: 40, Thickness: 16}, {Name: "a2", Length: 100, Width: 40, Thickness: 18}}
	boards := []cut.Board{one, {Name: "larch-1", Length: 1000, Width: 38, Thickness: 25}, {Name: "oak-1", Length: 1000, Width: 150, Thickness: 25}}
	_, err := cut.Make(boards, []int{30, 4, 27}, block, bench, spent)
	want := "board ash-1: 30 pieces wanted, it yields 27 and has 1 at hand (and 1 too worn or too small): 2 short\n" +
		"board larch-1: 4 pieces wanted, it yields 0: 4 short (board larch-1 has a width of 38 mm and a piece needs 40 mm: 2 mm short)"
	short, ok := err.(cut.ShortError)
	if !ok || err.Error() != want || short[0].Short() != 2 || short[1].Short() != 4 {
		t.Errorf("got\n%v\nwant\n%s", err, want)
	}
	p, err := cut.Make(boards, []int{28, 0, 5}, block, bench, spent)
	if err != nil {
		t.Fatal(err)
	}
	b := p.Boards[0]
	if !reflect.DeepEqual(b.Uses, []int{0, 2}) || !reflect.DeepEqual(b.FromHand, []int{1}) || b.Cut != 27 || len(b.Retired) != 1 {
		t.Errorf("uses %v, from hand %v, %d cut, retired %q", b.Uses, b.FromHand, b.Cut, b.Retired)
	}
	// 33 wanted, 1 at hand: 32 are cut, from two boards, and one board yields 27.
	if p.Pieces != 33 || p.Used != 2 || p.FewestBoards != 2 {
		t.Errorf("%d pieces from %d boards, at least %d; want 33, 2, 2", p.Pieces, p.Used, p.FewestBoards)
	}
}

// Fewest boards, by hand: yields 27, 9 (one strip of 40 mm) and 18 (two, of 83 mm);
// 30 pieces need the first and the third.
func TestFewest(t *testing.T) {
	boards := []cut.Board{{Name: "a", Length: 1000, Width: 40, Thickness: 25}, {Name: "b", Length: 1000, Width: 83, Thickness: 25}, {Name: "c", Length: 1000, Width: 150, Thickness: 25}}
	wanted, n, err := cut.Fewest(boards, 30, block, bench, spent)
	if err != nil || n != 2 || !reflect.DeepEqual(wanted, []int{0, 3, 27}) {
		t.Errorf("%v, %d boards (%v); want [0 3 27], 2", wanted, n, err)
	}
	boards[0].Width = 30
	_, _, err = cut.Fewest(boards, 50, block, bench, spent)
	want := "50 pieces are wanted and the 3 boards have 45: 5 short\nboard a has a width of 30 mm and a piece needs 40 mm: 10 mm short"
	if err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
	if wanted, n, err = cut.Fewest(nil, 0, block, bench, spent); len(wanted) != 0 || n != 0 || err != nil {
		t.Errorf("nothing wanted: %v, %d (%v)", wanted, n, err)
	}
}

// Lengths that cannot be are refused by name.
func TestRefused(t *testing.T) {
	for _, c := range []struct {
		board cut.Board
		piece cut.Piece
		saw   cut.Saw
		reuse cut.Reuse
		want  string
	}{
		{ash, cut.Piece{Width: 40, Thickness: 20}, bench, spent, "length of a piece is 0 mm"},
		{ash, cut.Piece{Length: 100, Width: math.NaN(), Thickness: 20}, bench, spent, "width of a piece is NaN mm"},
		{ash, block, cut.Saw{Kerf: -1}, spent, "saw kerf is -1 mm"},
		{ash, block, cut.Saw{EndTrim: math.Inf(1)}, spent, "end trim is +Inf mm"},
		{cut.Board{Name: "b", Length: 1, Width: 1}, block, bench, spent, "thickness of board b is 0 mm"},
		{cut.Board{Name: "b", Length: 1e6, Width: 1, Thickness: 1}, block, bench, spent, "length of board b is 1e+06 mm"},
		{cut.Board{Name: "b", Length: 1e5, Width: 1e5, Thickness: 1e5}, cut.Piece{Length: 0.001, Width: 0.001, Thickness: 0.001}, cut.Saw{Resaw: true}, spent, "board b would yield more than 100000 pieces"},
		{cut.Board{Name: "b", AtHand: []cut.Used{{Name: "u", Length: 1, Width: 1, Thickness: 1}}}, block, bench, cut.Reuse{LeastThickness: 1}, "board b: the planing loss of each reuse is 0 mm"},
		{cut.Board{Name: "b", AtHand: []cut.Used{{Name: "u", Length: 1, Width: 1}}}, block, bench, spent, "board b: the thickness of u is 0 mm"},
	} {
		if _, err := cut.Make([]cut.Board{c.board}, nil, c.piece, c.saw, c.reuse); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want it to say %q", err, c.want)
		}
	}
	if _, err := cut.Make([]cut.Board{ash, ash}, nil, block, bench, spent); err == nil || !strings.Contains(err.Error(), "two boards are named ash-1") {
		t.Errorf("a name twice: %v", err)
	}
}

// The checker finds what is put wrong in a good layout.
func TestCheckerFindsFaults(t *testing.T) {
	for name, spoil := range map[string]func(l *cut.Layout){
		"a piece moved":       func(l *cut.Layout) { l.Pieces[3].From[0]++; l.Pieces[3].To[0]++ },
		"a piece too long":    func(l *cut.Layout) { l.Pieces[3].To[0]++ },
		"a piece twice":       func(l *cut.Layout) { l.Pieces = append(l.Pieces, l.Pieces[0]) },
		"outside the board":   func(l *cut.Layout) { l.Offcuts[0].Box.To[1]++ },
		"an offcut lost":      func(l *cut.Layout) { l.Offcuts = l.Offcuts[1:] },
		"a cut lost":          func(l *cut.Layout) { l.Cuts = append(l.Cuts[:5:5], l.Cuts[6:]...) },
		"cuts in wrong order": func(l *cut.Layout) { l.Cuts[1], l.Cuts[9] = l.Cuts[9], l.Cuts[1] },
		"a kerf too thin":     func(l *cut.Layout) { l.Cuts[2].Waste.To[1]-- },
	} {
		p, err := cut.Make([]cut.Board{ash}, nil, block, bench, spent)
		if err != nil {
			t.Fatal(err)
		}
		l := p.Boards[0].Layout
		spoil(&l)
		if len(faults(ash, block, bench, l)) == 0 {
			t.Errorf("%s: not found", name)
		}
	}
}

// mm draws a length in tenths of a millimetre.
func mm(t *rapid.T, from, to int, name string) float64 {
	return float64(rapid.IntRange(10*from, 10*to).Draw(t, name)) / 10
}

func draw(t *rapid.T) (cut.Board, cut.Piece, cut.Saw) {
	p := cut.Piece{Length: mm(t, 20, 150, "piece length"), Width: mm(t, 10, 60, "piece width"), Thickness: mm(t, 3, 30, "piece thickness")}
	s := cut.Saw{Resaw: rapid.Bool().Draw(t, "resaw")}
	if rapid.Bool().Draw(t, "kerf") {
		s.Kerf, s.ResawKerf = mm(t, 0, 6, "saw kerf"), mm(t, 0, 4, "resaw kerf")
	}
	if rapid.Bool().Draw(t, "trim") {
		s.EndTrim, s.EdgeTrim, s.Planing = mm(t, 0, 40, "end trim"), mm(t, 0, 10, "edge trim"), mm(t, 0, 5, "planing")
	}
	return cut.Board{Name: "b", Length: mm(t, 10, 1200, "length"), Width: mm(t, 5, 200, "width"), Thickness: mm(t, 2, 80, "thickness")}, p, s
}

// Whatever is wanted of a board, its layout holds, nothing is got from nothing, and
// what is left would yield exactly the pieces that are missing from the full yield.
func TestEveryLayoutHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, p, s := draw(t)
		g, err := cut.Yield(b, p, s)
		if err != nil {
			t.Fatal(err)
		}
		n := rapid.IntRange(0, min(g.Pieces(), 150)).Draw(t, "wanted")
		plan, err := cut.Make([]cut.Board{b}, []int{n}, p, s, spent)
		if err != nil {
			t.Fatal(err)
		}
		got := plan.Boards[0]
		for _, f := range faults(b, p, s, got.Layout) {
			t.Error(f)
		}
		left := 0
		volume := got.Waste
		for _, o := range got.Layout.Offcuts {
			left += o.Pieces
			volume += o.Box.Volume()
		}
		for _, x := range got.Layout.Pieces {
			volume += x.Volume()
		}
		if len(got.Layout.Pieces) != n || left != g.Pieces()-n || got.Left != left {
			t.Errorf("%d pieces of %d, and %d in what is left of %d", len(got.Layout.Pieces), n, left, g.Pieces())
		}
		if !near(volume, b.Length*b.Width*b.Thickness) {
			t.Errorf("%v mm³ in all, the board has %v", volume, b.Length*b.Width*b.Thickness)
		}
		if got.LeastWaste > got.Waste && !near(got.LeastWaste, got.Waste) {
			t.Errorf("waste %v, below its bound %v", got.Waste, got.LeastWaste)
		}
		if _, err := cut.Make([]cut.Board{b}, []int{g.Pieces() + 1}, p, s, spent); err == nil {
			t.Error("more than the board yields is not refused")
		}
	})
}

// With a kerf of 0 and nothing lost the yield is the product of the quotients
// rounded down, here in whole tenths of a millimetre.
func TestWithoutKerf(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, p, _ := draw(t)
		g, err := cut.Yield(b, p, cut.Saw{Resaw: true})
		if err != nil {
			t.Fatal(err)
		}
		tenths := func(mm float64) int { return int(math.Round(mm * 10)) }
		want := tenths(b.Length) / tenths(p.Length) * (tenths(b.Width) / tenths(p.Width)) * (tenths(b.Thickness) / tenths(p.Thickness))
		if g.Pieces() != want {
			t.Errorf("%d, want %d", g.Pieces(), want)
		}
	})
}

// A larger board never yields less; a wider kerf, more trim, more planing or a larger
// piece never yields more.
func TestYieldIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, p, s := draw(t)
		before, err := cut.Yield(b, p, s)
		if err != nil {
			t.Fatal(err)
		}
		more := mm(t, 0, 50, "more")
		which := rapid.IntRange(0, 10).Draw(t, "of")
		lengths := []*float64{&b.Length, &b.Width, &b.Thickness, &s.Kerf, &s.ResawKerf, &s.EndTrim, &s.EdgeTrim, &s.Planing, &p.Length, &p.Width, &p.Thickness}
		*lengths[which] += more
		after, err := cut.Yield(b, p, s)
		if err != nil {
			t.Fatal(err)
		}
		if grew := which < 3; grew && after.Pieces() < before.Pieces() || !grew && after.Pieces() > before.Pieces() {
			t.Errorf("from %+v to %+v", before, after)
		}
	})
}

// In one direction the quotient is what laying pieces side by side gives, in whole
// millimetres.
func TestAgainstLayingOut(t *testing.T) {
	for room := 1; room <= 60; room++ {
		for width := 1; width <= 12; width++ {
			for kerf := 0; kerf <= 4; kerf++ {
				want := 0
				for at := 0; at+width <= room; at += width + kerf {
					want++
				}
				g, err := cut.Yield(cut.Board{Name: "b", Length: 1, Width: float64(room), Thickness: 1}, cut.Piece{Length: 1, Width: float64(width), Thickness: 1}, cut.Saw{Kerf: float64(kerf)})
				if err != nil || g.Pieces() != want {
					t.Fatalf("%d mm into %d mm, kerf %d mm: %d (%v), want %d", room, width, kerf, g.Pieces(), err, want)
				}
			}
		}
	}
}

// Fewest is as few as trying every set of boards gives.
func TestFewestAgainstEverySet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		_, p, s := draw(t)
		var boards []cut.Board
		var yields []int
		total := 0
		for i := range rapid.IntRange(1, 6).Draw(t, "boards") {
			b, _, _ := draw(t)
			b.Name = fmt.Sprint("b", i)
			g, err := cut.Yield(b, p, s)
			if err != nil {
				t.Fatal(err)
			}
			boards, yields, total = append(boards, b), append(yields, g.Pieces()), total+g.Pieces()
		}
		n := rapid.IntRange(0, total).Draw(t, "wanted")
		want := len(boards)
		for set := range 1 << len(boards) {
			sum, size := 0, 0
			for i, y := range yields {
				if set>>i&1 == 1 {
					sum, size = sum+y, size+1
				}
			}
			if sum >= n {
				want = min(want, size)
			}
		}
		wanted, got, err := cut.Fewest(boards, n, p, s, spent)
		if err != nil || got != want {
			t.Fatalf("%d boards (%v), want %d", got, err, want)
		}
		sum := 0
		for i, w := range wanted {
			if sum += w; w > yields[i] {
				t.Errorf("%d wanted of %d", w, yields[i])
			}
		}
		if sum != n {
			t.Errorf("%d pieces, want %d", sum, n)
		}
		if _, _, err := cut.Fewest(boards, total+3, p, s, spent); err == nil || !strings.Contains(err.Error(), "3 short") {
			t.Errorf("3 too many: %v", err)
		}
	})
}
