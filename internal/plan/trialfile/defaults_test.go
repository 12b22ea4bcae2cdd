package trialfile

import (
	"encoding/csv"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// rows names the row of testdata/adhesive_practice.csv that a family is taken from.
var rows = map[Family]string{
	"pva": "PVA white", "pva-yellow": "PVA yellow (aliphatic)", "pva-crosslinking": "PVA cross-linking (water-resistant)",
	"polyurethane": "polyurethane one-part", "epoxy": "epoxy slow", "epoxy-fast": "epoxy 5-minute",
	"urea": "urea formaldehyde powder + water", "resorcinol": "resorcinol powder + resin",
	"hide": "hide glue hot", "hide-liquid": "hide glue liquid", "construction": "construction adhesive moisture-curing", "contact": "contact cement",
}

var number = regexp.MustCompile(`\d+`)

// ends returns the first and the last number of a text such as "4-12 h", and
// whether there is any.
func ends(text string) (low, high float64, ok bool) {
	all := number.FindAllString(text, -1)
	if all == nil {
		return 0, 0, false
	}
	low, _ = strconv.ParseFloat(all[0], 64)
	high, _ = strconv.ParseFloat(all[len(all)-1], 64)
	return low, high, true
}

// long returns the longer end of a text such as "1-2 weeks": none is 0, and a text
// without a number is no time.
func long(t *testing.T, text string) time.Duration {
	t.Helper()
	_, high, ok := ends(text)
	switch {
	case strings.HasPrefix(text, "none"):
		return 0
	case !ok:
		return noTime
	}
	for _, word := range strings.Fields(text) {
		if unit, known := timeUnits[word]; known {
			return time.Duration(high * float64(unit))
		}
	}
	t.Fatalf("no unit in %q", text)
	return 0
}

// The practice of each family is that of its row, at the safe end of a range: the
// shortest open time, the longest clamp time and cure, the highest of the lowest
// temperatures. Where a row has words instead, the comment says how they are taken.
func TestPractice(t *testing.T) {
	f, err := os.Open("testdata/adhesive_practice.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	table := map[string][]string{}
	for _, row := range all[1:] {
		table[row[0]] = row
	}
	checked := 0
	for _, p := range families {
		name, ok := rows[p.family]
		if !ok {
			if p.open != noTime || p.clamp != noTime || p.cure != noTime || !math.IsNaN(float64(p.lowest)) || p.source != "" {
				t.Errorf("%s has practice and no row in the table", p.family)
			}
			continue
		}
		row := table[name]
		if row == nil {
			t.Fatalf("no row %q", name)
		}
		checked++
		low, _, _ := ends(row[1])
		open := time.Duration(low * float64(time.Minute))
		if p.family == "contact" { // "dry 5 min to 1 h then assemble": no time of the kind
			open = noTime
		}
		lowest := noLowest
		if _, high, ok := ends(row[4]); ok && p.family != "hide" && p.family != "construction" { // "glue kept at 60-71", "may be applied below 0 …"
			lowest = Celsius(high)
		}
		cure := long(t, row[3])
		if p.family == "polyurethane" { // "24 h or more": two weeks, common practice, no source
			cure = 14 * day
		}
		if p.open != open || p.clamp != long(t, row[2]) || p.cure != cure {
			t.Errorf("%s: open %v, clamp %v, cure %v; the table has %q", p.family, p.open, p.clamp, p.cure, row[1:4])
		}
		if p.lowest != lowest && !(math.IsNaN(float64(p.lowest)) && math.IsNaN(float64(lowest))) {
			t.Errorf("%s: lowest %v, the table has %q", p.family, p.lowest, row[4])
		}
		if p.what == "" || p.source == "" {
			t.Errorf("%s has no description or no source", p.family)
		}
		// At least 7 days before a test: EN 205.
		if cure, source, ok := p.curing(); !ok || cure != max(p.cure, 7*24*time.Hour) || source == "" {
			t.Errorf("%s: cure %v by %q", p.family, cure, source)
		}
	}
	if checked != len(rows) || checked != len(table) {
		t.Errorf("%d of %d rows checked, for %d families", checked, len(table), len(rows))
	}
}
