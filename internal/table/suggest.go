package table

import (
	"slices"
	"strings"

	"bondtrial/internal/handwritten"
)

// otherWords are other words for known columns, used for suggestions only.
var otherWords = map[string]role{
	"glue": adhesiveCol, "bond": adhesiveCol, "product": adhesiveCol, "resin": adhesiveCol,
	"species": woodCol, "timber": woodCol, "lumber": woodCol, "tree": woodCol, "substrate": woodCol, "adherend": woodCol,
	"plank": boardCol, "panel": boardCol, "billet": boardCol,
	"sitting": sessionCol, "test_day": sessionCol, "test_date": sessionCol, "break_day": sessionCol, "break_date": sessionCol,
	"experiment": trialCol, "sample": specimenCol, "coupon": specimenCol, "id": specimenCol,
	"mc": moistureCol, "mc_pct": moistureCol, "moisture_content": moistureCol, "moisture_content_pct": moistureCol,
	"wf": woodFailureCol, "wf_pct": woodFailureCol, "wood_pct": woodFailureCol,
	"failure_mode": failureCol, "mode_failure": failureCol, "fracture": failureCol,
}

// fillers are words that add nothing to what a column is.
var fillers = []string{
	"name", "id", "no", "nr", "number", "code", "label", "letter", "type", "kind", "species", "used", "of", "the",
	"percent", "percentage", "pct",
}

// suggest returns the known column that an unknown name may mean, noRole where
// there is none. Columns that the header has, or has no use for, are not
// suggested, and a strength only where the unit agrees; an area never is.
func (h *header) suggest(norm string) role {
	if norm == "" {
		return noRole
	}
	names := []string{norm}
	words := slices.DeleteFunc(strings.Split(norm, "_"), func(w string) bool { return slices.Contains(fillers, w) })
	if stem := strings.Join(words, "_"); stem != "" && stem != norm {
		names = append(names, stem)
	}
	for _, n := range names {
		if r, ok := otherWords[n]; ok {
			if h.has(r) {
				return noRole
			}
			return r
		}
	}
	best, bestDistance := noRole, 3
	for i, name := range columnNames {
		r := role(i)
		if h.has(r) || slices.Contains(areaRoles, r) {
			continue
		}
		if slices.Contains(strengthRoles, r) && (h.strength != noRole || lastWord(norm) != lastWord(name)) {
			continue
		}
		for _, n := range names {
			if n == name || n == strings.TrimSuffix(name, "_pct") {
				return r
			}
		}
		if d := nearness(norm, name); d < bestDistance {
			best, bestDistance = r, d
		}
	}
	return best
}

// nearness returns how many slips turn a column's name into norm, 3 where there
// are more than a name of its length allows. Of a short one the first letter
// stands: "food" is not wood.
func nearness(norm, name string) int {
	limit := 2
	if len(name) <= 5 {
		limit = 1
		if norm == "" || norm[0] != name[0] {
			return 3
		}
	}
	if d := handwritten.Distance(norm, name, limit); d <= limit {
		return d
	}
	return 3
}

func lastWord(norm string) string { return norm[strings.LastIndexByte(norm, '_')+1:] }

// refuseNearMisses reports columns whose names are nearly those of columns that
// bear on the answer. Passing over one would change it: wood failures would count
// as broken bonds, all woods as one, boards as strangers.
func (h *header) refuseNearMisses(p *problems) {
	for _, i := range h.extra {
		r := h.suggest(h.norms[i])
		switch {
		case r == noRole, r == adhesiveCol, slices.Contains(strengthRoles, r): // the missing column is reported with this hint
		case r == specimenCol, r == noteCol: // no answer depends on it
		case r == failureCol && h.has(woodFailureCol): // often in words, and the share is recorded
		default:
			p.add(h.line, h.names[i], "", "is not read under this name: name it %s if that is meant, otherwise give it another name", r)
		}
	}
}

// assume takes columns of names, and a strength without its unit, that were
// reported for what they seem to be, so that what is wrong with their values is
// reported in the same run.
func (h *header) assume() {
	for _, i := range h.extra {
		if r := h.suggest(h.norms[i]); adhesiveCol <= r && r <= trialCol {
			h.at[r] = i
		}
		if h.strength == noRole && bare.names(h.norms[i]) {
			h.strength, h.at[strengthMPaCol] = strengthMPaCol, i
		}
	}
}

// hint says which column may be meant by a missing one.
func (h *header) hint(missing role, sep byte) string {
	for i, n := range h.norms {
		if roleOf(n) == noRole && h.suggest(n) == missing {
			return "; if " + named(h.names[i]) + " is meant, name it " + missing.String()
		}
	}
	if len(h.names) == 1 && sep == ',' {
		return "; no comma, semicolon or tab separates columns in it"
	}
	return ""
}

// otherUnit points to a column that seems to hold a strength under a name, or in
// a unit, that is not read.
func (h *header) otherUnit() string {
	if len(h.names) == 1 {
		return ""
	}
	for i, n := range h.norms {
		if r := h.suggest(n); slices.Contains(strengthRoles, r) {
			return "; if " + named(h.names[i]) + " is meant, name it " + r.String()
		}
		words := strings.Split(n, "_")
		if slices.ContainsFunc(words, func(w string) bool { return slices.Contains(bare.words, w) }) {
			switch lastWord(n) {
			case "lb", "lbs":
				return "; if the pounds of " + named(h.names[i]) + " are pound-force, name it peak_lbf"
			case "kg":
				return "; if the kilograms of " + named(h.names[i]) + " are kilogram-force, name it peak_kgf"
			}
			return "; " + named(h.names[i]) + " is not one of these: convert it if need be, and rename it"
		}
	}
	return ""
}

// areaLike returns the column that seems to hold the bonded area under a name
// that is not read; -1 where there is none.
func (h *header) areaLike() int {
	return slices.IndexFunc(h.norms, func(n string) bool {
		if roleOf(n) != noRole {
			return false
		}
		if words := strings.Split(n, "_"); slices.Contains(words, "area") {
			return !slices.Contains(words, "wood") && !slices.Contains(words, "failure")
		}
		return slices.ContainsFunc(areaRoles, func(r role) bool { return nearness(n, r.String()) <= 2 })
	})
}
