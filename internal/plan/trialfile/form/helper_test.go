package form

import (
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/pelletier/go-toml/v2"

	"bondtrial/internal/plan/trialfile"
)

// good is the shortest form that is right: that of the shortest trial file.
func good() *Form {
	return &Form{
		Name:      "Benches",
		Adhesives: []Adhesive{{Name: "Tarn", Family: "pva"}, {Name: "Fell", Family: "polyurethane"}},
		Woods:     []Wood{{Name: "ash", Boards: "4", Length: Measure{MM: "900"}, Width: Measure{MM: "120"}, Thickness: Measure{MM: "25"}}},
		Specimen: Specimen{Joint: "lap", Length: Measure{MM: "80"}, Width: Measure{MM: "20"}, Thickness: Measure{MM: "8"},
			Overlap: Measure{MM: "10"}},
		Work: Work{Start: "2027-04-12", TimeZone: "Europe/Berlin", Clamps: "12"},
	}
}

// sameTrial compares trials but for the lines that their parts stand on.
var sameTrial = cmp.Options{
	cmp.FilterPath(func(p cmp.Path) bool { return p.Last().String() == ".Line" }, cmp.Ignore()),
	cmp.Comparer(func(a, b *time.Location) bool { return a.String() == b.String() }),
	cmp.Comparer(func(a, b trialfile.Celsius) bool { return a == b || a != a && b != b }), // NaN: not known
}

var sameForm = cmp.Options{cmp.AllowUnexported(Form{}), cmpopts.EquateEmpty()}

type failer interface {
	Helper()
	Fatalf(format string, args ...any)
}

func mustParse(t failer, text string) *Form {
	t.Helper()
	f, err := Parse([]byte(text))
	if err != nil {
		t.Fatalf("%v, reading\n%s", err, text)
	}
	return f
}

func read(text string) (*trialfile.Trial, error) {
	return trialfile.Read(strings.NewReader(text), "t.toml")
}

// valuesOf returns a form as a page sends it.
func valuesOf(f *Form) url.Values {
	v := url.Values{}
	for _, p := range f.Fields() {
		for _, field := range p.Fields {
			v.Set(field.Name, field.Value)
		}
	}
	return v
}

// checkForm checks what holds of every form: its file is TOML and gives the form
// again, and Check either returns a trial or problems that a form can show.
func checkForm(t failer, f *Form) {
	t.Helper()
	text := string(f.TOML())
	if err := toml.Unmarshal([]byte(text), new(map[string]any)); err != nil && len(text) <= trialfile.MaxBytes {
		t.Fatalf("not TOML: %v\n%s", err, text)
	}
	trial, problems := f.Check()
	if (trial == nil) != (len(problems) > 0) {
		t.Fatalf("trial %v beside problems %v", trial, problems)
	}
	var names []string
	for _, p := range f.Fields() {
		for _, field := range p.Fields {
			if field.Label == "" || field.Kind == "" {
				t.Fatalf("field %s has no label or no kind", field.Name)
			}
			names = append(names, field.Name)
		}
	}
	for _, p := range problems {
		if p.Message == "" || p.Field != "" && !slices.Contains(names, p.Field) {
			t.Fatalf("problem %+v", p)
		}
	}
}

func wantTrial(t *testing.T, f *Form) *trialfile.Trial {
	t.Helper()
	trial, problems := f.Check()
	if len(problems) > 0 {
		t.Fatalf("problems: %+v", problems)
	}
	return trial
}
