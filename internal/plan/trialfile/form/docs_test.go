package form

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

func documentation(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile("../../../../docs/trial-file.md")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

var word = regexp.MustCompile("`([^`]+)`")

// Every key of the documentation has a field, every field is one of a slot, and
// what is taken where it is blank is the same in both where that is a number.
func TestEveryKey(t *testing.T) {
	kinds := map[string]string{"At the top of the file:": "", "[[adhesive]]": "adhesive", "[[wood]]": "wood", "[[board]]": "board", "[[reused]]": "reused",
		"[[factor]]": "factor", "[specimen]": "specimen", "[cutting]": "cutting", "[work]": "work", "[labels]": "labels"}
	f := &Form{Adhesives: make([]Adhesive, 1), Woods: make([]Wood, 1), Boards: make([]Board, 1), Reused: make([]Reused, 1), Factors: make([]Factor, 1)}
	slots := map[string]bool{}
	for _, s := range f.sections() {
		for i, c := range s.slots {
			slots[fieldName(s.kind, c.key)] = true
			if len(about[s.kind]) != len(s.slots) || about[s.kind][i].key != c.key {
				t.Errorf("%s: the fields differ from the slots at %s", s.name, c.key)
			}
		}
	}
	found := map[string]bool{}
	text, _, _ := strings.Cut(documentation(t), "## Families")
	_, text, _ = strings.Cut(text, "## The keys")
	kind, starts := "", regexp.MustCompile("^(?:`(\\[+[a-z]+\\]+)`|\\| key of `(\\[+[a-z]+\\]+)`)")
	number := regexp.MustCompile(`^\d+(\.\d+)?`)
	for line := range strings.Lines(text) {
		if m := starts.FindStringSubmatch(line); m != nil {
			kind = kinds[m[1]+m[2]]
		}
		cells := strings.Split(line, "|")
		if len(cells) < 4 || !strings.HasPrefix(line, "| `") {
			continue
		}
		numbers := strings.Split(cells[3], ",")
		for i, m := range word.FindAllStringSubmatch(cells[1], -1) {
			of, key := kind, m[1]
			switch {
			case key == "hours":
				continue
			case strings.HasSuffix(key, "day") || key == "weekdays":
				of = "hours"
			}
			keys := []string{key}
			if other := twin(key); other != "" {
				keys = append(keys, other)
			}
			if key == "levels" {
				keys = []string{"levels.0", "levels.1"}
			}
			for _, k := range keys {
				info, ok := lookUp(of, k)
				if !ok {
					t.Errorf("%s: no field for %s", of, k)
				}
				found[fieldName(of, k)] = true
				if required := strings.Contains(cells[3], "required"); info.must && !required || required && !info.must && !strings.Contains(cells[3], "required ") && !strings.Contains(cells[3], "required,") {
					t.Errorf("%s: %s must be filled in: %v, documented: %s", of, k, info.must, cells[3])
				}
				want := number.FindString(strings.TrimSpace(cells[3]))
				if i < len(numbers) && number.MatchString(strings.TrimSpace(numbers[i])) {
					want = number.FindString(strings.TrimSpace(numbers[i]))
				}
				if got := number.FindString(info.without); want != got {
					t.Errorf("%s: without %s, %s is taken, and the documentation says %s", of, k, info.without, cells[3])
				}
			}
		}
	}
	for k := range slots {
		if !found[k] {
			t.Errorf("the field %s is not in the documentation", k)
		}
	}
	if len(found) != len(slots) {
		t.Errorf("%d fields, %d in the documentation", len(slots), len(found))
	}
}

// Families are those of the documentation, with the same times.
func TestFamilies(t *testing.T) {
	_, text, _ := strings.Cut(documentation(t), "## Families")
	text, _, _ = strings.Cut(text, "## When")
	want := map[string][]string{}
	for line := range strings.Lines(text) {
		cells := strings.Split(strings.TrimSpace(line), "|")
		if len(cells) < 7 || !strings.HasPrefix(line, "| `") {
			continue
		}
		for i := range cells {
			if cells[i] = strings.TrimSpace(cells[i]); cells[i] == "–" {
				cells[i] = ""
			}
		}
		for _, m := range word.FindAllStringSubmatch(cells[1], -1) {
			want[m[1]] = cells[2:7]
		}
	}
	all := Families()
	if len(all) != len(want) || len(all) != 21 { // counted in the documentation
		t.Errorf("%d families, %d in the documentation", len(all), len(want))
	}
	for _, f := range all {
		w := want[f.Key]
		if len(w) != 5 {
			t.Errorf("%s is not in the documentation", f.Key)
			continue
		}
		if f.Name == "" || w[0] != "" && !strings.HasPrefix(w[0], f.Name) || f.Open != w[1] || f.Clamp != w[2] || f.Cure != w[3] || f.Lowest != w[4] {
			t.Errorf("%+v, documented %q", f, w)
		}
		if (f.Source == "") != (w[1]+w[2]+w[3]+w[4] == "") {
			t.Errorf("%s: the source is %q", f.Key, f.Source)
		}
	}
}
