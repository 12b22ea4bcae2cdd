package plan

import (
	"strings"
	"testing"
)

// Numbers of pieces are written as short as they can be read.
func TestRanges(t *testing.T) {
	for _, c := range []struct {
		numbers []int
		want    string
	}{{nil, ""}, {[]int{3}, "3"}, {[]int{2, 1}, "1, 2"}, {[]int{3, 1, 2, 2}, "1–3"}, {[]int{1, 2, 3, 5, 7, 8}, "1–3, 5, 7, 8"}} {
		if got := ranges(c.numbers); got != c.want {
			t.Errorf("%v is written %q, want %q", c.numbers, got, c.want)
		}
	}
}

// What is perfect is said in words.
func TestPrecision(t *testing.T) {
	for _, c := range []struct {
		efficiency, bound float64
		want              string
	}{
		{1, 1, "as precise as with boards that do not differ"},
		{0.9996, 1, "as precise as with boards that do not differ"},
		{0.91, 0.91, "have 91.0 % of the precision that boards without differences would give; no dealing gives more."},
		{0.91, 0.934, "no dealing gives more than 93.4 %."},
	} {
		if got := precision(c.efficiency, c.bound); !strings.Contains(got, c.want) || strings.Contains(got, "100.0") {
			t.Errorf("%v of %v: %s", c.efficiency, c.bound, got)
		}
	}
}

// A chance that is less than what is wanted comes with what would reach it.
func TestRemedy(t *testing.T) {
	var n numbers
	add := func(k int, wood string, found float64) {
		n.Numbers = append(n.Numbers, struct {
			N         int      `json:"n"`
			Wood      string   `json:"wood"`
			Found     float64  `json:"found"`
			FoundSE   float64  `json:"found_se"`
			Same      float64  `json:"same"`
			WoodLimit float64  `json:"wood_limited"`
			Interval  *float64 `json:"interval_ratio"`
		}{N: k, Wood: wood, Found: found})
	}
	add(4, "ash", 0.5)
	add(5, "ash", 0.85)
	add(5, "oak", 0.7) // on each wood it must be reached
	add(6, "ash", 0.9)
	add(6, "oak", 0.83)
	b := beside{Wanted: 80, Difference: 15}
	if got := n.remedy(4, &b, 0); !strings.Contains(got, "With 6 specimens of each it would be 83 %.") {
		t.Error(got)
	}
	if got := n.remedy(4, &b, 3); strings.Contains(got, "At Ask") || !strings.Contains(got, "a further trial") {
		t.Error(got)
	}
	b.Wanted = 95
	if got := n.remedy(4, &b, 0); !strings.Contains(got, "No number that was simulated reaches that, up to 6 of each") || !strings.Contains(got, "larger difference than 15 %") {
		t.Error(got)
	}
}
