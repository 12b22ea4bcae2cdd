package plan

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"bondtrial/internal/plan/howmany"
	"bondtrial/internal/plan/trialfile"
)

// trial reads the example, changed by pairs of old and new text.
func trial(t *testing.T, change ...string) *trialfile.Trial {
	t.Helper()
	text := string(trialfile.Example())
	for k := 0; k < len(change); k += 2 {
		if !strings.Contains(text, change[k]) {
			t.Fatalf("the example has no %q", change[k])
		}
		text = strings.Replace(text, change[k], change[k+1], 1)
	}
	got, err := trialfile.Read(strings.NewReader(text), "trial.toml")
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func plan(t *testing.T, tr *trialfile.Trial) *Plan {
	t.Helper()
	p, err := Make(context.Background(), tr, Options{Trials: 50})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

const auto = `specimens_per_cell = "auto"`

// check holds a plan against what was asked, by itself and not by the code that
// made it.
func check(t *testing.T, p *Plan) {
	t.Helper()
	tr := p.Trial
	cells := make(map[string]int)
	pieces := make(map[string]bool)
	codes := make(map[string]bool)
	pairs := make(map[int][]*Specimen)
	turns := make(map[int]bool)
	for i := range p.Specimens {
		s := &p.Specimens[i]
		cells[fmt.Sprint(s.Adhesive, s.Wood, s.Levels)]++
		for _, n := range s.Pieces {
			key := fmt.Sprint(s.Wood, "/", s.Board, "/", n)
			if pieces[key] {
				t.Errorf("piece %s is used twice", key)
			}
			pieces[key] = true
		}
		if codes[s.Code] || turns[s.BreakTurn] || p.BreakOrder[s.BreakTurn-1] != i {
			t.Errorf("specimen %d: code %s or turn %d is there twice, or the breaking order names another", i, s.Code, s.BreakTurn)
		}
		codes[s.Code], turns[s.BreakTurn] = true, true
		if s.Pair > 0 {
			pairs[s.Pair] = append(pairs[s.Pair], s)
		}
	}
	neighbours(t, p)
	if want := len(tr.Adhesives) * len(tr.Woods) * tr.Conditions(); len(cells) != want {
		t.Errorf("%d cells, want %d", len(cells), want)
	}
	for name, n := range cells {
		if n != p.PerCell {
			t.Errorf("cell %s has %d specimens, want %d", name, n, p.PerCell)
		}
	}
	for n, pair := range pairs {
		if len(pair) != 2 {
			t.Fatalf("pair %d has %d specimens", n, len(pair))
		}
		a, b := pair[0], pair[1]
		apart := max(a.Pieces[0]-b.Pieces[1], b.Pieces[0]-a.Pieces[1])
		if a.Adhesive != b.Adhesive || a.Wood != b.Wood || a.Board != b.Board || apart != 1 || slices.Equal(a.Levels, b.Levels) {
			t.Errorf("pair %d: %+v and %+v", n, a, b)
		}
	}
}

// neighbours holds the pieces of each specimen, and of each pair, against the cut
// list: they lie in one layer of one strip, end to end but for the kerf.
func neighbours(t *testing.T, p *Plan) {
	t.Helper()
	for _, c := range p.Cuts {
		for _, b := range c.Boards {
			if len(b.FromHand) > 0 {
				continue
			}
			var packs [][]int
			pair := make(map[int]int)
			for i := range p.Specimens {
				s := &p.Specimens[i]
				switch k, known := pair[s.Pair]; {
				case s.Wood != c.Wood || s.Board != b.Board.Name:
				case s.Pair > 0 && known:
					packs[k] = append(packs[k], s.Pieces[:]...)
				default:
					pair[s.Pair] = len(packs)
					packs = append(packs, slices.Clone(s.Pieces[:]))
				}
			}
			for _, pack := range packs {
				slices.Sort(pack)
				for k := 1; k < len(pack); k++ {
					x, y := b.Layout.Pieces[pack[k-1]-1], b.Layout.Pieces[pack[k]-1]
					gap := y.From[0] - x.To[0]
					if x.From[1] != y.From[1] || x.From[2] != y.From[2] || gap < 0 || gap > float64(p.Trial.Cutting.Kerf)+1e-9 {
						t.Errorf("board %s of %s: pieces %v are no neighbours", b.Board.Name, c.Wood, pack)
						break
					}
				}
			}
		}
	}
}

// Only comparisons with the control count where there is one, and an adhesive's two
// conditions half.
func TestWeights(t *testing.T) {
	p := &Plan{Trial: trial(t, `pairs = "surface"`, `pairs = "off"`)}
	ts := p.treatments()
	w := p.weights(ts)
	for i, a := range ts {
		for j, b := range ts[:i] {
			same := a.levels[0] == b.levels[0]
			control := p.Trial.Adhesives[a.adhesive].Name == "Pemmet white" || p.Trial.Adhesives[b.adhesive].Name == "Pemmet white"
			want := 0.0
			switch {
			case a.adhesive == b.adhesive:
				want = 0.5
			case same && control:
				want = 1
			}
			if w.At(i, j) != want {
				t.Errorf("%v and %v count %v, want %v", a, b, w.At(i, j), want)
			}
		}
	}
}

// By hand: 0.5, 0.82, 0.74, 0.9 is smoothed to 0.5, 0.78, 0.78, 0.9.
func TestLeastEnough(t *testing.T) {
	p := &Plan{Trial: &trialfile.Trial{Chance: 80}, Numbers: &howmany.Result{}}
	for k, chance := range []float64{0.5, 0.82, 0.74, 0.9} {
		p.Numbers.Points = append(p.Numbers.Points, howmany.Point{N: k + 2, Woods: []howmany.WoodPoint{{Found: howmany.Estimate{Mean: chance}}}})
	}
	if n := p.leastEnough(); n != 5 {
		t.Errorf("80 %% at %d, want 5", n)
	}
	p.Trial.Chance = 78
	if n := p.leastEnough(); n != 3 {
		t.Errorf("78 %% at %d, want 3", n)
	}
	p.Trial.Chance = 95
	if n := p.leastEnough(); n != 0 {
		t.Errorf("95 %% at %d, want none", n)
	}
}

func TestExamplePlan(t *testing.T) {
	p := plan(t, trial(t, auto, "specimens_per_cell = 6"))
	check(t, p)
	if p.PerCell != 6 || len(p.Specimens) != 96 {
		t.Errorf("%d specimens, %d of each", len(p.Specimens), p.PerCell)
	}
	// One cartridge at a time: all of a batch follow one another, of one adhesive,
	// and no batch is larger than the trial file says (8 for the two-part one).
	for i := 1; i < len(p.Specimens); i++ {
		a, b := &p.Specimens[i-1], &p.Specimens[i]
		if a.Batch == b.Batch && a.Adhesive != b.Adhesive || b.Batch != a.Batch && b.Batch != a.Batch+1 {
			t.Errorf("after %+v comes %+v", a, b)
		}
	}
	size := make(map[int]int)
	for i := range p.Specimens {
		size[p.Specimens[i].Batch]++
	}
	for i := range p.Specimens {
		s := &p.Specimens[i]
		if most := p.Trial.Adhesives[s.Adhesive].PerBatch; most > 0 && size[s.Batch] > most {
			t.Errorf("batch %d has %d specimens of at most %d", s.Batch, size[s.Batch], most)
		}
	}
	if len(p.Cuts) != 2 || p.Schedule == nil || len(p.Deals) != 2 || p.Deals[0].Efficiency < 0.9 {
		t.Errorf("deals %+v, %d cut lists", p.Deals, len(p.Cuts))
	}
	for _, b := range p.Cuts[0].Boards {
		if b.Wanted > 40 { // 96 pieces of ash from seven sources
			t.Errorf("%s gives %d pieces: the boards do not share the work", b.Board.Name, b.Wanted)
		}
	}
	if x := p.Schedule.Excess(); x > 0.1 {
		t.Errorf("the schedule takes %.0f %% longer than its bound", 100*x)
	}
	if len(p.Names) != 4 || slices.ContainsFunc(p.Names, func(n string) bool { return len(n) != 1 }) {
		t.Errorf("blind names %v", p.Names)
	}
}

func TestPlanWithoutBatchesIsBalanced(t *testing.T) {
	p := plan(t, trial(t, auto, "specimens_per_cell = 6", "one_cartridge = true", "one_cartridge = false", `pairs = "surface"`, `pairs = "off"`, "blind = true", "blind = false"))
	check(t, p)
	for _, b := range p.Balance {
		if !b.Kept {
			t.Errorf("%s: limits are not kept", b.Order)
		}
		for _, f := range b.Figures {
			if f.Off > 2 || f.Off < -2 || f.R > 0.05 || f.R < -0.05 {
				t.Errorf("%s: %+v", b.Order, f)
			}
		}
	}
	if p.Names[0] != "Pemmet white" {
		t.Errorf("names %v of a trial that is not blind", p.Names)
	}
}

// The number is the least with the chance wanted, and where the wood does not give
// it the plan says so.
func TestNumber(t *testing.T) {
	p := plan(t, trial(t, "smallest_difference_pct = 25", "smallest_difference_pct = 60"))
	check(t, p)
	k := slices.IndexFunc(p.Numbers.Points, func(x howmany.Point) bool { return x.Found().Found.Mean >= 0.8 })
	if k < 0 || p.PerCell < p.Numbers.Points[k].N || p.PerCell > p.Numbers.Points[k].N+2 || p.Shortened != "" {
		t.Errorf("%d of each: %+v, %q", p.PerCell, p.Numbers.Advice, p.Shortened)
	}
	p = plan(t, trial(t, "smallest_difference_pct = 25", "smallest_difference_pct = 5", "boards = 6", "boards = 2"))
	check(t, p)
	if !strings.Contains(p.Shortened, "a difference of 5 % is") || !strings.Contains(p.Shortened, "and 80 % is wanted") {
		t.Errorf("shortened: %q", p.Shortened)
	}
}

func TestSameTrialSamePlan(t *testing.T) {
	a, b := plan(t, trial(t, auto, "specimens_per_cell = 4")), plan(t, trial(t, auto, "specimens_per_cell = 4"))
	if fmt.Sprint(a.Specimens, a.BreakOrder, a.Names, a.Deals) != fmt.Sprint(b.Specimens, b.BreakOrder, b.Names, b.Deals) {
		t.Error("two plans of one trial differ")
	}
	c := plan(t, trial(t, auto, "specimens_per_cell = 4", "seed = 2027", "seed = 2028"))
	if fmt.Sprint(a.Specimens) == fmt.Sprint(c.Specimens) {
		t.Error("another seed gives the same plan")
	}
}

// What is impossible says what is short and by how much.
func TestImpossible(t *testing.T) {
	small := []string{"boards = 6\nlength_mm = 1000\nwidth_mm = 130\nthickness_mm = 26", "boards = 40\npieces_per_board = 4", `pairs = "surface"`, `pairs = "off"`}
	for _, c := range []struct {
		name   string
		change []string
		want   string
	}{
		// By hand, with a kerf of 3 and 0.5 mm of planing (strips × layers × pieces along):
		// L1 4 × 2 × 16, L2 6 × 2 × 13, L3 5 × 2 × 15, L4 24 pieces. A four, two specimens side
		// by side, lies in one layer: 8 × 4 + 12 × 3 + 10 × 3 + 6 = 104 fours; 30 × 4 are asked.
		{"too few boards", []string{auto, "specimens_per_cell = 30"},
			"on larch, 30 specimens of each adhesive in each condition are 240 specimens, of which the boards give 208: 64 pieces short"},
		{"boards that link nothing", append(small, auto, "specimens_per_cell = 2", "pieces = 16", "pieces = 2"), ""},
		{"no time to glue", []string{auto, "specimens_per_cell = 2", `glue_up = "4 min"`, `glue_up = "15 min"`}, "open"},
	} {
		tr, err := trialfile.Read(strings.NewReader(changed(t, c.change)), "trial.toml")
		if err == nil {
			_, err = Make(context.Background(), tr, Options{Trials: 50})
		}
		if c.name == "boards that link nothing" {
			// Boards of one specimen cannot link: replaced by boards of two, they can.
			if err != nil {
				t.Errorf("%s: two specimens a board link adhesives: %v", c.name, err)
			}
			tr, err = trialfile.Read(strings.NewReader(strings.Replace(changed(t, c.change), "pieces_per_board = 4", "pieces_per_board = 2", 1)), "trial.toml")
			if err == nil {
				_, err = Make(context.Background(), tr, Options{Trials: 50})
			}
			c.want = "the boards of ash are too small to link all adhesives"
		}
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func changed(t *testing.T, change []string) string {
	t.Helper()
	text := trialfile.Example()
	for k := 0; k < len(change); k += 2 {
		if !bytes.Contains(text, []byte(change[k])) {
			t.Fatalf("the example has no %q", change[k])
		}
		text = bytes.Replace(text, []byte(change[k]), []byte(change[k+1]), 1)
	}
	return string(text)
}

func TestStops(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Make(ctx, trial(t), Options{Trials: 50}); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}
