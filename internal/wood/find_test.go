package wood

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bondtrial"
)

// The species meant are common knowledge of woods, from memory, where the name
// is not that of the table.
var namesToFind = []struct {
	name, how string
	keys      string
}{
	// The name of one species.
	{"ash-white", exact, "ash-white"},
	{"white ash", exact, "ash-white"},
	{"White Ash", exact, "ash-white"},
	{"ASH, WHITE", exact, "ash-white"},
	{"  white_ash lumber ", exact, "ash-white"},
	{"Western larch", exact, "larch-western"},
	{"northern red oak", exact, "oak-northern red"},
	{"white oak", exact, "oak-white"},
	{"American white oak", exact, "oak-white"},
	{"American beech", exact, "beech-american"},
	{"american black walnut", exact, "walnut-black"},
	{"Engelmann spruce", exact, "spruce-engelmann"},
	{"western redcedar", exact, "cedar-western red"},
	{"Port-Orford-cedar", exact, "cedar-port-orford"},
	{"bald cypress", exact, "baldcypress"},
	{"yellow poplar", exact, "yellow-poplar"},
	{"tulipwood", exact, "yellow-poplar"},
	{"Tulip Poplar", exact, "yellow-poplar"},
	{"Douglas-fir, coast", exact, "douglas-fir-coast"},
	{"white fir", exact, "fir-white"},
	// A genus, alone or with a species that is not in the table.
	{"ash", genusOnly, "ash-black ash-green ash-oregon ash-white"},
	{"larch", genusOnly, "larch-western"},
	{"beech", genusOnly, "beech-american"},
	{"oak", genusOnly, "oak-black oak-northern red oak-pin oak-scarlet oak-southern red oak-white"},
	{"maple", genusOnly, "maple-black maple-red maple-silver maple-sugar"},
	{"fir", genusOnly, "fir-balsam fir-california red fir-grand fir-noble fir-pacific silver fir-subalpine fir-white"},
	{"spruce", genusOnly, "spruce-engelmann"},
	{"birch", genusOnly, "birch-paper birch-sweet"},
	{"walnut", genusOnly, "walnut-black"},
	{"cherry", genusOnly, "cherry-black"},
	{"aspen", genusOnly, "aspen-quaking"},
	{"hemlock", genusOnly, "hemlock-eastern hemlock-mountain hemlock-western"},
	{"linden", genusOnly, "basswood-american"},
	{"European ash", genusOnly, "ash-black ash-green ash-oregon ash-white"},
	{"american ash", genusOnly, "ash-black ash-green ash-oregon ash-white"},
	{"European beech", genusOnly, "beech-american"},
	{"European larch", genusOnly, "larch-western"},
	{"Siberian larch", genusOnly, "larch-western"},
	{"Norway spruce", genusOnly, "spruce-engelmann"},
	{"Sitka spruce", genusOnly, "spruce-engelmann"},
	{"yellow birch", genusOnly, "birch-paper birch-sweet"},
	{"swamp white oak", genusOnly, "oak-black oak-northern red oak-pin oak-scarlet oak-southern red oak-white"},
	{"Fraxinus excelsior", genusOnly, "ash-black ash-green ash-oregon ash-white"},
	{"ash (Fraxinus excelsior)", genusOnly, "ash-black ash-green ash-oregon ash-white"},
	{"linden (Tilia cordata)", genusOnly, "basswood-american"},
	{"Picea abies", genusOnly, "spruce-engelmann"},
	// Names of the trade, and names that several species share.
	{"hard maple", trade, "maple-black maple-sugar"},
	{"soft maple", trade, "maple-red maple-silver"},
	{"red oak", trade, "oak-black oak-northern red oak-pin oak-scarlet oak-southern red"},
	{"southern yellow pine", trade, "pine-loblolly pine-longleaf pine-shortleaf pine-slash"},
	{"douglas fir", trade, "douglas-fir-coast douglas-fir-interior north douglas-fir-interior west"},
	{"Douglas-fir", trade, "douglas-fir-coast douglas-fir-interior north douglas-fir-interior west"},
	{"interior douglas fir", trade, "douglas-fir-interior north douglas-fir-interior west"},
	{"Oregon pine", trade, "douglas-fir-coast douglas-fir-interior north douglas-fir-interior west"},
	{"cedar", trade, "cedar-port-orford cedar-western red"},
	{"red cedar", trade, "cedar-western red"},
	{"cypress", trade, "baldcypress"},
	{"poplar", trade, "aspen-quaking yellow-poplar"},
	{"white pine", trade, "pine-western white"},
	{"red fir", trade, "fir-california red"},
}

// How a name is matched.
const (
	exact     = "exact"
	genusOnly = "genus"
	trade     = "several or trade"
)

func TestFind(t *testing.T) {
	for _, c := range namesToFind {
		m, err := Find(c.name)
		if err != nil {
			t.Errorf("%q: %v", c.name, err)
			continue
		}
		how := trade
		switch {
		case m.Exact && !m.GenusOnly && m.Note == "":
			how = exact
		case m.GenusOnly && !m.Exact && m.Note != "":
			how = genusOnly
		case m.Exact || m.GenusOnly || m.Note == "":
			how = fmt.Sprintf("exact %v, genus only %v, note %q", m.Exact, m.GenusOnly, m.Note)
		}
		var keys []string
		for _, s := range m.Species {
			keys = append(keys, s.Key)
		}
		if got := strings.Join(keys, " "); got != c.keys || how != c.how || m.Query != c.name {
			t.Errorf("%q: %s, %s; want %s, %s", c.name, how, got, c.how, c.keys)
		}
	}
}

// Woods that are not in the table, many of them called after a genus that they
// do not belong to (common botanical knowledge, from memory).
func TestFindRefuses(t *testing.T) {
	for _, name := range []string{
		"mountain ash", "Tasmanian oak", "silky oak", "Brazilian cherry", "Brazilian walnut", "African walnut",
		"Parana pine", "Huon pine", "southern beech", "Queensland maple", "Spanish cedar", "yellow cedar",
		"eastern red cedar", "cedar of Lebanon", "Leyland cypress", "lombardy poplar", "redwood", "teak", "elm",
		"white", "western", "spruce pine", "ash and oak", "ash plywood", "x", "fir douglas spruce", "pineapple",
		"ash Quercus",
	} {
		if m, err := Find(name); err == nil {
			t.Errorf("%q was taken for %s", name, namesOf(m.Species))
		}
	}
	for _, name := range []string{"", "  ", "wood", "-"} {
		if _, err := Find(name); err == nil || err.Error() != "the wood has no name" {
			t.Errorf("%q: %v", name, err)
		}
	}
	_, err := Find("teak")
	want := `the handbook's table has no wood "teak": write a species, like white ash, or a genus of these: alder, ash, aspen, baldcypress, basswood, beech, birch, cherry, douglas-fir, fir, hemlock, larch, linden, maple, oak, pine, spruce, tupelo, walnut, yellow-poplar`
	if err == nil || err.Error() != want {
		t.Errorf("got %v", err)
	}
}

func TestNotesOfMatches(t *testing.T) {
	for name, want := range map[string]string{
		"larch":        `"larch" was taken for the American species of Larix in the handbook's table: western larch`,
		"European ash": `"European ash" was taken for the American species of Fraxinus in the handbook's table: black ash, green ash, oregon ash, white ash`,
		"white pine":   `"white pine" was taken for western white pine; other woods may bear the name`,
		"hard maple":   `"hard maple" is a trade name for sugar and black maple`,
		"cypress":      `"cypress" was taken for baldcypress, the cypress of the American timber trade; true cypresses (Cupressus) are not in the table`,
	} {
		m, err := Find(name)
		if err != nil || m.Note != want {
			t.Errorf("%s: %q, %v; want %q", name, m.Note, err, want)
		}
	}
}

// Each species is found, exactly, by its key and by its name in speech.
func TestEachSpeciesIsFoundByItsName(t *testing.T) {
	for _, s := range All() {
		for _, name := range []string{s.Key, s.Name(), strings.ToUpper(s.Name())} {
			m, err := Find(name)
			if err != nil || !m.Exact || len(m.Species) != 1 || m.Species[0] != s {
				t.Errorf("%q does not find %s: %+v, %v", name, s.Key, m, err)
			}
		}
	}
}

// Each genus and trade name that is listed has species, so that no list names a
// key that the table does not have.
func TestListsNameWhatTheTableHas(t *testing.T) {
	for _, g := range genera {
		if len(g.species()) == 0 {
			t.Errorf("no species of %s", g.word)
		}
	}
	for _, n := range tradeNames {
		if len(ofKeys(n.keys...)) != len(n.keys) {
			t.Errorf("%s names a key that is not in the table: %v", n.name, n.keys)
		}
	}
	covered := map[string]bool{"cedar-port-orford": true, "cedar-western red": true} // a trade name only
	for _, g := range genera {
		for _, s := range g.species() {
			covered[s.Key] = true
		}
	}
	for _, s := range All() {
		if !covered[s.Key] {
			t.Errorf("%s belongs to no genus", s.Key)
		}
	}
}

func TestFindNeverReturnsNothing(t *testing.T) {
	word := rapid.SampledFrom([]string{"white", "ash", "oak", "red", "fir", "douglas", "american", "wood", "pinus", "european", "'", "é", "poplar"})
	rapid.Check(t, func(t *rapid.T) {
		name := strings.Join(rapid.SliceOfN(word, 0, 4).Draw(t, "words"), rapid.SampledFrom([]string{" ", "-", ", "}).Draw(t, "gap"))
		m, err := Find(name)
		if (err == nil) != (len(m.Species) > 0) || err == nil && m.Exact != (m.Note == "") {
			t.Fatalf("%q: %+v, %v", name, m, err)
		}
	})
}

// The four ashes of tables 5-3a and 5-3b at 12 %: 13.2 MPa (white), and 1570,
// 1790 and 1910 lbf/in² (black, Oregon, green), worked out by hand with
// 6.894757 kPa.
func TestRangeOfAGenus(t *testing.T) {
	m, err := Find("ash")
	if err != nil {
		t.Fatal(err)
	}
	r, err := m.Shear(12)
	if err != nil {
		t.Fatal(err)
	}
	const black, oregon, green, white = 10.824768, 12.341615, 13.168986, 13.2
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"low", float64(r.Low), black},
		{"high", float64(r.High), white},
		{"median", float64(r.Median), (oregon + green) / 2},
		{"mean", float64(r.Mean), (black + oregon + green + white) / 4},
	} {
		if math.Abs(c.got-c.want) > 2e-6 { // the last of the digits above
			t.Errorf("%s: %v MPa, want %v", c.name, c.got, c.want)
		}
	}
	if r.Species != 4 {
		t.Errorf("%d species", r.Species)
	}
}

func TestRangeOfOneSpecies(t *testing.T) {
	m, err := Find("white ash")
	if err != nil {
		t.Fatal(err)
	}
	r, err := m.Shear(30) // above Mp: green, 9.3 MPa (table 5-3a)
	want := Range{Low: 9.3, Median: 9.3, Mean: 9.3, High: 9.3, Species: 1}
	if err != nil || r != want {
		t.Errorf("got %+v, %v; want %+v", r, err, want)
	}
}

// 9.4 MPa at 12 % and 6.0 MPa green, Mp 28 (tables 5-3a and 5-13): 9.4·(9.4/6.0)^(2/16) = 9.94.
func ExampleFind() {
	m, err := Find("larch")
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := m.Shear(bondtrial.Percent(10))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(m.Note)
	fmt.Printf("%.1f MPa at 10 %%\n", float64(r.Median))
	// Output:
	// "larch" was taken for the American species of Larix in the handbook's table: western larch
	// 9.9 MPa at 10 %
}
