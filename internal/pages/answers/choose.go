package answers

import (
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strings"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/publish"
	"bondtrial/internal/record"
	"bondtrial/internal/show"
	"bondtrial/internal/table"
)

// choice says which readings are meant. What it does not say may be anything.
type choice struct {
	Adhesives []string
	Wood      *string
	Factors   map[string]string
	Specimens []string
	State     string // as stateName has it
}

// taken are the names in the address of the readings that no factor may have.
var taken = []string{"adhesive", "wood", "specimen", "state", "control", "margin", "threshold", "family", "required", "seed", "draws", "units", "pooled"}

// factorName is the name of a factor in an address.
func factorName(f string) string {
	if slices.Contains(taken, f) || strings.HasPrefix(f, "factor.") {
		return "factor." + f
	}
	return f
}

// stateName is the name of a state in an address.
func stateName(s bondtrial.State) string { return strings.ReplaceAll(s.String(), " ", "-") }

// behind is the choice of the readings behind a row of a sheet.
func behind(a publish.About) choice {
	return choice{Adhesives: a.Adhesives, Wood: &a.Wood, Factors: a.Factors}
}

// readingsPath is the address of the page of readings.
func readingsPath(t *record.Trial, a asked, c choice) string {
	q := maps.Clone(a.query)
	if q == nil {
		q = make(url.Values)
	}
	for _, name := range c.Adhesives {
		q.Add("adhesive", name)
	}
	if c.Wood != nil {
		q.Set("wood", *c.Wood)
	}
	for f, level := range c.Factors {
		q.Set(factorName(f), level)
	}
	for _, s := range c.Specimens {
		q.Add("specimen", s)
	}
	if c.State != "" {
		q.Set("state", c.State)
	}
	path := "/trials/" + url.PathEscape(t.ID) + "/readings"
	if len(q) == 0 {
		return path
	}
	return path + "?" + q.Encode()
}

// chosen reads a choice from an address.
func chosen(q url.Values, t *record.Trial) choice {
	c := choice{Adhesives: q["adhesive"], Specimens: q["specimen"], State: q.Get("state")}
	if q.Has("wood") {
		wood := q.Get("wood")
		c.Wood = &wood
	}
	for _, f := range t.Factors() {
		if name := factorName(f); q.Has(name) {
			if c.Factors == nil {
				c.Factors = make(map[string]string)
			}
			c.Factors[f] = q.Get(name)
		}
	}
	return c
}

// has reports whether a reading is meant. Names are compared as a table of readings
// has them.
func (c choice) has(r *bondtrial.Reading, threshold bondtrial.Percent) bool {
	same := func(a, b string) bool { return table.Name(a) == table.Name(b) }
	among := func(list []string, s string) bool {
		return len(list) == 0 || slices.ContainsFunc(list, func(x string) bool { return same(x, s) })
	}
	for f, level := range c.Factors {
		if !same(level, r.Factors[f]) {
			return false
		}
	}
	return among(c.Adhesives, r.Adhesive) && among(c.Specimens, r.Code) && (c.Wood == nil || same(*c.Wood, r.Wood)) &&
		(c.State == "" || c.State == stateName(r.State(threshold)))
}

// Words says which readings are meant: "Tarn and Fell, on ash, damp".
func (c choice) Words(factors []string) string {
	var parts []string
	if len(c.Adhesives) > 0 {
		parts = append(parts, show.List(c.Adhesives))
	}
	if c.Wood != nil && *c.Wood != "" {
		parts = append(parts, "on "+*c.Wood)
	}
	for _, f := range factors {
		if level := c.Factors[f]; level != "" {
			parts = append(parts, answer.Level(f, level))
		}
	}
	if len(c.Specimens) > 0 {
		parts = append(parts, "specimen "+show.List(c.Specimens))
	}
	if c.State != "" {
		parts = append(parts, strings.ReplaceAll(c.State, "-", " "))
	}
	if len(parts) == 0 {
		return "All readings"
	}
	return strings.Join(parts, ", ")
}

// stateWords says what a state means, in the words of the trade.
func stateWords(s bondtrial.State) string {
	switch s {
	case bondtrial.BondBroke:
		return "the bond broke: this is its strength"
	case bondtrial.WoodLimited:
		return "wood-limited: the wood failed first, the bond holds at least this"
	case bondtrial.RigLimited:
		return "rig-limited: nothing broke, bond and wood hold at least this"
	case bondtrial.SetAside:
		return "set aside: kept, and not used"
	}
	return s.String()
}

// count says how many of something there are.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func upperFirst(s string) string {
	for i, r := range s {
		return strings.ToUpper(string(r)) + s[i+len(string(r)):]
	}
	return s
}
