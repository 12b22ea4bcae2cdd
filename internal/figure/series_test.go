package figure

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bondtrial"
	"bondtrial/internal/answer"
)

// Expected series are those of built, read off its source.

var equateNaN = cmp.Comparer(func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) })

func TestStrengthSeries(t *testing.T) {
	none := math.NaN()
	panels := strengthPanels(built(), bondtrial.SI)
	var got []strengthPanel
	for _, p := range panels {
		if p.rows[len(p.rows)-1].adhesive == "Ghyll" {
			p.rows = p.rows[:len(p.rows)-1] // forty specimens: below
		}
		got = append(got, p)
	}
	broke, wood, rig := bondtrial.BondBroke, bondtrial.WoodLimited, bondtrial.RigLimited
	want := []strengthPanel{
		{"ash", woodBar{9, 9.6, 10.3, 9.7}, []strengthRow{
			{"Tarn", "n 5, 1 wood-limited", 8.9, 9.8, 10.9, none,
				[]specimen{{9.1, broke}, {9.6, broke}, {9.65, broke}, {10.1, broke}, {10.4, wood}}},
			{"Skerry", "n 4, 3 wood-limited, 1 rig-limited", none, none, none, 9.1,
				[]specimen{{9.4, wood}, {9.9, wood}, {10.2, wood}, {11.2, rig}}},
			{"Fell", "n 3, 1 wood-limited", 6.1, 7.2, 40, none, []specimen{{6.8, broke}, {7.9, broke}, {8.4, wood}}},
		}},
		{"larch", woodBar{none, none, none, 9.4}, []strengthRow{
			{"Tarn", "n 3, all wood-limited", none, none, none, 7.4, []specimen{{8.1, wood}, {8.6, wood}, {8.8, wood}}},
			{"Skerry", "n 2, all wood-limited", none, none, none, 6.9, []specimen{{7.8, wood}, {8.3, wood}}},
			{"Beck", "n 3", 5.7, 6.6, 7.6, none, []specimen{{6.1, broke}, {6.5, broke}, {7.2, broke}}},
		}},
	}
	all := cmp.AllowUnexported(strengthPanel{}, woodBar{}, strengthRow{}, specimen{})
	if d := cmp.Diff(want, got, all, equateNaN); d != "" {
		t.Errorf("series (-want +got):\n%s", d)
	}
	if last := panels[0].rows[3]; last.adhesive != "Ghyll" || len(last.specimens) != 40 || last.count != "n 40" {
		t.Errorf("the weakest on ash is %s with %d specimens, %q", last.adhesive, len(last.specimens), last.count)
	}
}

// 1 MPa is 145.04 psi (from the factors of package bondtrial).
func TestStrengthSeriesInPSI(t *testing.T) {
	p := strengthPanels(built(), bondtrial.US)
	got := []float64{p[0].wood.typical, p[0].rows[0].typical, p[0].rows[0].specimens[0].at, p[0].rows[1].atLeast}
	for k, mpa := range []float64{9.6, 9.8, 9.1, 9.1} {
		if math.Abs(got[k]-145.04*mpa) > 0.05 { // the factor is rounded to 0.003 in 145
			t.Errorf("%v MPa are %v psi, want about %.0f", mpa, got[k], 145.04*mpa)
		}
	}
	f := Strength(built(), Style{Width: Column().Width, Text: Column().Text, Units: bondtrial.US})
	for _, d := range recorded(f) {
		if strings.Contains(d.text, "MPa") {
			t.Errorf("%q is in MPa", d.text)
		}
	}
}

// The axis begins at 0 and holds every specimen, typical value and arrow; the
// range to 40 MPa is cut instead of pressing the rest together, and says so.
func TestStrengthScale(t *testing.T) {
	panels := strengthPanels(built(), bondtrial.SI)
	const length, tail, arrow = 400, 60, 10
	high := strengthScale(panels, length, tail, arrow)
	if high < 11.2*length/(length-arrow) || high < 9.1*length/(length-tail) || high > 20 {
		t.Errorf("the axis ends at %v MPa", high)
	}
	l := newStrengthLayout(newSheet(Column(), ""), panels)
	if l.ticks[0].at != 0 || l.x(0) != l.x0 {
		t.Errorf("the axis begins at %v", l.ticks[0])
	}
	if s := strings.Join(l.countLines(&panels[0].rows[2]), " "); s != "n 3, 1\u00a0wood-limited, range\u00a0to\u00a040.0" {
		t.Errorf("the cut range is labelled %q", s)
	}
}

// Every specimen is a mark, at its strength, and no two are at one place.
func TestEverySpecimenIsAMark(t *testing.T) {
	everySample(t, func(t *testing.T, s sample, a *answer.Answer) {
		for _, style := range []Style{Column(), Phone()} {
			panels := strengthPanels(a, bondtrial.SI)
			l := newStrengthLayout(newSheet(style, ""), panels)
			n := 0
			for p := range panels {
				for k := range panels[p].rows {
					r := &panels[p].rows[k]
					row := l.row(r, 100)
					n += len(row.marks)
					for i, m := range row.marks {
						if want := l.x(r.specimens[i].at); m.x != want || m.y <= row.data || m.y >= row.bar {
							t.Errorf("%s, %s: mark %d at %v, want x %v between %v and %v", s.name, r.adhesive, i, m.point, want, row.data, row.bar)
						}
						if slices.ContainsFunc(row.marks[:i], func(o placed) bool { return o.point == m.point }) {
							t.Errorf("%s, %s: two marks at %v", s.name, r.adhesive, m.point)
						}
					}
				}
			}
			if n != a.Counts.Used {
				t.Errorf("%s: %d marks for %d readings in use", s.name, n, a.Counts.Used)
			}
		}
	})
}

func everySample(t *testing.T, f func(t *testing.T, s sample, a *answer.Answer)) {
	t.Helper()
	for _, s := range samples() {
		f(t, s, s.answer(t))
	}
}

// Marks that overlap are put into rows of their own, in one order.
func TestLanes(t *testing.T) {
	lane, used := lanes([]spot{{0, 4}, {1, 5}, {2, 6}, {4.5, 8}, {7, 9}})
	if want := []int{0, 1, 2, 0, 1}; !slices.Equal(lane, want) || used != 3 {
		t.Errorf("lanes %v, %d used; want %v, 3", lane, used, want)
	}
	var at []float64
	for k := range 5 {
		at = append(at, aside(k))
	}
	if want := []float64{0, -1, 1, -2, 2}; !slices.Equal(at, want) {
		t.Errorf("lanes lie at %v, want %v", at, want)
	}
}

func TestPairSeries(t *testing.T) {
	a := built()
	table, ok := pairsIn(a, answer.Condition{Wood: "ash"})
	if !ok || !slices.Equal(table.adhesives, []string{"Tarn", "Skerry", "Fell", "Ghyll"}) {
		t.Fatalf("adhesives %v, %v", table.adhesives, ok)
	}
	var got []string
	for _, p := range table.pairs {
		w := words(p)
		got = append(got, strings.Join([]string{p.A, p.B, w.ratio, w.interval, w.verdict, colours[w.ground].name}, " | "))
	}
	want := []string{
		"Tarn | Skerry | ≤ 1.19 |  | at most | one-sided",
		"Tarn | Fell | 1.36 | 0.22–1.93 | not settled | unsettled",
		"Tarn | Ghyll | 1.92 | 1.64–2.25 | stronger | stronger",
		"Skerry | Fell | ≥ 0.61 |  | at least | one-sided",
		"Skerry | Ghyll | ≥ 1.55 |  | stronger | stronger",
		"Fell | Ghyll | 1.41 | 1.02–7.90 | stronger | stronger",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("pairs (-want +got):\n%s", d)
	}
}

// The square says of B over A what it says of A over B.
func TestPairsReverse(t *testing.T) {
	table, _ := pairsIn(built(), answer.Condition{Wood: "ash"})
	for _, c := range []struct{ row, column, want string }{
		{"Ghyll", "Tarn", "0.52 0.44–0.61 weaker"}, // 1/1.92, 1/2.25, 1/1.64
		{"Skerry", "Tarn", "≥ 0.84  at least"},     // 1/1.19
		{"Fell", "Skerry", "≤ 1.64  at most"},      // 1/0.61
		{"Ghyll", "Skerry", "≤ 0.65  weaker"},      // 1/1.55
		{"Fell", "Tarn", "0.74 0.52–4.55 not settled"},
	} {
		p, ok := table.find(c.row, c.column)
		w := words(p)
		if got := w.ratio + " " + w.interval + " " + w.verdict; !ok || got != c.want || p.A != c.row || p.B != c.column {
			t.Errorf("%s over %s: %q, want %q", c.row, c.column, got, c.want)
		}
		if back := p.Reversed().Reversed(); words(back) != w {
			t.Errorf("%s over %s twice reversed: %v, want %v", c.row, c.column, words(back), w)
		}
	}
	if _, ok := table.find("Tarn", "Tarn"); ok {
		t.Error("an adhesive is compared with itself")
	}
}

// With a control there is one comparison for each other adhesive, all over the
// control, strongest first.
func TestPairsWithControl(t *testing.T) {
	for _, s := range samples() {
		if s.name != "control" {
			continue
		}
		a := s.answer(t)
		for _, cond := range a.Conditions() {
			table, ok := pairsIn(a, cond)
			var want []string
			for _, c := range a.In(cond) {
				if c.Adhesive != "Ghyll" {
					want = append(want, c.Adhesive)
				}
			}
			var got []string
			for _, p := range table.pairs {
				got = append(got, p.A)
				if p.B != "Ghyll" {
					t.Errorf("%s: %s over %s", cond, p.A, p.B)
				}
			}
			if !ok || !slices.Equal(got, want) {
				t.Errorf("%s: %v, want %v", cond, got, want)
			}
		}
	}
}

// The words of all verdicts; "same" does not occur in built.
func TestVerdictWords(t *testing.T) {
	for v, want := range map[answer.Verdict]string{
		answer.Stronger: "stronger", answer.Weaker: "weaker", answer.Same: "same", answer.NotSettled: "not settled", answer.AtLeast: "at least",
	} {
		w := words(pair("ash", "A", "B", 1.2, 1.1, 1.3, v))
		if w.verdict != want || w.ground < stronger {
			t.Errorf("%s is %q on %s", v, w.verdict, colours[w.ground].name)
		}
	}
}

func TestChanceSeries(t *testing.T) {
	want := []chanceGroup{
		{"ash", true, []chanceBar{{"Skerry", 0.42, "42 %", true}, {"Tarn", 0.29, "29 %", false}, {"Fell", 0.29, "29 %", false}, {"Ghyll", 0, "<1 %", false}}},
		{"larch", true, []chanceBar{{"Tarn", 0.996, ">99 %", true}, {"Skerry", 0.002, "<1 %", true}, {"Beck", 0.002, "<1 %", false}}},
	}
	if d := cmp.Diff(want, chanceGroups(built()), cmp.AllowUnexported(chanceGroup{}, chanceBar{})); d != "" {
		t.Errorf("series (-want +got):\n%s", d)
	}
}

func TestDriftSeries(t *testing.T) {
	d, ok := driftIn(built(), "glueing")
	// Cells that are only at least are left out: 4 + 2 + 3 of 60 specimens.
	if !ok || len(d.points) != 51 || d.drift.Last != 60-5 {
		t.Fatalf("%d points up to %d, %v", len(d.points), d.drift.Last, ok)
	}
	first := driftPoint{order: 1, ratio: 7.9 / 7.2, state: bondtrial.BondBroke}
	if d.points[0] != first || d.points[2].state != bondtrial.WoodLimited {
		t.Errorf("first point %v, want %v; third %v", d.points[0], first, d.points[2])
	}
	rise := d.along(d.drift.Ratio, float64(d.drift.Last)) / d.along(d.drift.Ratio, 1)
	if math.Abs(rise-1.32) > 1e-12 || d.along(d.drift.Ratio, d.pivot) != 1 { // rounding
		t.Errorf("the line rises by %v, and is %v in the middle", rise, d.along(d.drift.Ratio, d.pivot))
	}
	if s := d.statement(); s != "last / first 1.32 (1.05–1.66, 95 %): strength changed along the order" {
		t.Errorf("statement %q", s)
	}
	other, _ := driftIn(built(), "breaking")
	if s := other.statement(); s != "last / first 0.97" {
		t.Errorf("statement without interval %q", s)
	}
}

// What cannot be drawn is nil.
func TestNothingToDraw(t *testing.T) {
	one := built()
	one.Cells, one.Best, one.Pairs, one.Drifts = one.Cells[:1], one.Best[:1], nil, nil
	if Pairs(one, answer.Condition{Wood: "ash"}, Column()) != nil || Pairs(built(), answer.Condition{Wood: "oak"}, Column()) != nil {
		t.Error("there is a figure of no comparison")
	}
	if Chance(one, Column()) != nil {
		t.Error("there is a figure of one adhesive's chance")
	}
	if Drift(one, "glueing", Column()) != nil || Drift(built(), "curing", Column()) != nil {
		t.Error("there is a figure of no drift")
	}
	if Strength(&answer.Answer{}, Column()) != nil {
		t.Error("there is a figure of no strength")
	}
	if Strength(one, Column()) == nil {
		t.Error("there is no figure of one adhesive's strength")
	}
}

// Alternative texts hold the names in full, and the numbers.
func TestAlternativeTexts(t *testing.T) {
	a := built()
	ash := answer.Condition{Wood: "ash"}
	for _, c := range []struct {
		f    *Figure
		want []string
	}{
		{Strength(a, Phone()), []string{"in MPa", "On ash: Tarn 9.8, 8.9 to 10.9 (n 5, 1 wood-limited); Skerry at least 9.1 (n 4, 3 wood-limited, 1 rig-limited)",
			"the wood's own strength 9.6, 9.0 to 10.3; handbook 9.7.", "On larch: "}},
		{Pairs(a, ash, Phone()), []string{"Tarn over Skerry: at most 1.19 times", "Tarn is stronger than Ghyll: 1.92 times (1.64 to 2.25)",
			"Tarn over Fell is not settled: 1.36 times (0.22 to 1.93)"}},
		{Chance(a, Phone()), []string{"On ash: Skerry 42 % (its strength is only at least); Tarn 29 %"}},
		{Drift(a, "glueing", Phone()), []string{"51 specimens", "order of glueing", "1.32 times the first (95 % range 1.05 to 1.66)"}},
	} {
		for _, w := range c.want {
			if !strings.Contains(c.f.Alt, w) {
				t.Errorf("%s: %q lacks %q", c.f.Title, c.f.Alt, w)
			}
		}
	}
	for _, s := range samples() {
		if s.name != "long" {
			continue
		}
		a := s.answer(t)
		for _, c := range a.Cells {
			if alt := Strength(a, Phone()).Alt; !strings.Contains(alt, c.Adhesive) {
				t.Errorf("%q lacks %q", alt, c.Adhesive)
			}
		}
	}
}

func TestThinned(t *testing.T) {
	x := make([]int, 1000)
	for i := range x {
		x[i] = i
	}
	got := thinned(x, 120)
	if len(got) != 120 || got[0] != 0 || got[119] != 999 || !slices.IsSorted(got) {
		t.Errorf("%d values from %d to %d", len(got), got[0], got[len(got)-1])
	}
	if got := thinned(x[:120], 120); len(got) != 120 {
		t.Errorf("%d of 120 values kept", len(got))
	}
}
