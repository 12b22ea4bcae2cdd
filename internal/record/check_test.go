package record_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

func ptr(x float64) *float64 { return &x }

// planCode stands for a specimen of the plan.
const planCode = "(of the plan)"

var checks = []struct {
	subject string
	c       record.Content
	field   string // empty: it is right
}{
	{"", record.Asked{Name: "Benches"}, ""},
	{"", record.Asked{Name: " \t\u200b"}, "name"},
	{"", record.Asked{Name: strings.Repeat("é", 81)}, "name"},
	{"", record.Asked{Name: strings.Repeat("é", 80)}, ""},
	{"", record.Asked{Name: "a\x00b"}, "name"},
	{"", record.Asked{Name: "a\xffb"}, "name"},
	{"", record.Asked{Name: "B", Question: long}, "question"},
	{"", record.Asked{Name: "B", File: file}, "file"},
	{"", record.Asked{Name: "B", Factors: []string{""}}, "factors"},
	{"", record.Asked{Name: "B", File: "name = \n\x00 no trial file"}, ""}, // is kept as it was typed
	{"T1", record.Added{Joint: joint}, ""},
	{"", record.Added{Joint: joint}, "code"},
	{strings.Repeat("T", 41), record.Added{Joint: joint}, "code"},
	{"T2", record.Added{}, "adhesive"},
	{"T2", record.Added{Joint: record.Joint{Adhesive: "Tarn", Wood: strings.Repeat("x", 81)}}, "wood"},
	{"T2", record.Added{Joint: record.Joint{Adhesive: "Tarn", Factors: map[string]string{"surface": "a\x01"}}}, "factors"},
	{"Total", record.Added{Joint: joint}, "code"},                                      // no table takes it
	{"T2", record.Added{Joint: record.Joint{Adhesive: "#REF!"}}, "adhesive"},           // nor that
	{planCode, record.Added{Joint: joint}, "code"},                                     // it is the plan's
	{"nobody", record.Glued{}, "code"},                                                 //
	{planCode, record.Broken{}, "peak"},                                                //
	{planCode, record.Broken{Strength: math.NaN()}, "peak"},                            //
	{planCode, record.Broken{Strength: math.Inf(1)}, "peak"},                           //
	{planCode, record.Broken{Strength: -8}, "peak"},                                    //
	{planCode, record.Broken{Strength: math.Copysign(0, -1)}, "peak"},                  //
	{planCode, record.Broken{Strength: -8, SetAside: "slipped"}, "peak"},               //
	{planCode, record.Broken{Strength: 500.1}, "peak"},                                 //
	{planCode, record.Broken{Strength: 9e-5}, "peak"},                                  //
	{planCode, record.Broken{Peak: 100, Strength: 8}, "unit"},                          //
	{planCode, record.Broken{Peak: 100, Unit: "stone", Strength: 8}, "unit"},           //
	{planCode, record.Broken{Peak: 100, Unit: "N", Strength: 0.5}, "areamm2"},          //
	{planCode, record.Broken{Peak: 100, Unit: "N", AreaMM2: 200, Strength: 5}, "peak"}, // 0.5 MPa it is
	{planCode, record.Broken{Peak: math.NaN(), Unit: "N", AreaMM2: 200, Strength: 5}, "peak"},
	{planCode, record.Broken{Peak: 1e308, Unit: "kN", AreaMM2: 1e-3, Strength: 5}, "peak"},
	{planCode, record.Broken{Peak: 2, Unit: "N", AreaMM2: -1, Strength: 5}, "peak"},
	{planCode, record.Broken{Peak: 200000, Unit: "N", AreaMM2: 200, Strength: 1000}, "peak"},
	{planCode, record.Broken{Strength: 8, WoodShare: ptr(101)}, "woodshare"},
	{planCode, record.Broken{Strength: 8, WoodShare: ptr(math.NaN())}, "woodshare"},
	{planCode, record.Broken{Strength: 8, Moisture: ptr(100.5)}, "moisture"},
	{planCode, record.Broken{Strength: 8, Failure: "ZZ"}, "failure"},
	{planCode, record.Broken{Strength: 8, SetAside: "no"}, "setaside"},
	{planCode, record.Broken{Strength: 8, Note: long}, "note"},
	{planCode, record.Broken{Strength: 8, GlueOrder: -1}, "order"},
	{planCode, record.Broken{Peak: 1000, Unit: "lbf", AreaMM2: 200, Strength: 1000 * 4.4482216152605 / 200}, ""}, // lbf: NIST SP 811, appendix B.8
	{planCode, record.Glued{Spread: at.Add(time.Second), Clamped: at}, "clamped"},
	{"Tarn", record.Marks{}, "spreads"},
	{"Tarn", record.Marks{Spreads: 6}, "spreads"},
	{"Tarn", record.Marks{Squeezes: -1}, "squeezes"},
	{"", record.Marks{Spreads: 3}, "adhesive"},
	{"Tarn", record.Marks{HoldsGap: 5}, ""},
	{"", record.Climate{Celsius: 81}, "celsius"},
	{"", record.Climate{Celsius: math.NaN()}, "celsius"},
	{"", record.Climate{Celsius: 18, Humidity: ptr(101)}, "humidity"},
	{"", record.Climate{Celsius: math.Copysign(0, -1), Humidity: ptr(45)}, ""},
	{"check 1", record.Cured{}, "hardness"},
	{"check 1", record.Cured{Hardness: 6}, "hardness"},
	{"check 1", record.Cured{Hardness: 5, Flexible: -2}, "flexible"},
	{"check 1", record.Cured{Adhesive: "Tarn", Hardness: 5}, ""},
	{planCode, record.Noted{Text: "a\x07"}, "text"},
	{planCode, record.Noted{Station: "glue", Text: "a\r\nb"}, ""},
	{"", record.PutAway{Why: long}, "why"},
	{"", record.Planned{}, "specimens"},
	{"Tarn", record.OnShelf{Family: "pva"}, ""},
	{"Tarn", record.OnShelf{}, "family"},
	{" ", record.OnShelf{Family: "pva"}, "name"},
	{"ash 1", record.OnRack{Wood: "ash", Name: "1", LengthMM: 900}, ""},
	{"ash 1", record.OnRack{Wood: "ash", Name: "1", LengthMM: -1}, "lengthmm"},
	{"ash 1", record.OnRack{Wood: "ash", Name: "1", Pieces: -1}, "pieces"},
	{"", rig, ""},
	{"", record.Rig{Name: "Lever", Unit: "cubit"}, "unit"},
	{"", record.Rig{Name: "Lever", Unit: "N", Limit: math.Inf(1)}, "limit"},
	{"", record.RigCheck{MassKG: 20, Shown: 196, Unit: "N"}, ""},
	{"", record.RigCheck{MassKG: 0, Shown: 196, Unit: "N"}, "masskg"},
	{"", record.RigCheck{MassKG: 20, Shown: 196, Unit: "MPa"}, "unit"},
	{"", record.Settings{Units: "si", Unit: "psi"}, ""},
	{"", record.Settings{Units: "imperial"}, "units"},
	{"", record.Settings{Units: "si", Unit: "?"}, "unit"},
	{"d1", record.DeviceMet{Name: "phone", TokenSum: "00"}, ""},
	{"d1", record.DeviceMet{Name: "phone"}, "tokensum"},
	{"a\x00b", record.Noted{Text: "x"}, "subject"},
	{strings.Repeat("s", 200), record.Noted{Text: "x"}, "subject"},
}

var (
	long, file = strings.Repeat("x", 4001), strings.Repeat("#", 1<<20+1)
	at         = time.Date(2027, 4, 12, 9, 0, 0, 0, time.UTC)
	joint      = record.Joint{Adhesive: "Tarn"}
	rig        = record.Rig{Name: "Lever", Unit: "N"}
)

// What cannot be right is refused with the field at fault and words; what is right
// is written.
func TestChecks(t *testing.T) {
	b := frametest.New(t)
	id := b.Benches(false)
	b.GlueAll(id)
	code := b.Trial(id).Specimens[0].Code
	for _, c := range checks {
		if c.subject == planCode {
			c.subject = code
		}
		in := id
		switch c.c.(type) {
		case record.OnShelf, record.OnRack, record.Rig, record.RigCheck, record.Settings, record.DeviceMet:
			in = ""
		}
		_, err := b.Book.Add(t.Context(), record.Who{By: "Ida"}, in, c.subject, c.c)
		if c.field == "" {
			if err != nil {
				t.Errorf("%T %+.60v: %v", c.c, c.c, err)
			}
			continue
		}
		var r *record.Refused
		if !errors.As(err, &r) || r.Field != c.field || r.Message == "" || strings.Contains(r.Message, "%!") {
			t.Errorf("%T %+.80v: %#v, want the field %s", c.c, c.c, err, c.field)
		}
	}
}

// A unit and its value give the strength that they give, by the definitions of the
// units (NIST SP 811, appendix B.8): 1 lbf is 4.448 221 615 260 5 N, 1 kgf is
// 9.806 65 N, 1 psi is 6.894 757 kPa.
func TestStrength(t *testing.T) {
	for _, c := range []struct {
		peak float64
		unit string
		area float64
		want float64
	}{
		{2140, "N", 200, 10.7}, {2.14, "kN", 200, 10.7}, {1000, "lbf", 1000, 4.4482216152605}, {100, "kgf", 98.0665, 10}, {8, "MPa", 0, 8}, {1000, "psi", 0, 6.894757},
	} {
		got, byArea, err := record.Strength(c.peak, c.unit, c.area)
		// 6.894 757 is given to seven digits.
		if err != nil || math.Abs(got-c.want) > 1e-7*c.want || byArea != (c.area > 0) {
			t.Errorf("%v %s over %v mm²: %v, %v, %v, want %v", c.peak, c.unit, c.area, got, byArea, err, c.want)
		}
	}
	for _, c := range []struct {
		unit string
		area float64
	}{{"", 200}, {"n", 200}, {"N", 0}, {"N", math.NaN()}, {"N", -1}} {
		if _, _, err := record.Strength(1, c.unit, c.area); err == nil {
			t.Errorf("%q over %v mm²: no error", c.unit, c.area)
		}
	}
	if x, err := record.Force(2, "kgf"); err != nil || x != 19.6133 {
		t.Errorf("2 kgf are %v N, %v", x, err)
	}
	if _, err := record.Force(2, "psi"); err == nil {
		t.Error("psi taken for a force")
	}
}

// A device's clock is believed where it is not ahead and not a week behind.
func TestWhen(t *testing.T) {
	at := time.Date(2027, 4, 12, 9, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		said time.Time
		want time.Time
	}{
		{time.Time{}, at}, {at, at}, {at.Add(-time.Hour), at.Add(-time.Hour)}, {at.Add(time.Second), at}, {at.AddDate(30, 0, 0), at},
		{at.AddDate(0, 0, -7).Add(time.Nanosecond), at.AddDate(0, 0, -7).Add(time.Nanosecond)}, {at.AddDate(0, 0, -7), at}, {at.AddDate(-50, 0, 0), at},
		{at.Add(-time.Hour).In(time.FixedZone("", 5*3600)), at.Add(-time.Hour)},
	} {
		if got := (record.Stamp{At: at, Said: c.said}).When(); !got.Equal(c.want) {
			t.Errorf("said %v: %v, want %v", c.said, got, c.want)
		}
	}
}

func TestSlug(t *testing.T) {
	for in, want := range map[string]string{
		"Benches": "benches", "  Benches, 2nd: Tarn & Fell! ": "benches-2nd-tarn-fell", "Čáp": "p", "木": "trial", "": "trial", "---": "trial", "../../etc": "etc",
		strings.Repeat("ab ", 40): "ab-ab-ab-ab-ab-ab-ab-ab-ab-ab-ab-ab-ab-a",
	} {
		if got := record.Slug(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
