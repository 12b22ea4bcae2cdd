package rig

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestParsePoints(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       []Point
	}{
		{"plain", "series,direction,mass_kg,shown\n1,up,0,500\n1,up,5,1480.5\n1,down,0,-3e1\n", []Point{
			{"1", Up, 0, "kg", 500, 2}, {"1", Up, 5, "kg", 1480.5, 3}, {"1", Down, 0, "kg", -30, 4}}},
		{"semicolons, decimal commas, another order, a mark", "\ufeffShown; Direction;Force_kN;SERIES;by\r\n12,5;Up;0,25;first;me\r\n\r\n# comment\r\n13,25;falling;1,5;first;me\r\n", []Point{
			{"first", Up, 250, "N", 12.5, 2}, {"first", Down, 1500, "N", 13.25, 5}}},
		{"tabs and quotes", "series\tdirection\tmass g\tshown\n\"a \"\"b\"\"\"\trising\t2500\t \"7\" \r\"c\"\tunloading\t0\t−7", []Point{
			{`a "b"`, Up, 2.5, "kg", 7, 2}, {"c", Down, 0, "kg", -7, 3}}},
		{"pounds", "series,direction,force_lbf,shown\n1,up,10,1\n", []Point{{"1", Up, 44.482216152605, "N", 1, 2}}},
		{"a comma that another settles", "series;direction;mass_kg;shown\n1;up;5;1,250\n1;up;6;1,5\n", []Point{{"1", Up, 5, "kg", 1.25, 2}, {"1", Up, 6, "kg", 1.5, 3}}},
	} {
		got, err := ParsePoints(c.text, "t.csv")
		if diff := cmp.Diff(c.want, got); err != nil || diff != "" {
			t.Errorf("%s: %v: want (-), got (+):\n%s", c.name, err, diff)
		}
	}
}

// Every problem at once, each with its place and its remedy.
func TestParseProblems(t *testing.T) {
	const header = "series,direction,mass_kg,shown\n"
	for _, c := range []struct{ name, text, want string }{
		{"rows", header + ",sideways,-5,\n1,,heavy,1\n1,up,5 kg,\"1,5\"\n1,up,1.2.3,1e400\n1,up,5,1\n1,up\n1,up,\"5,1\n1,up,\"5\"x,1\n", `t.csv:2: column "series": is blank: write which time the loads were hung up, as 1
t.csv:2: column "direction": value "sideways": write up or down
t.csv:2: column "mass_kg": value "-5": a load below 0: write all that hangs, and 0 for nothing
t.csv:2: column "shown": is blank: write the number, or leave the whole row out
t.csv:3: column "direction": is blank: write up or down
t.csv:3: column "mass_kg": value "heavy": not a number: write the number alone; its unit belongs in the column's name
t.csv:4: column "mass_kg": value "5 kg": not a number: write the number alone; its unit belongs in the column's name
t.csv:4: column "shown": value "1,5": a comma in a number, in a table separated by commas: write a decimal point, or separate the columns by semicolons
t.csv:5: column "mass_kg": value "1.2.3": two marks in one number: write it without marks between thousands
t.csv:5: column "shown": value "1e400": too large to be right
t.csv:7: column "mass_kg": is blank: write the number, or leave the whole row out
t.csv:7: column "shown": is blank: write the number, or leave the whole row out
t.csv:8: a quotation mark is opened and not closed on this line
t.csv:9: text after a closing quotation mark: write a mark inside a quoted field twice`},
		{"header", "serie,shown,shown,mass_k,directions\n1,1,1,1,1\n", `t.csv:1: column "shown": stands twice in the header: keep one
t.csv:1: column "series": is missing from the header: which time the loads were hung up, as 1, 2, 3; is "serie" meant?
t.csv:1: column "direction": is missing from the header: up where the load was reached by hanging up, down by taking down; is "directions" meant?
t.csv:1: no column has the load with its unit: name one of mass_kg, mass_g, mass_lb, force_n, force_kn, force_lbf, force_kgf; is "mass_k" meant?`},
		{"two loads", "series,direction,mass_kg,force_n,shown\n", `t.csv:1: column "force_n": the load stands in mass_kg and force_n: keep one of them`},
		{"thousands", "series;direction;mass_kg;shown\n1;up;5;1,250\n", `t.csv:2: column "shown": value "1,250": a comma that may divide thousands or decimals: write 1250 or 1.250`},
		{"two kinds of marks", "series;direction;mass_kg;shown\n1;up;5.5;12,5\n", `t.csv:2: column "shown": value "12,5": a decimal comma, while other numbers have a decimal point: write one kind throughout`},
		{"no header", "# only this\n\n", "t.csv: has no header: write series,direction,mass_kg,shown in the first line, and a reading a line below"},
		{"no readings", header, "t.csv: has a header and no readings: write a reading a line below it"},
		{"a workbook", "PK\x03\x04", "t.csv: is a spreadsheet workbook or another zip archive, not a text file: save the table as CSV (UTF-8) and give that file"},
		{"a page", "<html>", "t.csv: is a web page or XML document, not a table: save the table as CSV (UTF-8) and give that file"},
		{"not UTF-8", header + "1,up,5,\xff\n", "t.csv:2: is not UTF-8 here: save the table as CSV (UTF-8) and give that file"},
		{"a zero byte", header + "1,up,5,\x00\n", "t.csv:2: holds a zero byte, so it is not a text file: save the table as CSV (UTF-8) and give that file"},
		{"an open header", "\"series,direction\n", "t.csv:1: a quotation mark is opened and not closed on this line"},
	} {
		got, err := ParsePoints(c.text, "t.csv")
		if err == nil || got != nil || err.Error() != c.want {
			t.Errorf("%s: got\n%v\nwant\n%s", c.name, err, c.want)
		}
	}
	_, err := ParsePoints(header+strings.Repeat("1,up,x,1\n", MaxProblems+5), "t.csv")
	var list *Problems
	if !errors.As(err, &list) || len(list.List) != MaxProblems || list.More != 5 || !strings.HasSuffix(err.Error(), "\nt.csv: and 5 more problems") {
		t.Errorf("many problems: %v", list)
	}
	_, err = ParsePoints(header+strings.Repeat("1,up,5,1\n", MaxPoints+1), "t.csv")
	if err == nil || !strings.Contains(err.Error(), "more than 100000 readings") {
		t.Errorf("many readings: %v", err)
	}
}

func TestFormatPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var points []Point
		unit := rapid.SampledFrom([]string{"kg", "N"}).Draw(t, "unit")
		for i := range rapid.IntRange(1, 6).Draw(t, "n") {
			points = append(points, Point{
				Series: rapid.StringMatching(`[a-z0-9",;#][a-z",;# ]{0,6}[a-z0-9"]`).Draw(t, "series"), Direction: rapid.SampledFrom([]Direction{Up, Down}).Draw(t, "direction"),
				Load: rapid.Float64Range(0, 1e6).Draw(t, "load"), Unit: unit, Shown: rapid.Float64Range(-1e9, 1e9).Draw(t, "shown"), Line: i + 2})
		}
		got, err := ParsePoints(FormatPoints(points), "t.csv")
		if diff := cmp.Diff(points, got); err != nil || diff != "" {
			t.Fatalf("%v: written (-), read (+):\n%s", err, diff)
		}
	})
	mustPanic(t, "two units", func() { FormatPoints([]Point{{Unit: "kg"}, {Unit: "N"}}) })
}

// FuzzParsePoints checks that no bytes make ParsePoints panic, that a problem points
// into the file, that what is read is valid and is read again from what is written,
// and that Calibrate takes it without a panic, to words and to a force.
func FuzzParsePoints(f *testing.F) {
	for _, s := range []string{
		"", "series,direction,mass_kg,shown\n1,up,0,500\n1,up,5,1480.5\n1,down,0,-3e1\n",
		"\ufeffShown; Direction;Force_kN;SERIES\r\n12,5;Up;0,25;first\r\n\r\n# comment\r\n1.250;falling;1,250;first\r\n",
		"series\tdirection\tmass g\tshown\n\"a \"\"b\"\"\"\trising\t2500\t \"7\" \r\"c\"\tunloading\t0\t−7",
		"serie,shown,shown,mass_k\n", "PK\x03\x04", "<html>", "a\x00", "\xff", "\"", ";;\n\"\"\"\n", "series,direction,mass_kg,shown\n1,up,1e-300,1e15\n1,up,1e15,-1e15\n",
		FormatPoints(worked()), "series,direction,force_n,shown\n1,up,1,2\n1,up,2,4\n1,up,3,6.5\n1,up,4,7\n2,down,4,8\n",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		points, err := ParsePoints(text, "t.csv")
		lines := 1 + strings.Count(text, "\n") + strings.Count(text, "\r")
		if err != nil {
			var list *Problems
			if points != nil || !errors.As(err, &list) || len(list.List) == 0 {
				t.Fatalf("points %v beside the error %v", points, err)
			}
			for _, p := range list.List {
				if p.Line < 0 || p.Line > lines || p.Message == "" {
					t.Fatalf("problem %+v in a file of %d lines", p, lines)
				}
			}
			return
		}
		for _, p := range points {
			if !(p.Load >= 0) || math.IsInf(p.Load, 0) || math.IsNaN(p.Shown) || math.IsInf(p.Shown, 0) || p.Series == "" || p.Line < 2 || p.Line > lines || p.Direction != Up && p.Direction != Down {
				t.Fatalf("point %+v", p)
			}
		}
		back, err := ParsePoints(FormatPoints(points), "again")
		for i := range back {
			back[i].Line = points[i].Line
		}
		if diff := cmp.Diff(points, back); err != nil || diff != "" {
			t.Fatalf("%v: first read (-), read again (+):\n%s", err, diff)
		}
		c := inNewton()
		c.Gravity = &here
		if k, err := Calibrate(points, c); err == nil {
			if _, err := k.Force(k.Curve.At((k.LowN+k.HighN)/2), 0); err != nil {
				t.Fatal(err)
			}
			if k.String() == "" || k.Certificate() == "" {
				t.Fatal("no words")
			}
		}
	})
}
