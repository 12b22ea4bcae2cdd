package answers

import (
	"mime"
	"net/url"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"bondtrial"
	"bondtrial/internal/record"
)

// Settings that can be used stay the same when their address is read again.
func FuzzSettings(f *testing.F) {
	for _, s := range []string{"", "margin=10", "margin=15+%25&threshold=60&family=all&required=6MPa&seed=3&pooled=on&units=us&control=tarn",
		"margin=NaN", "seed=0x10", "required=-1psi", "threshold=1e2", "control=%00", "margin=0x1p3"} {
		f.Add(s)
	}
	t := &record.Trial{ID: "small", Asked: record.Asked{Factors: []string{"surface"}, Control: "Tarn"}}
	t.Specimens = []*record.Specimen{{Code: "A", Adhesive: "Tarn"}, {Code: "B", Adhesive: "Fell"}}
	f.Fuzz(func(tt *testing.T, query string) {
		q, err := url.ParseQuery(query)
		if err != nil {
			return
		}
		a, in := settings(q, t, bondtrial.SI)
		if len(in.Wrong) > 0 {
			return
		}
		if !(a.Margin > 0 && a.Margin < 1 && a.Threshold > 0 && a.Threshold <= 100 && a.Required >= 0) {
			tt.Errorf("%q: %+v", query, a.Settings)
		}
		again, in := settings(a.query, t, bondtrial.SI)
		if len(in.Wrong) > 0 || !reflect.DeepEqual(a, again) {
			tt.Errorf("%q: read again %+v (%v), was %+v", query, again, in.Wrong, a)
		}
	})
}

// The command line names every setting that is not the usual one, quoted for a
// shell.
func TestCommand(t *testing.T) {
	tr := &record.Trial{ID: "small", Asked: record.Asked{Factors: []string{"surface", "clamp time"}, Control: "Tarn"}}
	tr.Specimens = []*record.Specimen{{Code: "A", Adhesive: "Tarn"}, {Code: "B", Adhesive: "Bob's $5"}}
	for query, want := range map[string]string{
		"":           `bondtrial answer r.csv --control Tarn --factor surface --factor "clamp time"`,
		"control=":   `bondtrial answer r.csv --factor surface --factor "clamp time"`,
		"control=-x": `bondtrial answer r.csv --control=-x --factor surface --factor "clamp time"`,
		"control=bob%27s+$5&margin=10&threshold=60&family=all&required=6+MPa&seed=9&pooled=1&units=us": `bondtrial answer r.csv --control 'Bob'\''s $5' --factor surface --factor "clamp time" ` +
			`--margin 10 --threshold 60 --family all --required "6 MPa" --seed 9 --pooled-scatter --units us`,
	} {
		q, err := url.ParseQuery(query)
		if err != nil {
			t.Fatal(err)
		}
		a, _ := settings(q, tr, bondtrial.SI)
		if got := a.Command("r.csv"); got != want {
			t.Errorf("%s:\n%s, want\n%s", query, got, want)
		}
	}
}

// A factor whose name means something else in an address is still told apart.
func TestChoice(t *testing.T) {
	tr := &record.Trial{ID: "small", Asked: record.Asked{Factors: []string{"state", "surface"}}}
	wood := ""
	c := choice{Adhesives: []string{"A&B", "C"}, Wood: &wood, Factors: map[string]string{"state": "wet", "surface": "dry"}, State: "bond-broke"}
	path := readingsPath(tr, asked{query: url.Values{"margin": {"10"}}}, c)
	u, err := url.Parse(path)
	if err != nil {
		t.Fatal(err)
	}
	if got := chosen(u.Query(), tr); !reflect.DeepEqual(got, c) || u.Query().Get("margin") != "10" {
		t.Errorf("%s is read as %+v, want %+v", path, got, c)
	}
	if got, want := c.Words(tr.Factors()), "A&B and C, wet, dry, bond broke"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// Names of files are those of the trial, in any script, and end no header.
func FuzzDisposition(f *testing.F) {
	for _, s := range []string{"Benches", "Ясень 2027", "x\r\nSet-Cookie: a=b", `a"; filename="b.exe`, "", "../../etc", "é", "\xff", "a\u202egpj.exe"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, trial string) {
		name := FileName(&record.Trial{Asked: record.Asked{Name: trial}}, "readings", "csv")
		if strings.ContainsAny(name, "/\\\"\r\n\u202e") || !strings.HasSuffix(name, "-readings.csv") || strings.HasPrefix(name, ".") {
			t.Errorf("%q gives %q", trial, name)
		}
		for _, n := range []string{name, trial} {
			d := Disposition(n)
			if strings.ContainsFunc(d, func(r rune) bool { return r < ' ' || r > '~' }) {
				t.Errorf("%q: %q is not all printable ASCII", n, d)
			}
			kind, params, err := mime.ParseMediaType(d)
			if err != nil || kind != "attachment" || len(params) != 1 {
				t.Fatalf("%q: %q is read as %q %v: %v", n, d, kind, params, err)
			}
			if n == name && utf8.ValidString(name) && params["filename"] != name {
				t.Errorf("%q: %q is read as %q", n, d, params["filename"])
			}
		}
	})
}
