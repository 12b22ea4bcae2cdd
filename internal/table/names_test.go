package table

import (
	"testing"
)

func TestCleaned(t *testing.T) {
	for in, want := range map[string]string{
		"":                  "",
		"Tarn":              "Tarn",
		"Tarn 2":            "Tarn 2",
		" Tarn":             "Tarn",
		"Tarn ":             "Tarn",
		"Tarn  2":           "Tarn 2",
		"Tarn\t2\n":         "Tarn 2",
		" ":                 "",
		"\u00a0Tarn\u00a02": "Tarn 2",
		"Bruyère":           "Bruyère",
		"Bruye\u0300re":     "Bruyère", // composed, Unicode Standard Annex 15
	} {
		if got := cleaned(in); got != want {
			t.Errorf("cleaned(%q) is %q, want %q", in, got, want)
		}
	}
}

func TestFolded(t *testing.T) {
	for _, c := range []struct {
		a, b string
		same bool
	}{
		{"Tarn", "tarn", true},
		{"Tarn 2", "tarn2", true},
		{"Tarn-2", "Tarn 2", true},
		{"Tarn_2", "Tarn–2", true},
		{"white ash", "White-Ash", true},
		{"Tarn", "Tarn\u200b", true}, // an invisible space
		{"ÉCLAIR", "éclair", true},
		{"Tarn", "Tarn 2", false},
		{"mix 1-2", "mix 12", false},
		{"1 2", "1-2", true},
		{"-", "_", false},
		{"Éclair", "Eclair", false},
	} {
		if got := folded(c.a) == folded(c.b); got != c.same {
			t.Errorf("%q and %q: the same is %v, want %v", c.a, c.b, got, c.same)
		}
	}
}

func TestNormalise(t *testing.T) {
	for in, want := range map[string]string{
		"Strength (MPa)":    "strength_mpa",
		"STRENGTH_MPA":      "strength_mpa",
		" strength [mpa] ":  "strength_mpa",
		"Wood failure %":    "wood_failure_pct",
		"wood-failure (%)":  "wood_failure_pct",
		"% wood failure":    "wood_failure_pct",
		"Wood Failure Pct.": "wood_failure_pct",
		"Area (mm²)":        "area_mm2",
		"Peak / N":          "peak_n",
		"moisture%":         "moisture_pct",
		"Area (mm^2)":       "area_mm2",
		"Stress (N/mm²)":    "stress_n_mm2",
		"%":                 "pct",
		"???":               "",
		"":                  "",
	} {
		if got := normalise(in); got != want {
			t.Errorf("normalise(%q) is %q, want %q", in, got, want)
		}
	}
}
