package trialfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"bondtrial"
)

var sameTrial = cmp.Options{
	cmp.Comparer(func(a, b Celsius) bool { return a == b || math.IsNaN(float64(a)) && math.IsNaN(float64(b)) }),
	cmp.Comparer(func(a, b *time.Location) bool { return fmt.Sprint(a) == fmt.Sprint(b) }),
}

// clock times of a day
func at(hours ...int) (spans []Span) {
	for i := 0; i < len(hours); i += 2 {
		spans = append(spans, Span{time.Duration(hours[i]) * time.Hour, time.Duration(hours[i+1]) * time.Hour})
	}
	return spans
}

// The values are those that stand in example.toml.
func TestExample(t *testing.T) {
	got := mustRead(t, string(Example()))
	for i := range got.Adhesives {
		got.Adhesives[i].Line = 0
	}
	for i := range got.Woods {
		got.Woods[i].Line = 0
	}
	for i := range got.Boards {
		got.Boards[i].Line = 0
	}
	got.Reused[0].Line, got.Factors[0].Line = 0, 0
	ash := func(name string) Board {
		return Board{Wood: "ash", Name: name, Length: 1000, Width: 130, Thickness: 26}
	}
	long := at(8, 12, 13, 17)
	want := &Trial{
		Name:     "Glue for benches, spring",
		Question: "Which glue should be in the van for outdoor benches, and does it matter that faces are damp?",
		Units:    bondtrial.SI,
		Seed:     2027,
		Blind:    true,
		Adhesives: []Adhesive{
			{Name: "Pemmet white", Family: "pva", Open: 8 * time.Minute, Closed: 5 * time.Minute, Clamp: time.Hour, Cure: 7 * day, Lowest: 10,
				Price: Money{8.9, "EUR"}, Content: Content{500, "g"}, Strength: 6.6, Retested: true},
			{Name: "Quavik foam", Family: "polyurethane", Open: 12 * time.Minute, Clamp: 4 * time.Hour, Cure: 14 * day, Lowest: 8,
				Price: Money{14.5, "EUR"}, Content: Content{250, "g"}, Strength: 9.6, Retested: true},
			{Name: "Ombrin two-part", Family: "epoxy", Open: 30 * time.Minute, Clamp: 12 * time.Hour, Cure: 7 * day, Lowest: 15,
				Price: Money{27, "EUR"}, Content: Content{400, "ml"}, Strength: 10.8, PerBatch: 8},
			{Name: "Rastel flex", Family: "construction", Open: 15 * time.Minute, Clamp: day, Cure: 14 * day, Lowest: noLowest,
				Price: Money{6.2, "EUR"}, Content: Content{290, "ml"}, Strength: 3.4, PerBatch: 40},
		},
		Control: "Pemmet white",
		Woods:   []Wood{{Name: "ash", Strength: 13}, {Name: "larch", Strength: 9}},
		Boards: []Board{ash("1"), ash("2"), ash("3"), ash("4"), ash("5"), ash("6"),
			{Wood: "larch", Name: "L1", Length: 1400, Width: 95, Thickness: 27},
			{Wood: "larch", Name: "L2", Length: 1100, Width: 140, Thickness: 27},
			{Wood: "larch", Name: "L3", Length: 1250, Width: 120, Thickness: 27},
			{Wood: "larch", Name: "L4", Pieces: 24}},
		Reused:             []Reused{{Wood: "ash", Board: "old 2", Pieces: 16, Thickness: 8.5, Uses: 1}},
		Factors:            []Factor{{Name: "surface", Levels: [2]string{"dry", "damp"}, Ratio: 0.95}},
		Pairs:              "surface",
		SmallestDifference: 25, Scatter: 14, Chance: 80,
		Specimen: Geometry{Joint: Lap, Length: 80, Width: 20, Thickness: 8, Overlap: 12, Area: 240},
		Cutting:  Cutting{Kerf: 3, Planing: 0.5, LeastThickness: 7.5},
		Work: Work{
			Start: Date{2027, time.April, 12}, Location: time.FixedZone("Europe/Berlin", 0),
			Hours:   [7][]Span{nil, long, long, long, long, at(8, 13), nil},
			DaysOff: []Date{{2027, time.May, 1}, {2027, time.May, 13}, {2027, time.May, 14}},
			Clamps:  24, GlueUp: 4 * time.Minute, Break: 3 * time.Minute, Temperature: 18, OneCartridge: true,
		},
		Labels: LabelSheet{"A4", 210, 297, 8, 3, 10, 10, 7, 7, 2, 0},
		// Only the lowest temperature of the construction adhesive is left
		// out, and for that nothing is usual.
		Assumed: nil,
	}
	if d := cmp.Diff(want, got, sameTrial); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
	// 4 adhesives on 2 woods at 2 levels
	if got.Conditions() != 2 {
		t.Errorf("%d conditions, want 2", got.Conditions())
	}
}

// Every key there is stands in the example, and is explained at its first use.
func TestExampleHasEveryKey(t *testing.T) {
	text := string(Example())
	// The example gives the area as an overlap, the handbook's strength as a
	// number, and hours for the week: these keys are named in a remark or are
	// days of the week.
	days := []string{"monday", "tuesday", "wednesday", "thursday", "sunday"}
	for _, l := range levels {
		for _, k := range l.keys {
			name := k.spellings()[0]
			if slices.Contains(days, name) {
				continue
			}
			if !strings.Contains(text, "\n"+name+" = ") && !strings.Contains(text, "["+name+"]") && !strings.Contains(text, "["+"work."+name+"]") &&
				name != "area_mm2" && name != "pieces_per_board" {
				t.Errorf("%s %s is not in the example", l.show, name)
			}
			if !strings.Contains(text, name) {
				t.Errorf("%s %s is not even named in the example", l.show, name)
			}
		}
	}
	for _, f := range Families() {
		if !strings.Contains(text, string(f)) {
			t.Errorf("family %s is not named in the example", f)
		}
	}
	for i, line := range strings.Split(text, "\n") {
		if len(line) > 100 && !strings.HasPrefix(line, "question") {
			t.Errorf("line %d is too long for a small window", i+1)
		}
	}
}

// A change of what Example returned leaves the next one alone.
func TestExampleIsACopy(t *testing.T) {
	clear(Example())
	mustRead(t, string(Example()))
}

// The minimal file, with everything that is taken for it. The values are those of
// defaults.go; 12.4 MPa is the mean of the handbook's shear strengths at 12 % of
// white, black, green and Oregon ash: 13 200 kPa, and 1570, 1910 and 1790 psi
// (Wood Handbook, tables 5-3a and 5-3b, as built into internal/wood), which are
// 13.20, 10.82, 13.17 and 12.34 MPa.
func TestMinimal(t *testing.T) {
	got := mustRead(t, minimal)
	var lines []string
	for _, a := range got.Assumed {
		lines = append(lines, a.What+" = "+a.Value)
	}
	want := []string{
		"seed = 1",
		"smallest_difference_pct = 15",
		"scatter_pct = 14",
		"chance_pct = 80",
		"[cutting]: kerf_mm = 3",
		"[cutting]: planing_mm = 0.5",
		"[cutting]: least_thickness_mm = 8",
		`adhesive "Tarn": open = 5 min`,
		`adhesive "Tarn": clamp = 1 h`,
		`adhesive "Tarn": cure = 7 d`,
		`adhesive "Tarn": lowest_temperature_c = 10`,
		`adhesive "Fell": open = 10 min`,
		`adhesive "Fell": clamp = 4 h`,
		`adhesive "Fell": cure = 14 d`,
		`adhesive "Fell": lowest_temperature_c = 10`,
		`wood "ash": strength = 12.4 MPa`,
		"[work]: glue_up = 4 min",
		"[work]: break = 3 min",
		"[work]: hours = Monday to Friday 9:00-17:00",
		"[labels] = A4, 3 by 8 labels, margins of 10 mm",
	}
	if d := cmp.Diff(want, lines); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
	for _, a := range got.Assumed {
		if a.Source == "" {
			t.Errorf("%s has no source", a.What)
		}
	}
	if !got.Blind || got.Pairs != "" || got.Control != "" || got.SpecimensPerCell != 0 || got.Work.OneCartridge {
		t.Errorf("blind %v, pairs %q, control %q, %d specimens, one cartridge %v", got.Blind, got.Pairs, got.Control, got.SpecimensPerCell, got.Work.OneCartridge)
	}
	tarn := Adhesive{Name: "Tarn", Family: "pva", Open: 5 * time.Minute, Clamp: time.Hour, Cure: 7 * day, Lowest: 10, Line: 3}
	if d := cmp.Diff(tarn, got.Adhesives[0], sameTrial); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
	want9 := at(9, 17)
	if d := cmp.Diff([7][]Span{nil, want9, want9, want9, want9, want9, nil}, got.Work.Hours); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
	if d := cmp.Diff(LabelSheet{"A4", 210, 297, 8, 3, 10, 10, 10, 10, 0, 0}, got.Labels); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
}

// One trial in many ways of writing it.
func TestWaysOfWriting(t *testing.T) {
	want := mustRead(t, minimal)
	for _, c := range []struct{ name, text string }{
		{"byte-order mark", "\xef\xbb\xbf" + minimal},
		{"CRLF", strings.ReplaceAll(minimal, "\n", "\r\n")},
		{"CR", strings.ReplaceAll(minimal, "\n", "\r")},
		{"no end of line at the end", strings.TrimSuffix(minimal, "\n")},
		{"quoted date", with(t, "2027-04-12", `"2027-04-12"`)},
		{"other units of time", with(t, `family = "pva"`, `family = "pva" # a remark`)},
		{"literal quotation marks", strings.ReplaceAll(minimal, `"`, "'")},
		{"underscores", with(t, "length_mm = 900", "length_mm = 9_00")},
		{"a float", with(t, "length_mm = 900", "length_mm = 9.0e2")},
		{"family in capitals", with(t, `"pva"`, `"PVA"`)},
		{"space around a name", with(t, `"Tarn"`, `"  Tarn "`)},
		{"pairs off", with(t, `name = "Benches"`, `name = "Benches"`+"\t \npairs = \"off\"\nblind = \"yes\"\n")},
		{"pairs false", with(t, `name = "Benches"`, `name = "Benches"`+"\npairs = false\nspecimens_per_cell = \"auto\"\n")},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := mustRead(t, c.text)
			if d := cmp.Diff(want, got, sameTrial, cmpopts.IgnoreFields(Adhesive{}, "Line"), cmpopts.IgnoreFields(Wood{}, "Line"), cmpopts.IgnoreFields(Board{}, "Line")); d != "" {
				t.Errorf("(-want +got)\n%s", d)
			}
		})
	}
}

// Inches come out in mm: 3/4, 1 1/2 and 36 inches are 19.05, 38.1 and 914.4 mm, an
// inch being 25.4 mm by definition.
func TestInches(t *testing.T) {
	got := mustRead(t, with(t, "length_mm = 900\nwidth_mm = 120\nthickness_mm = 25", "length_in = 36\nwidth_in = \"1 1/2\"\nthickness_in = \"3/4\"",
		"overlap_mm = 10", "area_in2 = 0.25"))
	b := got.Boards[0]
	// Products of two decimal fractions: exact to a few units in the last place.
	near := cmpopts.EquateApprox(1e-14, 0)
	if d := cmp.Diff([]float64{914.4, 38.1, 19.05}, []float64{float64(b.Length), float64(b.Width), float64(b.Thickness)}, near); d != "" {
		t.Error(d)
	}
	// A quarter of a square inch: 25.4² / 4 = 161.29 mm².
	if d := cmp.Diff(161.29, float64(got.Specimen.Area), near); d != "" {
		t.Error(d)
	}
}

// The bond of each kind of joint, of pieces of 80 by 20 by 8 mm: worked by hand.
func TestBondedArea(t *testing.T) {
	for _, c := range []struct {
		joint, bond string
		area        bondtrial.SquareMillimetre
		overlap     Millimetre
	}{
		{"lap", "overlap_mm = 10", 200, 10},
		{"block-shear", "overlap_mm = 12.5", 250, 12.5},
		{"lap", "area_mm2 = 150", 150, 0},
		{"butt", "", 160, 0},
		{"cross-lap", "", 400, 0},
		{"cross-lap", "area_mm2 = 225", 225, 0},
	} {
		g := mustRead(t, with(t, `"lap"`, `"`+c.joint+`"`, "overlap_mm = 10", c.bond, `name = "ash"`, "name = \"ash\"\nstrength = \"unknown\"")).Specimen
		if g.Area != c.area || g.Overlap != c.overlap || string(g.Joint) != c.joint {
			t.Errorf("%s, %s: area %v, overlap %v", c.joint, c.bond, g.Area, g.Overlap)
		}
	}
}

// Boards without a name take the numbers that are free within their wood, and all
// come out in the order of the woods.
func TestBoardNames(t *testing.T) {
	got := mustRead(t, with(t, "[specimen]", `[[wood]]
name = "larch"

[[board]]
wood = "larch"
name = "2"
pieces = 9

[[board]]
wood = "larch"
pieces = 9

[[board]]
wood = "ash"
pieces = 9

[[board]]
wood = "larch"
pieces = 9

[specimen]`))
	var all []string
	for _, b := range got.Boards {
		all = append(all, b.Wood+" "+b.Name)
	}
	if got, want := strings.Join(all, ", "), "ash 1, ash 2, ash 3, ash 4, ash 5, larch 2, larch 1, larch 3"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestWoodStrength(t *testing.T) {
	for _, c := range []struct {
		write string
		want  bondtrial.Megapascal
	}{
		{`strength = "unknown"`, 0},
		{`strength = "11.5 MPa"`, 11.5},
		{`strength = "1000 psi"`, 1000 * bondtrial.MegapascalPerPSI},
	} {
		got := mustRead(t, with(t, `name = "ash"`, "name = \"ash\"\n"+c.write))
		// The product of two decimal fractions: exact to a few units in the last place.
		if math.Abs(float64(got.Woods[0].Strength/c.want-1)) > 1e-14 && got.Woods[0].Strength != c.want {
			t.Errorf("%s: %v, want %v", c.write, got.Woods[0].Strength, c.want)
		}
	}
}

// Days by their names go before weekdays, whichever comes first.
func TestHoursOfTheWeek(t *testing.T) {
	got := mustRead(t, with(t, "clamps = 12\n", "clamps = 12\nhours = { friday = \"off\", weekdays = \"9:30-12, 20:00–24:00\", sunday = \"0-1\" }\n")).Work.Hours
	d := []Span{{9*time.Hour + 30*time.Minute, 12 * time.Hour}, {20 * time.Hour, 24 * time.Hour}}
	if diff := cmp.Diff([7][]Span{at(0, 1), d, d, d, d, nil, nil}, got); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestDaysOff(t *testing.T) {
	got := mustRead(t, with(t, "clamps = 12\n", "clamps = 12\ndays_off = [\"2027-12-31 to 2028-01-02\", 2027-05-01, \"2028-01-01\"]\n")).Work.DaysOff
	want := []Date{{2027, 5, 1}, {2027, 12, 31}, {2028, 1, 1}, {2028, 1, 2}}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
	if one := mustRead(t, with(t, "clamps = 12\n", "clamps = 12\ndays_off = 2027-05-01\n")).Work.DaysOff; len(one) != 1 || one[0] != want[0] {
		t.Errorf("a single day: %v", one)
	}
}

// No clamps are needed where no adhesive is clamped.
func TestWithoutClamps(t *testing.T) {
	got := mustRead(t, with(t, `family = "pva"`, "family = \"contact\"\nopen = \"30 min\"", `family = "polyurethane"`, "family = \"hide\"\nopen = \"5 min\"", "clamps = 12\n", ""))
	if got.Work.Clamps != 0 || got.Adhesives[0].Clamp != 0 || got.Adhesives[1].Clamp != 0 {
		t.Errorf("%d clamps, %v and %v under pressure", got.Work.Clamps, got.Adhesives[0].Clamp, got.Adhesives[1].Clamp)
	}
}

// A cure that is left out is never shorter than the time under clamps.
func TestCureAfterClamps(t *testing.T) {
	got := mustRead(t, with(t, `family = "pva"`, "family = \"pva\"\nclamp = \"10 d\""))
	if c := got.Adhesives[0].Cure; c != 10*day {
		t.Errorf("cure %v, want 10 days", c)
	}
}

// Things that are given by mistake.
func TestNotATrial(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "t.toml: the file is empty: " + asText},
		{"blank", " \r\n\t\n", "t.toml: the file is empty: " + asText},
		{"a table", "adhesive,strength_mpa\nTarn,8.1\n", "t.toml: looks like a table (CSV), not a trial file: readings go to bondtrial answer; here, " + asText},
		{"a table with semicolons and a remark", "# trial\nadhesive;strength\nTarn;8,1\n", "t.toml: looks like a table (CSV), not a trial file: readings go to bondtrial answer; here, " + asText},
		{"a workbook", "PK\x03\x04\x00", "t.toml: is a spreadsheet workbook or another zip archive, not a trial file: " + asText},
		{"a picture", "\xff\xd8\xff\xe0", "t.toml: is a picture, not a trial file: " + asText},
		{"a web page", "\n<!DOCTYPE html><html>", "t.toml: is a web page or XML document, not a trial file: " + asText},
		{"JSON", `{"name": "Benches"}`, "t.toml: is JSON, not a trial file: " + asText},
		{"a program", "\x7fELF\x02\x01\x00\n\x00", "t.toml:1: holds a zero byte, so it is not text: " + asText},
		{"UTF-16", "\xff\xfen\x00a\x00", "t.toml: is encoded in UTF-16: save it as UTF-8 in the text editor"},
		{"Windows-1252", "name = \"Benches\"\n# caf\xe9\n", "t.toml:2: is not UTF-8 text here: save the file as UTF-8 in the text editor"},
		{"too large", minimal + strings.Repeat("#", MaxBytes), "t.toml: is larger than 1024 KiB, so it is hardly a trial file: " + asText},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := problemsOf(t, c.text); got != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", got, c.want)
			}
		})
	}
	if trial := mustRead(t, minimal+strings.Repeat("#", MaxBytes-len(minimal))); trial.Name != "Benches" {
		t.Error("a file of the largest size is not read")
	}
}

// What goes wrong with the reader is no problem of the file.
func TestReadFails(t *testing.T) {
	broken := errors.New("the disk is gone")
	trial, err := Read(io.MultiReader(strings.NewReader(minimal), iotest.ErrReader(broken)), "t.toml")
	if trial != nil || !errors.Is(err, broken) || err.Error() != "reading trial file t.toml: the disk is gone" {
		t.Errorf("trial %v, error %v", trial, err)
	}
}

// No more problems are listed than anybody reads, and the rest is counted.
func TestMaxProblems(t *testing.T) {
	var b bytes.Buffer
	b.WriteString(minimal)
	for i := range MaxProblems + 7 {
		fmt.Fprintf(&b, "xyzzy_%d = 1\n", i)
	}
	_, err := Read(strings.NewReader(b.String()), "t.toml")
	var list *Errors
	if !errors.As(err, &list) || len(list.Problems) != MaxProblems || list.More != 7 || !strings.HasSuffix(err.Error(), "\nt.toml: and 7 more problems") {
		t.Errorf("%v", err)
	}
	// Lines that are not TOML are found one after the other, and few are.
	_, err = Read(strings.NewReader(strings.Repeat("hello\n", 99)), "t.toml")
	if !errors.As(err, &list) || len(list.Problems) != mostRepairs+1 ||
		list.Problems[0].Message != "so many lines are not those of a trial file that the rest was not read: mend these first" {
		t.Errorf("%d problems: %v", len(list.Problems), err)
	}
}

// The page of documentation names every key and every family, and its shortest
// file is the one of these tests.
func TestDocumentation(t *testing.T) {
	raw, err := os.ReadFile("../../../docs/trial-file.md")
	if err != nil {
		t.Fatal(err)
	}
	doc := strings.ReplaceAll(string(raw), "\r\n", "\n")
	for _, l := range levels {
		for _, k := range l.keys {
			if !strings.Contains(doc, "`"+k.spellings()[0]+"`") && !strings.Contains(doc, "["+k.name+"]") {
				t.Errorf("%s %s is not in docs/trial-file.md", l.show, k.name)
			}
		}
	}
	for _, f := range Families() {
		if !strings.Contains(doc, "`"+string(f)+"`") {
			t.Errorf("family %s is not in docs/trial-file.md", f)
		}
	}
	if indented := "    " + strings.ReplaceAll(strings.TrimSuffix(minimal, "\n"), "\n", "\n    "); !strings.Contains(doc, strings.ReplaceAll(indented, "    \n", "\n")) {
		t.Error("docs/trial-file.md does not hold the minimal file")
	}
}

// Where the file says nothing of hands, they are no slower than an adhesive allows.
func TestGlueUpFitsTheOpenTime(t *testing.T) {
	trial := mustRead(t, with(t, `"pva"`, `"hide"`))
	if trial.Work.GlueUp != time.Minute { // hot hide glue's usual open time
		t.Errorf("%v for one glue-up, want 1 min", trial.Work.GlueUp)
	}
	if !slices.ContainsFunc(trial.Assumed, func(a Assumption) bool {
		return a.What == "[work]: glue_up" && a.Value == "1 min" && strings.Contains(a.Source, "Tarn")
	}) {
		t.Errorf("not among what was taken: %v", trial.Assumed)
	}
}
