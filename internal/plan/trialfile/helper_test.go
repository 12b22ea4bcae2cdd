package trialfile

import (
	"errors"
	"strings"
	"testing"
)

// minimal is the shortest trial file there is: what it leaves out has a default.
// It stands in docs/trial-file.md, too.
const minimal = `name = "Benches"

[[adhesive]]
name = "Tarn"
family = "pva"

[[adhesive]]
name = "Fell"
family = "polyurethane"

[[wood]]
name = "ash"
boards = 4
length_mm = 900
width_mm = 120
thickness_mm = 25

[specimen]
joint = "lap"
length_mm = 80
width_mm = 20
thickness_mm = 8
overlap_mm = 10

[work]
start = 2027-04-12
time_zone = "Europe/Berlin"
clamps = 12
`

// with returns the minimal file with changes: pairs of an old text, which it holds,
// and a new one.
func with(t *testing.T, changes ...string) string {
	t.Helper()
	text := minimal
	for i := 0; i < len(changes); i += 2 {
		if !strings.Contains(text, changes[i]) {
			t.Fatalf("the file does not hold %q", changes[i])
		}
		text = strings.Replace(text, changes[i], changes[i+1], 1)
	}
	return text
}

// mustRead reads a file that is right.
func mustRead(t *testing.T, text string) *Trial {
	t.Helper()
	trial, err := Read(strings.NewReader(text), "t.toml")
	if err != nil {
		t.Fatal(err)
	}
	return trial
}

// problemsOf reads a file that must be refused and returns the whole message.
func problemsOf(t *testing.T, text string) string {
	t.Helper()
	trial, err := Read(strings.NewReader(text), "t.toml")
	if err == nil {
		t.Fatal("read without an error")
	}
	if trial != nil {
		t.Error("a trial beside an error")
	}
	var list *Errors
	if !errors.As(err, &list) || len(list.Problems) == 0 {
		t.Fatalf("the error is %T %v, want *Errors with problems", err, err)
	}
	return err.Error()
}

// refusal is a file that must be refused: the minimal one with changes, as for
// with, and the whole message.
type refusal struct {
	name    string
	changes []string
	want    string
}

func refused(t *testing.T, list []refusal) {
	for _, c := range list {
		t.Run(c.name, func(t *testing.T) {
			if got := problemsOf(t, with(t, c.changes...)); got != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", got, c.want)
			}
		})
	}
}
