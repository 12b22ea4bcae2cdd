// Package wood holds handbook facts about wood: the shear strength of a species
// at a moisture content ([Find], [Species.Shear]) and the moisture content that
// wood takes on in a climate ([Equilibrium]).
//
// The strengths are those of the Wood Handbook (FPL-GTR-282, table 5-3), for
// small clear specimens of woods grown in the United States: averages of a
// species, of which single boards depart by a good part. They tell whether a
// reading is plausible. They are no design values.
package wood

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"bondtrial"
)

//go:embed data/wood_properties.csv
var propertiesCSV string

//go:embed data/wood_intersection_mc.csv
var intersectionCSV string

// Species is a row of the handbook: a species, or one of its growing regions.
type Species struct {
	Key      string // as in the table: "ash-white", "oak-northern red", "baldcypress"
	Softwood bool

	// Shear strength parallel to the grain, average of small clear specimens.
	ShearGreen bondtrial.Megapascal // above Intersection
	Shear12    bondtrial.Megapascal // at 12 % moisture content

	// Intersection is the moisture content, percent of the dry mass, below
	// which drying changes the strength (Mp; Wood Handbook, table 5-13; 25
	// where the species is not listed).
	Intersection bondtrial.Percent

	Source string // which print the strengths were read in
}

// Name returns the species in the order of speech: "white ash", "douglas-fir,
// coast", "baldcypress".
func (s Species) Name() string {
	if rest, ok := strings.CutPrefix(s.Key, "douglas-fir-"); ok {
		return "douglas-fir, " + rest
	}
	if s.Key == "yellow-poplar" {
		return s.Key
	}
	if s.Key == "cedar-port-orford" {
		return "port-orford cedar"
	}
	if group, rest, ok := strings.Cut(s.Key, "-"); ok {
		return rest + " " + group
	}
	return s.Key
}

// All returns every species of the table, in the order of their keys.
func All() []Species { return slices.Clone(table()) }

// table is read once from the files that are built in. They are part of the
// program, so a fault in them is a panic; the tests read all of it.
var table = sync.OnceValue(func() []Species {
	list, err := read(propertiesCSV, intersectionCSV)
	if err != nil {
		panic("wood: built-in table: " + err.Error())
	}
	return list
})

// read makes the species from the texts of the two files.
func read(properties, intersections string) ([]Species, error) {
	mp, err := readIntersections(intersections)
	if err != nil {
		return nil, err
	}
	rows, err := records(properties)
	if err != nil {
		return nil, err
	}
	byKey := map[string]*Species{}
	for _, r := range rows {
		key := r["species"]
		s := byKey[key]
		if s == nil {
			s = &Species{Key: key, Softwood: r["group"] == "softwood", Intersection: mp.of(key), Source: r["source"]}
			byKey[key] = s
		}
		shear, err := stress(r["shear_parallel_printed"], r["printed_unit"])
		if err != nil {
			return nil, fmt.Errorf("%s: %w", key, err)
		}
		switch r["moisture_pct"] {
		case "green":
			s.ShearGreen = shear
		case "12":
			s.Shear12 = shear
		default:
			return nil, fmt.Errorf("%s: unknown moisture content %q", key, r["moisture_pct"])
		}
	}
	var list []Species
	for _, s := range byKey {
		if s.ShearGreen <= 0 || s.Shear12 <= 0 {
			return nil, fmt.Errorf("%s: no shear strength green or at 12 %%", s.Key)
		}
		list = append(list, *s)
	}
	slices.SortFunc(list, func(a, b Species) int { return strings.Compare(a.Key, b.Key) })
	return list, nil
}

// stress converts a printed strength.
func stress(printed, unit string) (bondtrial.Megapascal, error) {
	v, err := strconv.ParseFloat(printed, 64)
	if err != nil {
		return 0, fmt.Errorf("strength %q is not a number", printed)
	}
	switch unit {
	case "kPa":
		return bondtrial.Megapascal(v / 1000), nil
	case "lbf/in2":
		return bondtrial.Megapascal(v * bondtrial.MegapascalPerPSI), nil
	}
	return 0, fmt.Errorf("unknown unit %q", unit)
}

const allOthers = "all-others"

// intersections holds Mp by species, and for all others.
type intersections map[string]bondtrial.Percent

// of returns Mp of a species. The table of strengths divides Douglas-fir by
// region, that of Mp does not.
func (m intersections) of(key string) bondtrial.Percent {
	if strings.HasPrefix(key, "douglas-fir-") {
		key = "douglas-fir"
	}
	if v, ok := m[key]; ok {
		return v
	}
	return m[allOthers]
}

func readIntersections(text string) (intersections, error) {
	rows, err := records(text)
	if err != nil {
		return nil, err
	}
	m := intersections{}
	for _, r := range rows {
		v, err := strconv.ParseFloat(r["Mp_pct"], 64)
		if err != nil || v <= 12 || v > 40 {
			return nil, fmt.Errorf("%s: Mp %q is not a moisture content above 12", r["species"], r["Mp_pct"])
		}
		m[r["species"]] = bondtrial.Percent(v)
	}
	if _, ok := m[allOthers]; !ok {
		return nil, fmt.Errorf("no Mp of %s", allOthers)
	}
	return m, nil
}

// records reads a file with a header and comments into one map a row.
func records(text string) ([]map[string]string, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		return nil, err
	}
	if len(rows) < 2 {
		return nil, fmt.Errorf("no rows")
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = row[i]
		}
		out = append(out, m)
	}
	return out, nil
}
