package wood

import "strings"

// A genus is a word for a kind of tree that has species in the table.
type genus struct {
	word, latin string
	key         string // how the keys of its species begin
	// others are words for species of the genus that are not in the table. Only
	// these may stand beside the word, because many woods bear the name of a
	// genus that they do not belong to.
	others []string
}

func (g genus) species() []Species {
	var list []Species
	for _, s := range table() {
		if s.Key == g.key || strings.HasPrefix(s.Key, g.key+"-") {
			list = append(list, s)
		}
	}
	return list
}

// everywhere are words for where a wood grows, or for the usual species there,
// that keep it in its genus.
var everywhere = []string{"european", "english", "french", "german", "canadian", "common"}

// The genera of the species in the table. Names and memberships are common
// botanical knowledge, from memory.
var genera = []genus{
	{"alder", "Alnus", "alder", []string{"black", "grey", "gray", "white", "italian"}},
	{"ash", "Fraxinus", "ash", []string{"blue", "pumpkin", "olive", "manchurian"}},
	{"aspen", "Populus", "aspen", []string{"bigtooth", "trembling"}},
	{"baldcypress", "Taxodium", "baldcypress", nil},
	{"basswood", "Tilia", "basswood", nil},
	{"beech", "Fagus", "beech", []string{"japanese", "oriental", "steamed"}},
	{"birch", "Betula", "birch", []string{"yellow", "silver", "white", "downy", "river", "baltic", "finnish"}},
	{"cherry", "Prunus", "cherry", []string{"wild"}},
	{"douglasfir", "Pseudotsuga", "douglas-fir", nil},
	{"fir", "Abies", "fir", []string{"fraser", "nordmann", "caucasian"}},
	{"hemlock", "Tsuga", "hemlock", []string{"carolina", "japanese"}},
	{"larch", "Larix", "larch", []string{"siberian", "japanese", "dahurian", "hybrid", "alpine"}},
	{"linden", "Tilia", "basswood", []string{"littleleaf", "largeleaf"}},
	{"maple", "Acer", "maple", []string{"norway", "sycamore", "field", "bigleaf", "japanese"}},
	{"oak", "Quercus", "oak", []string{"white", "red", "sessile", "pedunculate", "live", "bur", "chestnut", "post", "swamp", "holm", "turkey", "japanese", "bog"}},
	{"pine", "Pinus", "pine", []string{"scots", "scotch", "eastern", "white", "radiata", "monterey", "maritime", "black", "corsican", "austrian", "swiss", "stone", "siberian", "pitch", "pond", "sand"}},
	{"spruce", "Picea", "spruce", []string{"norway", "sitka", "white", "black", "red", "siberian", "serbian"}},
	{"tupelo", "Nyssa", "tupelo", []string{"swamp", "ogeechee"}},
	{"walnut", "Juglans", "walnut", []string{"persian", "claro"}},
	{"yellowpoplar", "Liriodendron", "yellow-poplar", nil},
}

// tradeNames are names that no single species of the table bears, from memory:
// the groups are those usual in the North American timber trade.
var tradeNames = []struct {
	name string
	keys []string
	note string // follows the name
}{
	{"hard maple", []string{"maple-sugar", "maple-black"}, "is a trade name for sugar and black maple"},
	{"rock maple", []string{"maple-sugar", "maple-black"}, "is a trade name for sugar and black maple"},
	{"soft maple", []string{"maple-red", "maple-silver"}, "is a trade name for red, silver and some other maples"},
	{"red oak", []string{"oak-black", "oak-northern red", "oak-pin", "oak-scarlet", "oak-southern red"},
		"is a trade name for several oaks: black, northern red, pin, scarlet and southern red oak are in the table"},
	{"southern yellow pine", southernPines, "is a trade name for loblolly, longleaf, shortleaf and slash pine"},
	{"southern pine", southernPines, "is a trade name for loblolly, longleaf, shortleaf and slash pine"},
	{"douglas fir", douglasFirs, "is divided by growing region in the handbook's table: coast, interior north and interior west"},
	{"oregon pine", douglasFirs,
		"is a trade name for douglas-fir, which is no pine"},
	{"cedar", []string{"cedar-port-orford", "cedar-western red"},
		"is a trade name of several genera: western red and port-orford cedar are in the table, true cedars (Cedrus) are not"},
	{"red cedar", []string{"cedar-western red"}, "was taken for western red cedar; eastern red cedar is a juniper"},
	{"cypress", []string{"baldcypress"}, "was taken for baldcypress, the cypress of the American timber trade; true cypresses (Cupressus) are not in the table"},
	{"poplar", []string{"aspen-quaking", "yellow-poplar"},
		"may be yellow-poplar, which is no true poplar, or a true poplar (Populus), of which quaking aspen is in the table: write which"},
	{"black gum", []string{"tupelo-black"}, "is another name for black tupelo"},
	{"blackgum", []string{"tupelo-black"}, "is another name for black tupelo"},
}

var douglasFirs = []string{"douglas-fir-coast", "douglas-fir-interior north", "douglas-fir-interior west"}

var southernPines = []string{"pine-loblolly", "pine-longleaf", "pine-shortleaf", "pine-slash"}
