package publish

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"bondtrial"
	"bondtrial/internal/answer"
)

// strengths are readings whose bonds broke, on a wood and with a level of gap.
func strengths(adhesive, wood, gap string, mpa ...float64) []bondtrial.Reading {
	var rs []bondtrial.Reading
	for i, s := range mpa {
		r := bondtrial.Reading{Specimen: bondtrial.Specimen{Code: fmt.Sprintf("%s %s %s %d", adhesive, wood, gap, i), Adhesive: adhesive, Wood: wood},
			Strength: bondtrial.Megapascal(s), MoisturePct: bondtrial.Percent(math.NaN())}
		if gap != "" {
			r.Factors = map[string]string{"gap": gap}
		}
		rs = append(rs, r)
	}
	return rs
}

// said is the answer in sentences.
func said(t *testing.T, rs []bondtrial.Reading, factors ...string) []string {
	t.Helper()
	set := answer.DefaultSettings()
	set.Draws, set.Factors = 4000, factors
	a, err := answer.Compute(context.Background(), rs, set)
	if err != nil {
		t.Fatal(err)
	}
	return NewWords(a, bondtrial.SI).Headline()
}

// The weakest of three is not "in between", though one of the others is not shown to
// be stronger than it: it is said which is. The readings are those of the demo's
// trial of last year.
func TestTheWeakestIsNotInBetween(t *testing.T) {
	rs := slices.Concat(
		strengths("Quavik foam", "ash", "", 9.95, 10.03, 9.72, 10.51, 7.43, 9.23),
		strengths("Nevik yellow", "ash", "", 7.35, 6.57, 8.6, 10.07, 7.23, 7.74),
		strengths("Pemmet white", "ash", "", 5.3, 7.38, 6.23, 6.05, 7.54, 6.77),
		strengths("Quavik foam", "larch", "", 10.45, 8.38, 6.48, 6.17, 8.6, 8.94),
		strengths("Nevik yellow", "larch", "", 6.19, 6.12, 8.3, 7.62, 7.51, 6.66),
		strengths("Pemmet white", "larch", "", 6.04, 4.85, 6.96, 5.9, 8.08, 6.28))
	s := strings.Join(said(t, rs), "\n")
	if strings.Contains(s, "in between") {
		t.Errorf("the weakest lies in between:\n%s", s)
	}
	for _, want := range []string{
		"In short: Quavik foam and Nevik yellow may be the strongest everywhere. Pemmet white nowhere: wherever broken, another is shown to be stronger.",
		"Pemmet white is weaker than Quavik foam, which is not shown against Nevik yellow.",
	} {
		if !strings.Contains(s, want) {
			t.Errorf("it is not said: %q\n%s", want, s)
		}
	}
}

// A level that says nothing alone comes with the name of its factor, and how often an
// adhesive is shown to be the strongest is said in full.
func TestLevelsWithTheirFactor(t *testing.T) {
	var rs []bondtrial.Reading
	for _, wood := range []string{"pine", "beech", "oak"} {
		for _, gap := range []string{"none", "0.3 mm"} {
			rs = append(rs, strengths("Tarn", wood, gap, 9, 9.4, 9.8, 9.2, 9.6)...)
			fell := []float64{5, 5.2, 5.4, 5.1, 5.3}
			if wood == "oak" {
				fell = []float64{9.1, 9.3, 9.5, 9.4, 9.7}
			}
			rs = append(rs, strengths("Fell", wood, gap, fell...)...)
		}
	}
	s := said(t, rs, "gap")
	all := strings.Join(s, "\n")
	for _, want := range []string{
		"Tarn may be the strongest everywhere (shown to be the strongest on four of the six pairs of wood and condition)",
		"On pine, gap none: Tarn is the strongest", "On beech, gap 0.3 mm: ", "joints with gap 0.3 mm are ", " times as strong as those with none ",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("it is not said: %q\n%s", want, all)
		}
	}
	if strings.Contains(all, "none joints") || strings.Contains(all, "none ones") {
		t.Errorf("levels without their factor:\n%s", all)
	}
}
