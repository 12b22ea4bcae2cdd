package trialfile

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// FuzzRead checks that no bytes make Read panic, that a problem says something and
// points into the file, and that whatever is read keeps the promises of Trial.
func FuzzRead(f *testing.F) {
	f.Add(Example())
	for _, s := range []string{
		minimal, "", "\xef\xbb\xbfname = 1", "a,b\n1,2\n3,4\n", "PK\x03\x04", "{}", "[", "[[", "[[adhesive]]\n[[adhesive]]\n[adhesive.x]\n",
		"[a]\n[a.b]\n[a]\n", "a = {b = {c = 1}, b.c = 2}\n", "a.b = 1\n[a]\nb = 2\n", "x = [[[[[[[[[[[[[[[[[[[[1]]]]]]]]]]]]]]]]]]]]\n",
		"name = \"\"\"\nx\n", "work.hours.monday = \"9-17\"\nwork.start = 2027-13-40\n", "days_off = [\n1,\n", "name = \"a\\u00e9\\U0001F600\"\n", "a = 1 # \x00",
		"seed = 0x_\nseed = 1__2\nblind = True\n\"a b\" = 3\n'' = 4\n", "[labels]\nrows = 60\ncolumns = 60\ntop_in = \"1 1/2\"\n", "\r\r\n\n",
		strings.Replace(minimal, "boards = 4", "boards = 1000", 1), strings.ReplaceAll(minimal, `"`, "“"), strings.ReplaceAll(minimal, "=", ":"),
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) { checkRead(t, string(data)) })
}

type failer interface {
	Helper()
	Fatalf(format string, args ...any)
}

func checkRead(t failer, text string) {
	t.Helper()
	trial, err := Read(strings.NewReader(text), "t.toml")
	if err == nil {
		checkTrial(t, trial)
		return
	}
	var list *Errors
	if trial != nil || !errors.As(err, &list) || len(list.Problems) == 0 || len(list.Problems) > MaxProblems {
		t.Fatalf("trial %v beside the error %T %v", trial, err, err)
	}
	lines := 1 + strings.Count(text, "\n") + strings.Count(text, "\r")
	last := 0
	for _, p := range list.Problems {
		if p.Line < last || p.Line > lines || p.Message == "" {
			t.Fatalf("%d lines, problem %+v after line %d", lines, p, last)
		}
		last = p.Line
	}
	if got := strings.Count(err.Error(), "\n") + 1; got != len(list.Problems) && list.More == 0 {
		t.Fatalf("%d problems in %d lines: %s", len(list.Problems), got, err)
	}
}

// checkTrial checks what the comments on Trial and its parts promise.
func checkTrial(t failer, trial *Trial) {
	t.Helper()
	fail := func(what string) { t.Helper(); t.Fatalf("%s: %+v", what, trial) }
	w, g := trial.Work, trial.Specimen
	switch {
	case trial.Name == "":
		fail("no name")
	case len(trial.Adhesives) < 2, len(trial.Adhesives) > MaxAdhesives, len(trial.Woods) < 1, len(trial.Boards) > MaxBoards, len(trial.Factors) > MaxFactors:
		fail("too few or too many")
	case g.Joint == "" || g.Length <= 0 || g.Width <= 0 || g.Thickness <= 0 || g.Area <= 0 || g.Overlap > g.Length:
		fail("specimen")
	case w.Location == nil || w.Start.Year < 2000 || w.GlueUp <= 0 || w.Break <= 0 || longest(w.Hours) < max(w.GlueUp, w.Break):
		fail("work")
	case trial.SmallestDifference <= 0 || trial.Scatter <= 0 || trial.Chance < 50 || trial.SpecimensPerCell < 0:
		fail("numbers")
	}
	for _, a := range trial.Adhesives {
		if a.Name == "" || a.Family == "" || a.Open <= 0 || a.Clamp < 0 || a.Cure < a.Clamp || a.Cure <= 0 || a.Line < 1 ||
			w.GlueUp > a.Open+a.Closed || a.Clamp > 0 && w.Clamps < 1 || a.Lowest > w.Temperature {
			fail("adhesive " + a.Name)
		}
	}
	seen := map[string]bool{}
	for _, b := range trial.Boards {
		sized := b.Length >= g.Length && b.Width >= g.Width && b.Thickness >= g.Thickness
		if seen[b.Wood+"\x00"+b.Name] || b.Name == "" || (b.Pieces > 0) == sized && b.Pieces > 0 || b.Pieces == 0 && !sized {
			fail("board " + b.Name)
		}
		seen[b.Wood+"\x00"+b.Name] = true
	}
	for _, f := range trial.Factors {
		if f.Name == "" || f.Levels[0] == "" || f.Levels[1] == "" || f.Levels[0] == f.Levels[1] || f.Ratio <= 0 {
			fail("factor " + f.Name)
		}
	}
	for _, d := range w.Hours {
		for i, s := range d {
			if s.To <= s.From || s.To > day || i > 0 && s.From < d[i-1].To {
				fail("hours")
			}
		}
	}
	if width, height := trial.Labels.LabelSize(); !(width >= leastLabelWidth && height >= leastLabelHeight) || math.IsInf(float64(width), 0) {
		fail("labels")
	}
}

// Whatever happens to the lines of a good file, Read does not panic and keeps its
// promises.
func TestReadChanged(t *testing.T) {
	lines := strings.Split(string(Example()), "\n")
	pieces := []string{"", "[", "]", "\"", "=", "# ", "{", "}", ",", "0", "-1", "1e9", "nan", "2027-02-30", "\"9-8\"", "[work]", "[[wood]]", "\"\"", "true", "“", "\t", "9:00"}
	rapid.Check(t, func(t *rapid.T) {
		changed := append([]string(nil), lines...)
		for range rapid.IntRange(1, 6).Draw(t, "changes") {
			i := rapid.IntRange(0, len(changed)-1).Draw(t, "line")
			piece := rapid.SampledFrom(pieces).Draw(t, "piece")
			switch rapid.IntRange(0, 3).Draw(t, "change") {
			case 0:
				changed[i] = piece
			case 1:
				changed[i] += piece
			case 2:
				if key, _, ok := strings.Cut(changed[i], "="); ok {
					changed[i] = key + "= " + piece
				}
			case 3:
				j := rapid.IntRange(0, len(changed)-1).Draw(t, "other")
				changed[i], changed[j] = changed[j], changed[i]
			}
		}
		checkRead(t, strings.Join(changed, "\n"))
	})
}
