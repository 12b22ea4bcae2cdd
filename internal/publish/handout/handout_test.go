package handout

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"

	"bondtrial/internal/plan"
	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/table"
)

// example plans the example trial with three specimens of each.
func example(t testing.TB, change ...string) *plan.Plan {
	t.Helper()
	text := strings.Replace(string(trialfile.Example()), `specimens_per_cell = "auto"`, "specimens_per_cell = 3", 1)
	for k := 0; k < len(change); k += 2 {
		text = strings.Replace(text, change[k], change[k+1], 1)
	}
	tr, err := trialfile.Read(strings.NewReader(text), "trial.toml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(context.Background(), tr, plan.Options{Trials: 50})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

var blind = sync.OnceValues(func() (*plan.Plan, map[string][]byte) {
	p := example(&testing.T{})
	files, err := Files(p)
	if err != nil {
		panic(err)
	}
	by := make(map[string][]byte)
	for _, f := range files {
		by[f.Name] = f.Content
	}
	return p, by
})

func TestFiles(t *testing.T) {
	p, files := blind()
	for _, name := range []string{PlanText, PlanTable, PlanJSON, Readings, CutList, Chance, GlueUp, Breaks, Labels, Calendar, KeySealed} {
		if len(files[name]) == 0 {
			t.Errorf("there is no %s", name)
		}
	}
	again, err := Files(example(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range again {
		if !bytes.Equal(f.Content, files[f.Name]) {
			t.Errorf("%s of the same trial differs", f.Name)
		}
	}
	var j planFile
	if err := json.Unmarshal(files[PlanJSON], &j); err != nil || len(j.Specimens) != len(p.Specimens) || j.Schema != 1 {
		t.Errorf("plan for programs: %v, %d specimens", err, len(j.Specimens))
	}
	for _, want := range []string{"48 specimens: 3 of each of 4 adhesives", "How many", "Which board", "Orders", "When", "Caution: ", "somebody who will not break", "that is recorded"} {
		if !strings.Contains(strings.Join(strings.Fields(string(files[PlanText])), " "), want) {
			t.Errorf("the plan has no %q:\n%s", want, files[PlanText])
		}
	}
	if strings.Contains(string(files[PlanText]), "NaN") {
		t.Error("the plan has NaN")
	}
}

// What goes to the bench does not tell which adhesive is which.
func TestBlind(t *testing.T) {
	p, files := blind()
	for _, name := range []string{PlanTable, PlanJSON, Readings, Calendar, KeySealed} {
		for _, a := range p.Trial.Adhesives {
			if bytes.Contains(files[name], []byte(a.Name)) {
				t.Errorf("%s names %s", name, a.Name)
			}
		}
	}
	key, err := Open(files[KeySealed])
	if err != nil || len(key) != 4 {
		t.Fatalf("key %v, %v", key, err)
	}
	for _, k := range key {
		found := false
		for a, name := range p.Names {
			found = found || name == k.Blind && p.Trial.Adhesives[a].Name == k.Adhesive
		}
		if !found {
			t.Errorf("the key says %+v", k)
		}
	}
	for _, bad := range [][]byte{nil, []byte("x"), []byte("{}"), bytes.Replace(files[KeySealed], []byte(`"key": "`), []byte(`"key": "A`), 1),
		bytes.Replace(files[KeySealed], []byte(`the_key": "`), []byte(`the_key": "0`), 1)} {
		if key, err := Open(bad); err == nil {
			t.Errorf("%.40q opens to %v", bad, key)
		}
	}
}

func TestNotBlind(t *testing.T) {
	files, err := Files(example(t, "blind = true", "blind = false"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if f.Name == KeySealed {
			t.Errorf("a trial that is not blind has %s", f.Name)
		}
		if f.Name == PlanTable && !bytes.Contains(f.Content, []byte("Pemmet white")) {
			t.Error("the table does not name the adhesives")
		}
	}
}

// The table of readings, filled in, is one that can be read.
func TestReadingsAreReadBack(t *testing.T) {
	p, files := blind()
	rows, err := csv.NewReader(bytes.NewReader(files[Readings])).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	peak, wood := slices.Index(rows[0], "peak_n"), slices.Index(rows[0], "wood_failure_pct")
	for k, r := range rows[1:] {
		r[peak], r[wood] = fmt.Sprint(1000+10*k), "0"
	}
	var filled bytes.Buffer
	if err := csv.NewWriter(&filled).WriteAll(rows); err != nil {
		t.Fatal(err)
	}
	got, err := table.Read(&filled, "readings.csv", table.Options{Factors: []string{"surface"}})
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Readings) != len(p.Specimens) {
		t.Fatalf("%d readings of %d specimens", len(got.Readings), len(p.Specimens))
	}
	for _, r := range got.Readings {
		s := p.Specimens[r.GlueOrder-1]
		if r.Code != s.Code || r.Wood != s.Wood || r.Board != s.Board || r.BreakOrder != s.BreakTurn || r.Batch != fmt.Sprint(s.Batch) ||
			r.Adhesive != p.Names[s.Adhesive] || r.Factors["surface"] != s.Levels[0] {
			t.Errorf("read %+v, planned %+v", r, s)
		}
		if area := 1000.0 / float64(p.Trial.Specimen.Area); float64(r.Strength) < area {
			t.Errorf("strength %v over an area of %v", r.Strength, p.Trial.Specimen.Area)
		}
	}
}

func FuzzOpen(f *testing.F) {
	_, files := blind()
	f.Add(files[KeySealed])
	f.Add([]byte(`{"key":"AAAA","sha256_of_the_key":"00"}`))
	f.Fuzz(func(t *testing.T, content []byte) {
		if key, err := Open(content); err == nil && len(content) < 10 {
			t.Errorf("%q opens to %v", content, key)
		}
	})
}
