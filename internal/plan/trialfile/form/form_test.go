package form

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bondtrial/internal/plan/trialfile"
)

const inches = `name = 'Inches'
units = "us"
adhesive = [ { name = "Tarn", family = "pva", clamp = "none" }, { name = "Fell", family = "epoxy", retested = "yes" } ]
pairs = false
seed = 0x1F
smallest_difference_pct = 1_5.0
[[wood]]
name = "ash"
boards = 4
length_in = "35 1/2"
width_in = 4.75
thickness_mm = 25
[specimen]
joint = "block-shear"
length_in = 2
width_in = 2
thickness_in = "3/4"
area_in2 = 3
[work]
time_zone = "UTC"
start = "2027-04-12"
days_off = 2027-05-01
hours.friday = "9-12"
clamps = 3
`

// A trial file that goes through a form gives the same trial.
func TestSameTrial(t *testing.T) {
	for name, text := range map[string]string{"example": string(trialfile.Example()), "shortest": string(good().TOML()), "inches": inches} {
		t.Run(name, func(t *testing.T) {
			want, err := read(text)
			if err != nil {
				t.Fatal(err)
			}
			f := mustParse(t, text)
			got, err := read(string(f.TOML()))
			if err != nil {
				t.Fatalf("%v\n%s", err, f.TOML())
			}
			if d := cmp.Diff(want, got, sameTrial); d != "" {
				t.Errorf("the trial that was read and that of the form:\n%s", d)
			}
			if d := cmp.Diff(want, wantTrial(t, f), sameTrial); d != "" {
				t.Errorf("Check gives another trial:\n%s", d)
			}
			sent := FromValues(valuesOf(f))
			if d := cmp.Diff(f, sent, sameForm); d != "" {
				t.Errorf("the form and as it is sent:\n%s", d)
			}
		})
	}
}

// Values stay as they are written, those in inches in inches.
func TestParseKeeps(t *testing.T) {
	f := mustParse(t, inches)
	for _, c := range []struct{ got, want string }{
		{f.Pairs, "off"}, {f.Seed, "0x1F"}, {f.SmallestDifference, "1_5.0"}, {f.Adhesives[1].Retested, "yes"},
		{f.Woods[0].Length.In, "35 1/2"}, {f.Woods[0].Length.MM, ""}, {f.Woods[0].Width.In, "4.75"}, {f.Woods[0].Thickness.MM, "25"},
		{f.Specimen.Area.In, "3"}, {f.Work.DaysOff, "2027-05-01"}, {f.Work.Start, "2027-04-12"}, {f.Work.Hours.Friday, "9-12"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
	f = mustParse(t, `clamps = 3
name = ["a", 2]
wood = ["ash", {name = "oak", x.y = 1}]
[[factor]]
levels = ["a", "b", "c"]
[work]
clamps = "eight"
hours = "9-17"
[[labels]]
rows = 3
[[labels]]
rows = 4
[adhesive]
clmap = "1 h"
`)
	if f.Name != `[a, 2]` || f.Work.Clamps != "eight" || f.Woods[0].Name != "oak" || f.Labels.Rows != "3" || f.Factors[0].Levels != [2]string{"a", "b"} {
		t.Errorf("kept %+v", f)
	}
	want := []Unknown{{"", "clamps", "3"}, {"", "wood.0", "ash"}, {"", "labels.1.rows", "4"}, {"adhesive.0", "clmap", "1 h"},
		{"factor.0", "levels.2", "c"}, {"wood.0", "x.y", "1"}, {"work", "hours", "9-17"}}
	if d := cmp.Diff(want, f.Unknown); d != "" {
		t.Error(d)
	}
	if again := mustParse(t, string(f.TOML())); !cmp.Equal(f, again, sameForm) {
		t.Error(cmp.Diff(f, again, sameForm))
	}
	_, problems := f.Check()
	for i := range f.Unknown {
		if name := fmt.Sprintf("unknown.%d.value", i); !slices.ContainsFunc(problems, func(p Problem) bool { return p.Field == name }) {
			t.Errorf("nothing is said of %s", name)
		}
	}
}

// many repeats a text with numbers, up to half the size of the largest file.
func many(format string) string {
	var b strings.Builder
	for i := 0; b.Len() < trialfile.MaxBytes/2; i++ {
		fmt.Fprintf(&b, format, i)
	}
	return b.String()
}

func TestParseRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"name = \"a\"\nclamp = 20 min\n":    `write it in quotation marks`,
		"":                                  "the file is empty",
		"a = 1\na = 2\n":                    "twice",
		"\xff\xfe":                          "UTF-16",
		"name = \"\xff\"":                   "UTF-8",
		strings.Repeat("#", 1<<20) + "##\n": "larger than 1024 KiB",
		"x = " + strings.Repeat("[", 1<<19): "a list is written as",

		// None of these may take long: each makes the search for keys that are there
		// twice go through very many.
		many("k%d = \"\"\n"): "more than 100 keys", many("[k%d]\n"): "more than 100 keys", many("k%d = {}\n"): "more than 100 keys",
		many("[[k%d]]\n"): "more than 100 keys", "x = {" + many("k%d = 1, ") + "y = 1}\n": "more than 100 keys", "x = [{" + many("k%d = 1, ") + "y = 1}]\n": "more than 100 keys",
		"[work]\n" + many("k%d.x = 1\n"): "more than 100 keys", "[[board]]\n" + many("[board.k%d]\n"): "more than 100 keys",
		strings.Repeat("[[wood]]\n", 13) + many("k%d = 1\n"): "more than 100 keys", "wood = [" + strings.Repeat("{name = 1}, ", 12) + "{" + many("k%d = 1, ") + "name = 1}]\n": "more than 100 keys",
		"[" + strings.Repeat("a.", 1<<19-10) + "a]\n": "more than 100 keys", strings.Repeat("a.", 1<<19-10) + "a = 1\n": "more than 100 keys",
	} {
		f, err := Parse([]byte(text))
		if f != nil || err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q: %v, want %s", text, err, want)
		}
	}
}

// Whatever is typed stands in the file and comes back.
func TestTypedComesBack(t *testing.T) {
	nasty := rapid.SampledFrom([]string{`"""`, `'''`, `\`, `\u0041`, "\"", "a\nb", "\n\n x\n", "\r", "\x00", "\x1b[1m", "\x7f", "\u2028", "👩‍🔧🪵", "é", "\ufeff",
		"#", "]", "[[wood]]", "= 1", "0x", "1_000", "+5", "00", "1e3", "inf", "nan", "true", "yes", "2027-02-30", "2027-04-12", "9999999999999999999999", "1e999",
		"\u202e", "a = 1\n", "\\", "\t", "900 mm", "12,5", strings.Repeat("long ", 2000), "𝄞", "\U0010ffff", "ß\u0301"})
	typed := rapid.OneOf(nasty, rapid.String(), rapid.Custom(func(t *rapid.T) string { return nasty.Draw(t, "a") + nasty.Draw(t, "b") }), rapid.Just(""))
	rapid.Check(t, func(t *rapid.T) {
		f := &Form{}
		for _, k := range rowKinds {
			for range rapid.IntRange(0, 3).Draw(t, k.kind) {
				f.grow(k.kind)
			}
		}
		for i := range f.Unknown {
			f.Unknown[i].Key = fmt.Sprintf("unknown key %d", i)
			f.Unknown[i].Part = rapid.SampledFrom([]string{"", "specimen", "work"}).Draw(t, "part")
		}
		every(f, func(name string, to *string) {
			if !strings.HasPrefix(name, "unknown.") || strings.HasSuffix(name, ".value") {
				*to = typed.Draw(t, name)
			}
		})
		checkForm(t, f)
		got := mustParse(t, string(f.TOML()))
		want := f.tidied()
		if d := cmp.Diff(want, got, sameForm); d != "" {
			t.Fatalf("typed and read again:\n%s\n%s", d, f.TOML())
		}
		again := FromValues(valuesOf(want))
		every(want, func(_ string, to *string) { *to = sent(*to) })
		for _, s := range want.sections() {
			for _, c := range s.slots {
				*c.to = plainComma(s.kind, c.key, *c.to)
			}
		}
		want = want.tidied()
		if d := cmp.Diff(want, again.tidied(), sameForm); d != "" {
			t.Fatalf("typed and sent:\n%s", d)
		}
	})
}

// every calls do with each field of a form.
func every(f *Form, do func(name string, to *string)) {
	all := f.sections()
	for i := range f.Unknown {
		all = append(all, section{rowName(unknownKind, i), unknownKind, f.Unknown[i].slots()})
	}
	for _, s := range all {
		for _, c := range s.slots {
			do(fieldName(s.name, c.key), c.to)
		}
	}
}

// tidied is a form as a trial file keeps it: blank values are empty, blank rows are
// gone, space around numbers, days and lines of days off is too.
func (f *Form) tidied() *Form {
	g := *f
	g.Adhesives, g.Woods, g.Boards = slices.Clone(f.Adhesives), slices.Clone(f.Woods), slices.Clone(f.Boards)
	g.Reused, g.Factors, g.Unknown = slices.Clone(f.Reused), slices.Clone(f.Factors), slices.Clone(f.Unknown)
	tidy := func(s section) {
		levels := s.text("levels.0") + s.text("levels.1")
		for _, c := range s.slots {
			k := kindOf(s.kind, c.key)
			plain := strings.TrimSpace(*c.to)
			switch {
			case strings.HasPrefix(c.key, "levels.") && levels != "":
				*c.to = plain
			case plain == "", k.numeric(), k == YesNo:
				*c.to = plain
			case k == Day && plain == "2027-04-12":
				*c.to = plain
			case k == Lines:
				var lines []string
				for line := range strings.SplitSeq(*c.to, "\n") {
					if line = strings.TrimSpace(line); line != "" {
						lines = append(lines, line)
					}
				}
				*c.to = strings.Join(lines, "\n")
			}
		}
	}
	for _, s := range g.sections() {
		tidy(s)
	}
	g.Unknown = slices.DeleteFunc(g.Unknown, func(u Unknown) bool { return strings.TrimSpace(u.Value) == "" })
	g.Adhesives = slices.DeleteFunc(g.Adhesives, func(a Adhesive) bool { return a == Adhesive{} })
	g.Woods = slices.DeleteFunc(g.Woods, func(a Wood) bool { return a == Wood{} })
	g.Boards = slices.DeleteFunc(g.Boards, func(a Board) bool { return a == Board{} })
	g.Reused = slices.DeleteFunc(g.Reused, func(a Reused) bool { return a == Reused{} })
	g.Factors = slices.DeleteFunc(g.Factors, func(a Factor) bool { return a == Factor{} })
	g.sortUnknown()
	return &g
}

func TestFromValuesRows(t *testing.T) {
	v := url.Values{
		"name": {" Benches ", "other"}, "question": {"a\r\nb\rc"}, "token": {"x"}, "adhesive": {"x"}, "adhesive.": {"x"}, "work.hours.friday": {"9-12"},
		"adhesive.7.name": {"Fell"}, "adhesive.3.name": {"Tarn"}, "adhesive.5.name": {"  "}, "adhesive.03.name": {"x"}, "adhesive.-1.name": {"x"},
		"adhesive.999999999.name": {"last"}, "adhesive.99999999999999999999.name": {"x"}, "adhesive.4.colour": {"red"}, "adhesive.3.name.x": {"x"},
		"factor.2.levels.1": {"damp"}, "wood.0.length_in": {"36"}, "board.2.length_mm": {"\xff9"},
		"unknown.4.part": {"adhesive.7"}, "unknown.4.key": {"clmap"}, "unknown.4.value": {"1 h"}, "unknown.1.part": {"work"}, "unknown.1.key": {"x"}, "unknown.1.value": {""},
	}
	want := &Form{Name: "Benches", Question: "a\nb\nc", Adhesives: []Adhesive{{Name: "Tarn"}, {Name: "Fell"}, {Name: "last"}},
		Factors: []Factor{{Levels: [2]string{"", "damp"}}}, Woods: []Wood{{Length: Measure{In: "36"}}}, Boards: []Board{{Length: Measure{MM: "\ufffd9"}}},
		Work: Work{Hours: Hours{Friday: "9-12"}}, Unknown: []Unknown{{"adhesive.1", "clmap", "1 h"}}}
	got := FromValues(v)
	if d := cmp.Diff(want, got, sameForm); d != "" {
		t.Error(d)
	}
	checkForm(t, got)
	if d := cmp.Diff(&Form{}, FromValues(nil), sameForm); d != "" {
		t.Error(d)
	}
}

// More rows than a trial may have are a problem, and are not kept.
func TestTooManyRows(t *testing.T) {
	for _, k := range rowKinds {
		v, file := url.Values{}, ""
		for i := range k.most + 3 {
			for _, key := range []string{"name", "uses", "value"} {
				v.Set(fmt.Sprintf("%s.%d.%s", k.kind, 5*i, key), "7")
			}
			v.Set(fmt.Sprintf("%s.%d.key", k.kind, 5*i), fmt.Sprint("k", i))
			file += fmt.Sprintf("[[%s]]\n%s = \"7\"\n", k.kind, map[bool]string{true: "uses", false: "name"}[k.kind == "reused"])
		}
		forms := map[string]*Form{"values": FromValues(v)}
		if k.kind != unknownKind { // a file with so many is none
			forms["file"] = mustParse(t, file)
		}
		for from, f := range forms {
			if n := f.rows(k.kind).count(); n != k.most {
				t.Errorf("%s: %d rows of %s", from, n, k.kind)
			}
			_, problems := f.Check()
			want := fmt.Sprintf("there are %d %s, and a trial has at most %d: the last 3 were not kept; divide the trial", k.most+3, k.many, k.most)
			if !slices.Contains(problems, Problem{"", want}) {
				t.Errorf("%s: %v, want among them: %s", from, problems[:1], want)
			}
		}
	}
}

func TestBlank(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		today       time.Time
		start, zone string
	}{ // the days of the week by the calendar of Python 3, datetime.date(2027, 4, 9).weekday() = 4, a Friday
		{time.Date(2027, 4, 9, 23, 0, 0, 0, berlin), "2027-04-12", "Europe/Berlin"},
		{time.Date(2027, 4, 8, 1, 0, 0, 0, time.UTC), "2027-04-09", "UTC"},
		{time.Date(2027, 4, 10, 1, 0, 0, 0, time.FixedZone("Local", 3600)), "2027-04-12", ""},
	} {
		f := Blank(c.today)
		if f.Work.Start != c.start || f.Work.TimeZone != c.zone || len(f.Adhesives) != 2 || len(f.Woods) != 1 {
			t.Errorf("%v: %+v", c.today, f)
		}
		checkForm(t, f)
	}
}

// A decimal comma is taken where it can mean nothing else.
func TestDecimalComma(t *testing.T) {
	for _, c := range []struct{ field, typed, want string }{
		{"scatter_pct", "12,5", "12.5"}, {"scatter_pct", "12.5", "12.5"}, {"scatter_pct", "0,125", "0.125"}, {"work.temperature_c", "-3,5", "-3.5"},
		{"specimen.length_mm", "1500,25", "1500.25"}, {"adhesive.0.strength", "8,5 MPa", "8.5 MPa"}, {"adhesive.0.price", "8,90 EUR", "8.90 EUR"},
		// What may divide thousands, or is no single number, stays to be refused.
		{"specimen.length_mm", "1,500", "1,500"}, {"adhesive.0.strength", "1,500 psi", "1,500 psi"}, {"scatter_pct", "1,2,3", "1,2,3"}, {"scatter_pct", "1.234,5", "1.234,5"},
		{"name", "1,5", "1,5"}, {"question", "12,5", "12,5"},
	} {
		f := FromValues(url.Values{c.field: {c.typed}, "adhesive.0.name": {"Tarn"}})
		for _, p := range f.Fields() {
			for _, x := range p.Fields {
				if x.Name == c.field && x.Value != c.want {
					t.Errorf("%s %q became %q, want %q", c.field, c.typed, x.Value, c.want)
				}
			}
		}
	}
}
