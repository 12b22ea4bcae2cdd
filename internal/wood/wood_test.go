package wood

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"bondtrial"
)

// The table that is built in, row by row, against its own columns in MPa and for
// Mp, which were converted and joined by another program when the file was made.
func TestTableAgreesWithItsConvertedColumns(t *testing.T) {
	rows, err := records(propertiesCSV)
	if err != nil {
		t.Fatal(err)
	}
	byKey := map[string]Species{}
	for _, s := range All() {
		byKey[s.Key] = s
	}
	// 54 species, green and at 12 %: the count in the description of the data.
	if len(byKey) != 54 || len(rows) != 108 {
		t.Errorf("%d species in %d rows, want 54 in 108", len(byKey), len(rows))
	}
	for _, r := range rows {
		s, ok := byKey[r["species"]]
		if !ok {
			t.Errorf("%s is not in the table", r["species"])
			continue
		}
		got := s.Shear12
		if r["moisture_pct"] == "green" {
			got = s.ShearGreen
		}
		want, err := strconv.ParseFloat(r["shear_parallel_MPa"], 64)
		if err != nil {
			t.Fatal(err)
		}
		// Two decimals are printed: half of the last is 0.005.
		if math.Abs(float64(got)-want) > 0.005+1e-9 {
			t.Errorf("%s at %s: %v MPa, want %v", s.Key, r["moisture_pct"], got, want)
		}
		mp, err := strconv.ParseFloat(r["Mp_pct"], 64)
		if err != nil {
			t.Fatal(err)
		}
		if float64(s.Intersection) != mp {
			t.Errorf("%s: Mp %v, want %v", s.Key, s.Intersection, mp)
		}
		if s.Softwood != (r["group"] == "softwood") || s.Source == "" {
			t.Errorf("%s: softwood %v, source %q", s.Key, s.Softwood, s.Source)
		}
	}
}

// Printed values of the Wood Handbook, FPL-GTR-282, tables 5-3a (kPa) and 5-3b
// (lbf/in²): shear parallel to the grain, green and at 12 %, and Mp of table
// 5-13. Psi are converted with 6.894757 kPa (NIST SP 811, appendix B.8; from memory, unconfirmed).
func TestPrintedStrengths(t *testing.T) {
	const psi = 6.894757e-3
	for _, c := range []struct {
		key       string
		green, at bondtrial.Megapascal
		mp        bondtrial.Percent
	}{
		{"ash-white", 9.3, 13.2, 24},
		{"larch-western", 6.0, 9.4, 28},
		{"douglas-fir-coast", 6.2, 7.8, 24},
		{"pine-loblolly", 5.9, 9.6, 21},
		{"oak-white", 8.6, 13.8, 25},
		{"beech-american", 1290 * psi, 2010 * psi, 25},
		{"walnut-black", 1220 * psi, 1370 * psi, 25},
	} {
		list := ofKeys(c.key)
		if len(list) != 1 {
			t.Errorf("%s: %d species", c.key, len(list))
			continue
		}
		s := list[0]
		// The factor has seven digits.
		near := func(a, b bondtrial.Megapascal) bool { return math.Abs(float64(a-b)) < 1e-6*float64(b) }
		if !near(s.ShearGreen, c.green) || !near(s.Shear12, c.at) || s.Intersection != c.mp {
			t.Errorf("%s: %v and %v MPa, Mp %v; want %v, %v, %v", c.key, s.ShearGreen, s.Shear12, s.Intersection, c.green, c.at, c.mp)
		}
	}
}

// What All returns may be changed without harm to the table.
func TestAllIsACopy(t *testing.T) {
	All()[0].Shear12 = -1
	if All()[0].Shear12 < 0 {
		t.Error("the built-in table was changed")
	}
}

func TestDamagedTables(t *testing.T) {
	const head = "species,group,moisture_pct,shear_parallel_printed,printed_unit,source\n"
	const mp = "species,Mp_pct\nall-others,25\n"
	for _, c := range []struct{ name, properties, intersections, want string }{
		{"no rows", head, mp, "no rows"},
		{"one condition", head + "ash-white,hardwood,12,13200,kPa,x\n", mp, "ash-white: no shear strength green or at 12 %"},
		{"unit", head + "ash-white,hardwood,12,13200,bar,x\n", mp, `ash-white: unknown unit "bar"`},
		{"number", head + "ash-white,hardwood,12,,kPa,x\n", mp, `ash-white: strength "" is not a number`},
		{"moisture", head + "ash-white,hardwood,13,1,kPa,x\n", mp, `ash-white: unknown moisture content "13"`},
		{"ragged", head + "ash-white\n", mp, "record on line 2: wrong number of fields"},
		{"no default", head, "species,Mp_pct\nash-white,24\n", "no Mp of all-others"},
		{"Mp below 12", head, "species,Mp_pct\nall-others,12\n", `all-others: Mp "12" is not a moisture content above 12`},
	} {
		_, err := read(c.properties, c.intersections)
		if err == nil || err.Error() != c.want {
			t.Errorf("%s: got %v, want %s", c.name, err, c.want)
		}
	}
}

func TestNamesInTheOrderOfSpeech(t *testing.T) {
	want := map[string]string{
		"ash-white": "white ash", "oak-northern red": "northern red oak", "baldcypress": "baldcypress",
		"yellow-poplar": "yellow-poplar", "douglas-fir-interior north": "douglas-fir, interior north", "cedar-port-orford": "port-orford cedar",
	}
	for _, s := range All() {
		if w, ok := want[s.Key]; ok && s.Name() != w {
			t.Errorf("%s is called %q, want %q", s.Key, s.Name(), w)
		}
		if strings.TrimSpace(s.Name()) == "" {
			t.Errorf("%s has no name", s.Key)
		}
	}
}
