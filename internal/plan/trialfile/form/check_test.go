package form

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// wrong is a good form with a change, and what Check says of it: fields and
// messages, one a line.
type wrong struct {
	name   string
	change func(f *Form)
	want   string
}

func said(problems []Problem) string {
	var lines []string
	for _, p := range problems {
		lines = append(lines, p.Field+": "+p.Message)
	}
	return strings.Join(lines, "\n")
}

func checked(t *testing.T, list []wrong) {
	for _, c := range list {
		t.Run(c.name, func(t *testing.T) {
			f := good()
			c.change(f)
			_, problems := f.Check()
			if d := cmp.Diff(c.want, said(problems)); d != "" {
				t.Error(d)
			}
			checkForm(t, f)
		})
	}
}

func TestCheckNumbers(t *testing.T) {
	for _, c := range []struct{ typed, want string }{
		{"eight", "is no number: write digits, as in 12"},
		{"0", "must be a whole number from 1 to 10000"},
		{"8.5", "must be a whole number from 1 to 10000"},
		{"12,5", "has a comma: write the number with a point, 12.5"},
		{"1,500", "has a comma, which may be either: write 1.500 if decimals follow it, 1500 if it parts thousands"},
		{"1 000", "is parted in groups: write the digits without anything between them"},
		{"1,000,000", "is parted in groups: write the digits without anything between them"},
		{"900 mm", "has something behind the number: write the number alone, as in 12"},
		{"50 %", "has something behind the number: write the number alone, as in 12"},
		{"08", "write the number without the 0 before it: 8"},
		{"8.", "write the number without the point behind it: 8"},
		{".5", "write the number with a 0 before the point: 0.5"},
		{`"8"`, "write it without quotation marks, as in 12"},
		{"“8”", "write it without quotation marks, as in 12"},
		{"99999999999999999999", "is too large a number: check it"},
		{"1e999", "is too large a number: check it"},
		{"nan", "is no number: write digits, as in 12"},
	} {
		f := good()
		f.Work.Clamps = c.typed
		if _, problems := f.Check(); said(problems) != "work.clamps: "+c.want {
			t.Errorf("%s: %s, want %s", c.typed, said(problems), c.want)
		}
	}
	checked(t, []wrong{
		{"mm", func(f *Form) { f.Specimen.Length.MM = "900 mm" }, "specimen.length_mm: has something behind the number: write the number alone, in mm, as in 80"},
		{"inches", func(f *Form) { f.Woods[0].Length = Measure{In: "36 in"} }, "wood.0.length_in: has something behind the number: write the number alone, in inches, as in 36"},
		{"no inches", func(f *Form) { f.Woods[0].Length = Measure{In: "x"} },
			"wood.0.length_in: is no length in inches: write a number such as 1.5, or a fraction such as 1 1/2"},
		{"divided", func(f *Form) { f.Woods[0].Length = Measure{In: "1/0"} }, "wood.0.length_in: is divided by 0: write it as in 36"},
		{"percent", func(f *Form) { f.Scatter = "14 %" }, "scatter_pct: has something behind the number: write the number alone, in percent, as in 14"},
		{"auto", func(f *Form) { f.PerCell = "many" }, "specimens_per_cell: is no number: write digits, as in 6, or auto"},
		{"both", func(f *Form) { f.Woods[0].Length.In = "36" }, "wood.0.length_in: says the same as “Length along the grain”: keep one of them"},
		{"spaces", func(f *Form) { f.Work.Clamps, f.PerCell, f.Woods[0].Width = " 12 ", "AUTO", Measure{In: " 4 3/4"} }, ""},
	})
}

func TestCheckMissing(t *testing.T) {
	const sections = `name: is missing: write it as in Glue for benches
specimen.joint: is missing: choose one
specimen.length_mm: is missing: write it as in 80
specimen.width_mm: is missing: write it as in 20
specimen.thickness_mm: is missing: write it as in 8
work.start: is missing: write it as in 2027-04-12
work.time_zone: is missing: write it as in Europe/Berlin`
	first, rest, _ := strings.Cut(sections, "\n")
	checked(t, []wrong{
		{"everything", func(f *Form) { *f = Form{} }, ": there is no adhesive: add two or more, which the trial is to compare\n: there is no wood: add one\n" + sections},
		{"every row", func(f *Form) { *f = Form{Adhesives: make([]Adhesive, 2), Woods: make([]Wood, 1)} },
			first + "\nadhesive.0.name: is missing: a trial compares two adhesives or more\nwood.0.name: is missing: a trial needs a wood\n" + rest},
		{"an adhesive", func(f *Form) { f.Adhesives = f.Adhesives[:1] }, "adhesive.0.name: is alone: a trial compares two adhesives or more, add another"},
		{"the row of one", func(f *Form) { f.Adhesives[1] = Adhesive{} }, "adhesive.1.name: is missing: a trial compares two adhesives or more"},
		{"in inches", func(f *Form) { f.Units, f.Woods[0].Length, f.Woods[0].Thickness = "us", Measure{}, Measure{} },
			"wood.0.length_in: is missing beside “Width”: write it as in 36\nwood.0.thickness_in: is missing beside “Width”: write it as in 1"},
		{"boards", func(f *Form) { f.Woods[0] = Wood{Name: "ash"} },
			"wood.0.boards: is missing: write how many boards there are and the size of one, or add each board, or pieces that are used again"},
		{"size", func(f *Form) { f.Woods[0] = Wood{Name: "ash", Boards: "3"} },
			"wood.0.length_mm: is missing: write the length, width and thickness of one board, or how many pieces it gives"},
		{"overlap", func(f *Form) { f.Specimen.Overlap.MM = "" }, "specimen.overlap_mm: is missing: write how far the pieces overlap along the grain, or the bonded area"},
		{"clamps", func(f *Form) { f.Work.Clamps = "" },
			"work.clamps: is missing, and adhesive Tarn is clamped for 1 h: write how many specimens can be under pressure at once, as in 12"},
		{"usual", func(f *Form) { f.Adhesives[0].Family = "casein" }, `adhesive.0.open: is missing, and nothing is usual for the family casein: write it as in 10 min, from the label
adhesive.0.clamp: is missing, and nothing is usual for the family casein: write it as in 1 h, or none, from the label
adhesive.0.cure: is missing, and nothing is usual for the family casein: write it as in 7 d, from the label`},
		{"strength", func(f *Form) { f.Woods[0].Name = "unobtainium" },
			"wood.0.strength: is missing, and the handbook's table has no such wood: write what the wood itself is likely to bear in the joint, as in 12 MPa, or unknown"},
		{"content", func(f *Form) { f.Adhesives[0].Price = "8.90 EUR" }, "adhesive.0.content: is missing beside the price: write it as in 500 g"},
		{"rows", func(f *Form) {
			f.Boards, f.Reused, f.Factors = []Board{{Name: "A"}}, []Reused{{Wood: "ash"}}, []Factor{{Ratio: "1"}, {Name: "surface", Levels: [2]string{"dry"}}}
		},
			`board.0.wood: is missing: choose one
board.0.length_mm: is missing: write the length, width and thickness of one board, or how many pieces it gives
reused.0.pieces: is missing: write it as in 24
reused.0.thickness_mm: is missing: write it as in 9
reused.0.uses: is missing: write it as in 1
factor.0.name: is missing: write it as in surface
factor.0.levels.0: is missing: write it as in dry
factor.1.levels.1: is missing: write it as in damp`},
	})
}

func TestCheckValues(t *testing.T) {
	checked(t, []wrong{
		{"nothing", func(f *Form) {}, ""},
		{"top", func(f *Form) {
			f.Units, f.Blind, f.Control, f.Pairs, f.Chance = "mm", "perhaps", "Tarm", "surface", "10"
		}, `units: unknown units mm: write si (MPa) or us (psi)
blind: must be yes or no
control: is no adhesive of the trial: is Tarn meant?
chance_pct: must be a number from 50 to 99
pairs: is no factor of the trial: there is no factor with a name`},
		{"times", func(f *Form) {
			f.Adhesives[0].Open, f.Adhesives[0].Clamp, f.Adhesives[1].Open = "20", "1,5 h", `"20 min"`
		},
			`adhesive.0.open: has no unit: write a time with its unit, such as 20 min, 24 h, 7 d or 1 h 30 min
adhesive.0.clamp: write the number with a point, as in 1.5 h
adhesive.1.open: write it without quotation marks, as in 10 min`},
		{"unit of time", func(f *Form) { f.Adhesives[0].Open = "2 foo" },
			"adhesive.0.open: has the unit foo, which is not known: write a time with its unit, such as 20 min, 24 h, 7 d or 1 h 30 min"},
		{"too quick", func(f *Form) { f.Adhesives[0].Open, f.Work.GlueUp = "1 min", "4 min" },
			"adhesive.0.open: the open time, 1 min, is 3 min too short for one glue-up, 4 min (“Hands on one glue-up”): be quicker, or take an adhesive that leaves more time"},
		{"texts", func(f *Form) {
			f.Adhesives[0].Strength, f.Adhesives[1].Strength, f.Adhesives[1].Content = "8,5 MPa", "8", "3 foo"
		},
			`adhesive.0.strength: has a comma: write the number with a point, as in 8.5 MPa
adhesive.1.content: has a unit that is not known: write it in g, kg, ml or l, as in 500 g or 290 ml
adhesive.1.strength: is no strength above 0 with its unit: write it as in 8 MPa or 1200 psi`},
		{"names", func(f *Form) { f.Adhesives[1].Name, f.Woods[0].Name = "tar-n", "a\x00sh" },
			"adhesive.1.name: is there twice, first in adhesive 1: names must differ by more than capitals, spaces and hyphens\nwood.0.name: holds a line break or another invisible character: remove it"},
		{"boards", func(f *Form) {
			f.Boards = []Board{{Wood: "oak", Pieces: "3"}, {Wood: "ash", Name: "x", Pieces: "4"}, {}, {Wood: "ash", Name: "X", Pieces: "4"}, {Wood: "ash", Name: "2", Pieces: "4"}}
		}, `board.0.wood: is no wood of the trial; there are: ash
board.3.name: is there twice within ash, first in board 2: give each board of a wood its own name
board.4.name: is there twice within ash, first in wood 1: give each board of a wood its own name`},
		{"small boards", func(f *Form) {
			f.Woods[0].Thickness.MM = "7"
			f.Boards = []Board{{Wood: "ash", Length: Measure{In: "1"}, Width: Measure{MM: "90"}, Thickness: Measure{MM: "9"}}}
		}, "wood.0.thickness_mm: is 1 mm too thin for one piece: it has 7 mm, a piece needs 8 mm\nboard.0.length_in: is 54.6 mm too short for one piece: it has 25.4 mm, a piece needs 80 mm"},
		{"little wood", func(f *Form) { f.Woods[0].Boards, f.Woods[0].Length.MM, f.Woods[0].Width.MM = "1", "80", "20" },
			"wood.0.boards: its boards give at most 2 pieces, and the trial needs at least 8 (two for each specimen; two in each cell, the least there is): 6 short"},
		{"many boards", func(f *Form) {
			f.Woods[0].Boards = "999"
			f.Boards = slices.Repeat([]Board{{Wood: "ash", Pieces: "4"}}, 2)
		},
			": there are 1001 boards, and a trial has at most 1000"},
		{"thin", func(f *Form) { f.Reused = []Reused{{Wood: "ash", Pieces: "5", Uses: "1", Thickness: Measure{MM: "7"}}} },
			"reused.0.thickness_mm: is too thin to be used again: after planing 0.5 mm off, 6.5 mm are left, 1.5 mm less than “Thinnest piece that is still used”, 8 mm"},
		{"factors", func(f *Form) {
			f.Factors = []Factor{{Name: "board", Levels: [2]string{"a", "A"}}, {Name: "x", Levels: [2]string{"a", strings.Repeat("b", 61)}}}
		}, `factor.0.name: has a meaning of its own in a trial: give the factor another name
factor.0.levels.1: has the same level twice, a: a factor has two that differ
factor.1.levels.1: has 61 letters and signs, and a label has room for 60: shorten it`},
		{"specimen", func(f *Form) { f.Specimen.Joint, f.Specimen.Area.MM = "lapp", "5" },
			"specimen.joint: is no kind of joint that is known: write block-shear, lap, butt or cross-lap\nspecimen.area_mm2: says the same as “Overlap along the grain”: keep one of them"},
		{"work", func(f *Form) {
			f.Work = Work{Start: "12.4.2027", TimeZone: "Local", DaysOff: "2027-05-01\n\nin May", Clamps: "12", OneCartridge: "2", Temperature: "3"}
		}, `adhesive.0.lowest_temperature_c: the shop, at 3 °C, is 7 °C too cold for it: it needs 10 °C
adhesive.1.lowest_temperature_c: the shop, at 3 °C, is 7 °C too cold for it: it needs 10 °C
work.start: is no date: write year, month and day, as in 2027-04-12
work.time_zone: differs from computer to computer: write a place of the zone as in Europe/Berlin or America/New_York, or UTC
work.days_off: in May is no date: write year, month and day, as in 2027-04-12
work.one_cartridge: must be yes or no`},
		{"slow", func(f *Form) { f.Work.Break = "9 h" }, "work.break: one break takes 9 h, which is 1 h longer than the longest stretch of work, 8 h"},
		{"no hours", func(f *Form) { f.Work.Hours.Monday = "off" }, "work.hours.weekdays: has no working hours at all: write some, as in 9:00-17:00"},
		{"hours", func(f *Form) { f.Work.Hours.Friday = "9am-3pm" },
			"work.hours.friday: has am or pm: write from-to on the 24-hour clock, as in 9:00-12:00, 13:00-17:00, or off"},
		{"labels", func(f *Form) { f.Labels.Page, f.Labels.Rows = "A5", "100" }, "labels.page: is no page that is known: write A4 or letter\nlabels.rows: must be a whole number from 1 to 60"},
		{"small labels", func(f *Form) { f.Labels.Columns = "10" },
			"labels.columns: a label would be 19 mm wide, 17 mm less than a readable one, 36 mm: take fewer columns, or smaller margins and gaps"},
		{"long", func(f *Form) { f.Question = strings.Repeat("x", 1<<20) },
			": the texts of the form are longer together than the 1024 KiB that a trial may have: shorten them"},
		{"unknown", func(f *Form) {
			f.Unknown = []Unknown{{"adhesive.0", "clmap", "1 h"}, {"work", "x", "y"}, {"factor.0", "levels.2", "c"}, {"work.hours", "mnday", "off"}, {"", "work", "1"}}
		}, `unknown.0.value: stood in the file under clmap, which no trial file has: is Time under clamps meant? Put it there, and empty this field
unknown.1.value: stood in the file under x, which no trial file has: put it where it belongs, and empty this field
unknown.2.value: stood in the file under levels.2, and a factor has two levels: empty this field
unknown.3.value: stood in the file under mnday, which no trial file has: is Monday meant? Put it there, and empty this field
unknown.4.value: stood in the file under work, which no trial file has: put it where it belongs, and empty this field`},
	})
}

// What only a file has: lines, keys, quotation marks as part of a value, headers.
var ofAFile = regexp.MustCompile(`"|on line \d|in quotation marks|\[|\]| = |_|trial-file|bondtrial|TOML`)

// Whatever is typed, the messages are those of a form.
func TestMessagesFitAForm(t *testing.T) {
	typed := rapid.SampledFrom([]string{"", "", "", "eight", "8", "0", "-1", "8.5", "1e9", "12,5", "20 min", "1-2 h", "none", "1 h", "9999 d", "ash", "oak", "Tarn", "tarn", "surface", "board",
		"pva", "casein", "contact", "lap", "butt", "si", "8 MPa", "8 €", "500 g", "3 foo", "2027-04-12", "2027-02-30", "2027-05-02 to 2027-05-01", "Local", "UTC", "Mars/Base", "9-17", "17-9", "9am", "off",
		"true", "maybe", "A4", "A5", "1/2", "1/0", "x\ny", "\x07", strings.Repeat("z", 70), "🪵"})
	rapid.Check(t, func(t *rapid.T) {
		f := good()
		for range rapid.IntRange(0, 2).Draw(t, "rows") {
			f.Boards, f.Reused, f.Factors = append(f.Boards, Board{Wood: "ash"}), append(f.Reused, Reused{Wood: "ash"}), append(f.Factors, Factor{Name: "f"})
		}
		var all []*string
		every(f, func(_ string, to *string) { all = append(all, to) })
		for range rapid.IntRange(1, 30).Draw(t, "changes") {
			*rapid.SampledFrom(all).Draw(t, "field") = typed.Draw(t, "typed")
		}
		checkForm(t, f)
		_, problems := f.Check()
		for _, p := range problems {
			text := strings.ReplaceAll(p.Message, "New_York", "")
			if m := ofAFile.FindString(text); m != "" {
				t.Fatalf("%s: %q in %s", p.Field, m, p.Message)
			}
		}
	})
}

// A field shows its problems, its choices, and inches where they are typed.
func TestFields(t *testing.T) {
	f := good()
	f.Units, f.Factors = "us", []Factor{{Name: "surface"}}
	f.Specimen.Overlap = Measure{}
	f.Work.Clamps = "eight"
	parts := f.Fields(Problem{"work.clamps", "is wrong"}, Problem{"", "is elsewhere"}, Problem{"work.clamps", "is still wrong"})
	of := func(part string) Part {
		i := slices.IndexFunc(parts, func(p Part) bool { return p.Name == part })
		if i < 0 {
			t.Fatalf("no part %q", part)
		}
		return parts[i]
	}
	want := Field{Name: "work.clamps", Label: "Specimens under pressure at once", Kind: Whole, Value: "eight", Example: "12", Problems: []string{"is wrong", "is still wrong"}}
	if d := cmp.Diff(want, of("work").Field("clamps")); d != "" {
		t.Error(d)
	}
	s := of("specimen")
	if !s.Field("length_in").Spare || s.Field("length_mm").Spare || s.Field("overlap_in").Spare || !s.Field("overlap_mm").Spare || s.Field("area_in2").Unit != "in²" {
		t.Errorf("spare: %+v", s)
	}
	if got := fmt.Sprint(of("").Field("control").Choices, of("").Field("pairs").Choices, of("adhesive.1").Title); got != "[{Tarn Tarn} {Fell Fell}] [{off off} {surface surface}]Adhesive 2" {
		t.Error(got)
	}
	defer func() {
		if r := recover(); r != "form: no such field in the part" {
			t.Errorf("panic %v", r)
		}
	}()
	s.Field("clamps")
}
