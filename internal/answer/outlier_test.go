package answer

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"bondtrial"
)

// outOf returns the codes of the readings pointed out.
func outOf(a *Answer) string {
	var s []string
	for _, o := range a.Outliers {
		s = append(s, a.Readings[o.Reading].Code)
	}
	return strings.Join(s, " ")
}

// coded names readings A1, A2, ... on a wood, and the lines they stand on.
func coded(letter, wood string, rs []bondtrial.Reading) []bondtrial.Reading {
	for i := range rs {
		rs[i].Code, rs[i].Wood, rs[i].Line = fmt.Sprintf("%s%d", letter, i+1), wood, i+2
	}
	return rs
}

// Slips of the decimal point are named, also two in a small trial, and nothing else
// is. The slips are made here, so which they are is known.
func TestSlips(t *testing.T) {
	wood := func(rs []bondtrial.Reading, of ...int) []bondtrial.Reading {
		for _, i := range of {
			rs[i].WoodFailure = 100
		}
		return rs
	}
	for name, c := range map[string]struct {
		rs   []bondtrial.Reading
		want string
	}{
		"none":                 {slices.Concat(coded("A", "ash", readings("Tarn", 6, 7.2, 8.1, 9)), coded("B", "ash", readings("Fell", 9, 10, 11, 12))), ""},
		"one up, one cell":     {slices.Concat(coded("A", "ash", readings("Tarn", 6, 7.2, 86, 9)), coded("B", "ash", readings("Fell", 9, 10, 11, 12))), "A3"},
		"two up, two cells":    {slices.Concat(coded("A", "ash", readings("Tarn", 6, 7.2, 86, 9)), coded("B", "ash", readings("Fell", 9, 10, 112, 12))), "A3 B3"},
		"two up, one cell":     {slices.Concat(coded("A", "ash", readings("Tarn", 86, 7.2, 112, 9)), coded("B", "ash", readings("Fell", 9, 10, 11, 12))), "A1 A3"},
		"three readings":       {slices.Concat(coded("A", "ash", readings("Tarn", 7.2, 86, 9)), coded("B", "ash", readings("Fell", 9, 10, 11))), "A2"},
		"one down":             {slices.Concat(coded("A", "ash", readings("Tarn", 6, 0.72, 8.1, 9)), coded("B", "ash", readings("Fell", 9, 10, 11, 12))), "A2"},
		"up, the wood failed":  {slices.Concat(coded("A", "ash", wood(readings("Tarn", 6, 86, 8.1, 9), 1)), coded("B", "ash", readings("Fell", 9, 10, 11, 12))), "A2"},
		"up, wood every time":  {slices.Concat(coded("A", "ash", wood(readings("Tarn", 6, 86, 8.1, 9), 0, 1, 2, 3)), coded("B", "ash", readings("Fell", 9, 10, 11, 12))), "A2"},
		"twice, little spread": {slices.Concat(coded("A", "ash", readings("Tarn", 5, 5.4, 5.6, 6, 5.2, 12.8)), coded("B", "ash", readings("Fell", 5.1, 5.5, 6, 5.8, 6.2, 5))), "A6"},
		"twice, much spread":   {slices.Concat(coded("A", "ash", readings("Tarn", 4, 7, 6, 9, 5, 13)), coded("B", "ash", readings("Fell", 5, 9, 4, 7, 8, 12))), ""},
	} {
		a := compute(t, c.rs, quick())
		if got := outOf(a); got != c.want {
			t.Errorf("%s: %q is pointed out, want %q", name, got, c.want)
		}
		if c.want != "" && !strings.HasPrefix(a.Warnings[0], "Specimen ") {
			t.Errorf("%s: the first warning is %q", name, a.Warnings[0])
		}
	}
	a := compute(t, slices.Concat(coded("A", "ash", readings("Tarn", 6, 7.2, 86, 9)), coded("B", "ash", readings("Fell", 9, 10, 11, 12))), quick())
	// 86 over the middle of 6, 7.2 and 9.
	want := "Specimen A3 (Tarn on ash), line 4 of the table, reads 12 times the middle of the others like it: is the point in its place"
	if !warned(a, want) || math.Abs(a.Outliers[0].Ratio-86/7.2) > 1e-9 {
		t.Errorf("%v, %q", a.Outliers, a.Warnings)
	}
	if a.Counts.Used != 8 {
		t.Errorf("%d readings used: none is taken out", a.Counts.Used)
	}
}

// Adhesives broken under conditions with few of each are held against the others on
// their wood.
func TestSlipAmongFew(t *testing.T) {
	var rs []bondtrial.Reading
	for i, s := range []float64{6, 7, 6.5, 61, 9, 10, 11, 9.5} {
		r := broke([]string{"Tarn", "Fell"}[i/4], s)
		r.Code, r.Factors = fmt.Sprint(i), map[string]string{"prep": []string{"damp", "dry"}[i%4/2]}
		rs = append(rs, r)
	}
	set := quick()
	set.Factors = []string{"prep"}
	if got := outOf(compute(t, rs, set)); got != "3" {
		t.Errorf("%q is pointed out, want 3", got)
	}
}

// Readings as they come, without slips, are let be: of 100 trials with 20 % scatter
// at most one may have a reading pointed out.
func TestNoFalseSlips(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	wrong := 0
	for range 100 {
		var rs []bondtrial.Reading
		for i := range 16 {
			rs = append(rs, broke([]string{"Tarn", "Fell"}[i%2], math.Exp(2+0.2*rng.NormFloat64())))
		}
		if len(compute(t, rs, quick()).Outliers) > 0 {
			wrong++
		}
	}
	if wrong > 1 {
		t.Errorf("%d of 100 trials have a reading pointed out", wrong)
	}
}

func TestConditionNames(t *testing.T) {
	for _, c := range []struct {
		is           Condition
		name, spoken string
	}{
		{Condition{}, "the wood", "the wood"},
		{Condition{Wood: "ash", Factors: map[string]string{"surface": "damp"}}, "ash, damp", "ash, damp"},
		{Condition{Wood: "pine", Factors: map[string]string{"gap": "none"}}, "pine, gap: none", "pine, gap none"},
		{Condition{Wood: "beech", Factors: map[string]string{"gap": "0.3 mm", "surface": "dry"}}, "beech, gap: 0.3 mm, dry", "beech, gap 0.3 mm, dry"},
		{Condition{Factors: map[string]string{"primer": "Yes"}}, "primer: Yes", "primer Yes"},
		{Condition{Factors: map[string]string{"prep": "B"}}, "prep: B", "prep B"},
		{Condition{Factors: map[string]string{"glue line": "+0.1"}}, "glue line: +0.1", "glue line +0.1"},
	} {
		if c.is.String() != c.name || c.is.Spoken() != c.spoken {
			t.Errorf("%q, %q, want %q, %q", c.is.String(), c.is.Spoken(), c.name, c.spoken)
		}
	}
}
