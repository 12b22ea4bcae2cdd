package handout

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// words returns the text of a PDF, one space between words.
func words(t *testing.T, pdf []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "paper.pdf")
	if err := os.WriteFile(path, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-layout", path, "-").Output()
	if err != nil {
		t.Fatalf("pdftotext, of Debian's package poppler-utils: %v", err)
	}
	return strings.Join(strings.Fields(string(out)), " ")
}

// The papers of a plan say of each specimen what the plan does.
func TestPapersAgreeWithThePlan(t *testing.T) {
	p, files := blind()
	glue, breaks, labels := words(t, files[GlueUp]), words(t, files[Breaks]), words(t, files[Labels])
	for k, s := range p.Specimens {
		a := p.Trial.Adhesives[s.Adhesive]
		row := fmt.Sprintf("%d %s %s %s, %s board %s: %d + %d %s %d min ", k+1, s.Code, p.Names[s.Adhesive], s.Wood, s.Levels[0], s.Board,
			s.Pieces[0], s.Pieces[1], p.Schedule.Times[k].Spread.Format("15:04"), int((a.Open + a.Closed).Minutes()))
		if !strings.Contains(glue, row) {
			t.Errorf("the glue-up sheet has no %q", row)
		}
		if !strings.Contains(breaks, fmt.Sprintf(" %d %s ", s.BreakTurn, s.Code)) && !strings.HasSuffix(breaks, fmt.Sprintf(" %d %s", s.BreakTurn, s.Code)) {
			t.Errorf("the break sheet has no specimen %d, %s", s.BreakTurn, s.Code)
		}
		if !strings.Contains(labels, s.Code) {
			t.Errorf("no label has %s", s.Code)
		}
	}
	for _, n := range p.Names {
		if got, want := strings.Count(labels, "adhesive "+n), len(p.Specimens)/len(p.Names); got != want {
			t.Errorf("%d labels of adhesive %s, want %d", got, n, want)
		}
	}
	// The break sheet tells neither the letter nor how long a specimen cured.
	if regexp.MustCompile(`not before|blind adhesive`).MatchString(breaks) {
		t.Error("the break sheet tells adhesives")
	}
}

func TestKeyPaperSaysWhatTheKeyDoes(t *testing.T) {
	p, files := blind()
	key, err := Open(files[KeySealed])
	if err != nil {
		t.Fatal(err)
	}
	var pdf bytes.Buffer
	if err := KeyPaper(&pdf, key, files[PlanJSON]); err != nil {
		t.Fatal(err)
	}
	text := words(t, pdf.Bytes())
	for a, n := range p.Names {
		if want := n + " " + p.Trial.Adhesives[a].Name; !strings.Contains(text, want) {
			t.Errorf("the key has no %q", want)
		}
	}
	for _, k := range key {
		if k.Control != (k.Adhesive == p.Trial.Control) {
			t.Errorf("%+v in a trial with the control %s", k, p.Trial.Control)
		}
	}
	if err := KeyPaper(&pdf, key, []byte("{}")); err == nil {
		t.Error("a key without a plan is written")
	}
}

// Letters depend on the trial, not on the seed alone.
func TestLettersOfTrialsDiffer(t *testing.T) {
	names := make(map[string]bool)
	for _, trial := range []string{"a", "b", "c", "d", "e", "f"} {
		p := example(t, `name = "Glue for benches, spring"`, fmt.Sprintf("name = %q", trial))
		names[strings.Join(p.Names, "")] = true
	}
	if len(names) < 5 {
		t.Errorf("six trials with one seed have the letters %v", names)
	}
}

// Areas and forces go by the joint and by the units: 20 mm of width times 12 mm of
// overlap is 240 mm², over 25.4² 0.372 in².
func TestAreaInReadings(t *testing.T) {
	for _, c := range []struct {
		change []string
		want   string
	}{
		{nil, ",,240,"},
		{[]string{`units = "si"`, `units = "us"`}, ",,0.372001,"},
		{[]string{`joint = "lap"`, `joint = "butt"`, "overlap_mm = 12", "", "pieces = 16\nthickness_mm = 8.5", "pieces = 16\nthickness_mm = 9.5"}, ",,160,"},
		{[]string{`joint = "lap"`, `joint = "cross-lap"`, "overlap_mm = 12", ""}, ",,400,"},
	} {
		files, err := Files(example(t, append(c.change, "one_cartridge = true", "one_cartridge = false")...))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			if f.Name != Readings {
				continue
			}
			lines := strings.Split(strings.TrimSpace(string(f.Content)), "\n")
			if strings.Contains(lines[0], "batch") {
				t.Error("a trial without batches has a column for them")
			}
			for _, l := range lines[1:] {
				if !strings.Contains(l, c.want) {
					t.Fatalf("%v: %q has no %q", c.change, l, c.want)
				}
			}
		}
	}
}
