package table

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func nearlyAlike(a, b string) bool { return takeApart(a).nearly(takeApart(b)) }

func TestNearlyAlike(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"Goldcap", "Goldcpa", true},
		{"Goldcap", "Goldcp", true},
		{"Goldcap", "Golldcap", true},
		{"Goldcap", "Goldsap", true},
		{"Tarn", "Tran", true},
		{"Pemmet white", "Pemet white", true},
		{"Pemmet white", "Pemmet whiet", true},
		{"Goldcap 2", "Goldcpa 2", true},
		{"Goldcap A", "Goldcpa A", true},
		{"Tarn slow 2", "Tarn solw 2", true},
		{"Polyurethane", "Polyuretan", true},
		{"Éclair", "Eclair", true},
		{"Dr. Beck", "Dr Beck", true},
		{"Gold cpa", "Goldcap", true},
		// Names of different things.
		{"Tarn A", "Tarn B", false},
		{"Tarn", "Tarn B", false},
		{"TarnA", "TarnB", false},
		{"Goldcapx", "Goldcapy", false},
		{"Goldcap", "Goldcapx", false},
		{"Mix 1", "Mix 2", false},
		{"Mix 1", "Mix 12", false},
		{"Mix 1-2", "Mix 12", false},
		{"Goldcap", "Goldcap 2", false},
		{"Goldcap A", "Goldcpa B", false},
		{"PVA-D3", "PVA-D4", false},
		{"20C", "30C", false},
		{"Tarn quick", "Tarn slow", false},
		{"Tarn quick", "Tarn thick", false},
		{"white oak", "white ash", false},
		{"alder", "elder", false},
		{"beech", "birch", false},
		{"ash", "oak", false},
		{"pine", "pane", false},
		{"dry", "wet", false},
		{"planed", "sanded", false},
		{"Fell", "Bell", false},
		{"Goldcap+", "Goldcap", false},
		{"+", "-", false},
		{"1.5", "1,5", false},
	} {
		if got, back := nearlyAlike(c.a, c.b), nearlyAlike(c.b, c.a); got != c.want || back != c.want {
			t.Errorf("%q and %q: %v, turned round %v, want %v", c.a, c.b, got, back, c.want)
		}
	}
}

func TestNearlyAlikeIsSymmetric(t *testing.T) {
	name := rapid.StringMatching(`[A-Ca-c12é .-]{0,12}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b := name.Draw(t, "a"), name.Draw(t, "b")
		if nearlyAlike(a, b) != nearlyAlike(b, a) {
			t.Fatalf("%q and %q", a, b)
		}
	})
}

// These stand before all other warnings.
func TestWarningsOfNamesNearlyAlike(t *testing.T) {
	text := "Adhesive,wood,prep,strength_mpa,failure,moisture_pct\n" +
		"Goldcap,sycamore,planed,8,CF,0.12\nGoldcpa,sycamroe,plained,8,CF,\nTarn A,ash,dry 1,8,CF,\nTarn B,ash,dry 2,8,CF,\n"
	const advice = " are nearly alike and count as two: if they are one, write its name in one way"
	got := mustRead(t, text, Options{Factors: []string{"prep"}}).Warnings
	want := []string{
		"column 'Adhesive': 'Goldcap' (line 2) and 'Goldcpa' (line 3)" + advice,
		"column 'wood': 'sycamore' (line 2) and 'sycamroe' (line 3)" + advice,
		"column 'prep': 'planed' (line 2) and 'plained' (line 3)" + advice,
		"no value of moisture_pct is above 1: percent are expected, 75 and not 0.75",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

// A column with a name of its own in each row costs no time that grows with the
// square of the rows, and no flood of warnings.
func TestManyNames(t *testing.T) {
	var b strings.Builder
	b.WriteString("adhesive,strength_mpa,failure\n")
	for i := range 100 {
		letters := string([]byte{'a' + byte(i/10), 'a' + byte(i%10)})
		b.WriteString("Gold" + letters + "capping,8,CF\n")
	}
	got := mustRead(t, b.String(), Options{}).Warnings
	if len(got) != mostAlike+1 || !strings.HasPrefix(got[mostAlike], "column 'adhesive': ") || !strings.HasSuffix(got[mostAlike], " more pairs of names are nearly alike") {
		t.Errorf("%d warnings, the last %q", len(got), got[len(got)-1])
	}
	for i := range mostCompared {
		b.WriteString("Tarn" + strings.Repeat("x", i) + ",8,CF\n")
	}
	if got := mustRead(t, b.String(), Options{}).Warnings; len(got) != 0 {
		t.Errorf("more names than are compared: %q", got)
	}
}
