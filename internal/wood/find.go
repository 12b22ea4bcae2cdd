package wood

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"bondtrial"
)

// Match is what the handbook's table has for the name of a wood.
type Match struct {
	Query   string    // as handed to Find
	Species []Species // at least one, in the order of their keys

	// Exact says that the name is that of one species of the table. Otherwise
	// Note says in one sentence what the name was taken for.
	Exact bool
	// GenusOnly says that only the genus agrees: the wood may be another
	// species of it, from another continent.
	GenusOnly bool
	Note      string
}

// Range is a strength over the species of a Match, MPa.
type Range struct {
	Low, Median, Mean, High bondtrial.Megapascal
	Species                 int // how many
}

// Shear returns the shear strength parallel to the grain at a moisture content in
// percent of the dry mass, over the species of the match: all four values are
// the same for one species. See [AtMoisture] for the equation and the errors.
func (m Match) Shear(moisture bondtrial.Percent) (Range, error) {
	if len(m.Species) == 0 {
		panic("wood: match without species")
	}
	var all []bondtrial.Megapascal
	sum := bondtrial.Megapascal(0)
	for _, s := range m.Species {
		v, err := s.Shear(moisture)
		if err != nil {
			return Range{}, err
		}
		all = append(all, v)
		sum += v
	}
	slices.Sort(all)
	n := len(all)
	median := all[n/2]
	if n%2 == 0 {
		median = (all[n/2-1] + median) / 2
	}
	return Range{Low: all[0], Median: median, Mean: sum / bondtrial.Megapascal(n), High: all[n-1], Species: n}, nil
}

// Find returns the species of the table that a woodworker's name may mean. Case,
// hyphens and the order of words do not matter.
//
//   - The name of one species ("white ash", "ash-white", "Western larch") gives it,
//     and the match is exact.
//   - A trade name ("hard maple", "red oak", "southern yellow pine"), or a name
//     that several species share, gives them all, with a note.
//   - The name of a genus ("ash", "larch", "oak"), alone, with a word for a species
//     that is not in the table ("European ash", "Norway spruce") or in Latin
//     ("Fraxinus excelsior"), gives the American species of the genus, with a note
//     and GenusOnly.
//
// A name is never stretched further. Many woods are called after a genus that they
// do not belong to: "mountain ash", "Brazilian cherry" and "Parana pine" are
// errors, yellow-poplar is no poplar, and douglas-fir is no fir.
func Find(name string) (Match, error) {
	words := split(name)
	if len(words) == 0 {
		return Match{}, fmt.Errorf("the wood has no name")
	}
	m := Match{Query: name}
	for _, ws := range [][]string{words, without(words, "american")} {
		for _, s := range table() {
			if sameWords(ws, split(s.Key)) {
				m.Species, m.Exact = []Species{s}, true
				return m, nil
			}
		}
		for _, t := range tradeNames {
			if sameWords(ws, split(t.name)) {
				m.Species = ofKeys(t.keys...)
				m.Note = fmt.Sprintf("%q %s", name, t.note)
				return m, nil
			}
		}
	}
	g, rest, certain, ok := genusOf(words)
	if !ok {
		return Match{}, unknown(name)
	}
	if rest := without(rest, "american"); len(rest) > 0 && !certain {
		for _, s := range g.species() {
			if containsAll(split(s.Key), rest) {
				m.Species = append(m.Species, s)
			}
		}
		if len(m.Species) > 0 {
			m.Note = fmt.Sprintf("%q was taken for %s; other woods may bear the name", name, namesOf(m.Species))
			return m, nil
		}
		if !containsAll(append(slices.Clone(everywhere), g.others...), rest) {
			return Match{}, unknown(name)
		}
	}
	m.Species, m.GenusOnly = g.species(), true
	m.Note = fmt.Sprintf("%q was taken for the American species of %s in the handbook's table: %s", name, g.latin, namesOf(m.Species))
	return m, nil
}

func unknown(name string) error {
	var words []string
	for _, g := range genera {
		word := g.word
		if word == strings.ReplaceAll(g.key, "-", "") {
			word = g.key
		}
		words = append(words, word)
	}
	slices.Sort(words)
	return fmt.Errorf("the handbook's table has no wood %q: write a species, like white ash, or a genus of these: %s", name, strings.Join(words, ", "))
}

// genusOf finds the one genus that words name and returns the other words.
// certain says that it is named in Latin, so that whatever stands beside it is a
// species of it.
func genusOf(words []string) (g genus, rest []string, certain, ok bool) {
	for _, w := range words {
		i := slices.IndexFunc(genera, func(g genus) bool { return g.word == w || strings.EqualFold(g.latin, w) })
		switch {
		case i < 0, certain: // in "Picea abies" the second word is no genus
			rest = append(rest, w)
			continue
		case ok && genera[i].key != g.key:
			return genus{}, nil, false, false
		}
		g, ok = genera[i], true
		certain = w != g.word
	}
	return g, rest, certain, ok
}

// joined brings names that are written in one word or two into the form of the
// table; douglas-fir becomes one word, so that it is no fir.
var joined = strings.NewReplacer(
	"douglas fir", "douglasfir", "redcedar", "red cedar", "bald cypress", "baldcypress",
	"yellow poplar", "yellowpoplar", "tulip poplar", "yellowpoplar", "tulip tree", "yellowpoplar",
	"tulipwood", "yellowpoplar", "bass wood", "basswood", "engelmann's", "engelmann",
)

// fillers are words that say nothing about the species.
var fillers = []string{"wood", "lumber", "timber", "solid"}

// split returns the words of a name in lower case, without fillers.
func split(name string) []string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return r != '\'' && !unicode.IsLetter(r) && !unicode.IsDigit(r)
	})
	return without(strings.Fields(joined.Replace(strings.Join(words, " "))), fillers...)
}

func without(words []string, drop ...string) []string {
	return slices.DeleteFunc(slices.Clone(words), func(w string) bool { return slices.Contains(drop, w) })
}

func sameWords(a, b []string) bool {
	return len(a) > 0 && len(a) == len(b) && containsAll(a, b) && containsAll(b, a)
}

func containsAll(words, wanted []string) bool {
	return !slices.ContainsFunc(wanted, func(w string) bool { return !slices.Contains(words, w) })
}

func ofKeys(keys ...string) []Species {
	var list []Species
	for _, s := range table() {
		if slices.Contains(keys, s.Key) {
			list = append(list, s)
		}
	}
	return list
}

func namesOf(list []Species) string {
	var names []string
	for _, s := range list {
		names = append(names, s.Name())
	}
	return strings.Join(names, ", ")
}
