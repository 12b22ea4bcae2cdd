package table

import (
	"math"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// A role is what a known column holds.
type role int

const (
	specimenCol role = iota
	adhesiveCol
	woodCol
	boardCol
	sessionCol
	trialCol
	strengthMPaCol
	strengthPSICol
	peakNCol
	peakLbfCol
	peakKgfCol
	areaCol
	woodFailureCol
	failureCol
	rigLimitedCol
	setAsideCol
	noteCol
	glueOrderCol
	breakOrderCol
	moistureCol
	roleCount

	noRole role = -1
)

var columnNames = [roleCount]string{
	"specimen", "adhesive", "wood", "board", "session", "trial",
	"strength_mpa", "strength_psi", "peak_n", "peak_lbf", "peak_kgf", "area_mm2",
	"wood_failure_pct", "failure", "rig_limited", "set_aside", "note",
	"glue_order", "break_order", "moisture_pct",
}

func (r role) String() string { return columnNames[r] }

var roleNames = func() map[string]role {
	m := make(map[string]role, roleCount)
	for r, name := range columnNames {
		m[name] = role(r)
	}
	return m
}()

var strengthRoles = []role{strengthMPaCol, strengthPSICol, peakNCol, peakLbfCol, peakKgfCol}

const strengthNames = "strength_mpa, strength_psi, peak_n, peak_lbf or peak_kgf"

func (r role) isPeak() bool { return r == peakNCol || r == peakLbfCol || r == peakKgfCol }

// normalise turns a column's name into the form in which names are compared:
// lower case, words of letters and digits joined by underscores, % as pct.
func normalise(name string) string {
	name = strings.ReplaceAll(strings.ToLower(norm.NFKC.String(name)), "%", " pct ")
	words := strings.FieldsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	if len(words) > 1 && words[0] == "pct" {
		words = append(words[1:], "pct") // "% wood failure"
	}
	return strings.Join(words, "_")
}

// header is the first row, understood.
type header struct {
	line     int
	names    []string       // as written, trimmed
	norms    []string       // in the form that is compared
	at       [roleCount]int // column of each role, -1 where there is none
	strength role           // where the strength comes from, noRole where unknown
	factors  []int          // column of each of Options.Factors, -1 where there is none
	extra    []int          // columns that are carried along
	unnamed  []int          // columns without a name in which no value was met
	usable   bool           // the rows can be looked at
}

func (h *header) has(r role) bool { return h.at[r] >= 0 }

// readHeader understands the header and reports what is wrong with it.
func readHeader(rec record, opt Options, sep byte, p *problems) *header {
	h := &header{line: rec.line, strength: noRole}
	for r := range h.at {
		h.at[r] = -1
	}
	if rec.fault != "" {
		p.badQuotation(rec, nil, "in the header: ")
		return h
	}
	for _, f := range rec.fields {
		name := cleaned(f.text)
		if hasControl(name) {
			p.add(f.line, name, "", wrongControl)
		}
		h.names = append(h.names, strings.Clone(name))
		n := normalise(name)
		if n == "" {
			n = name
		}
		h.norms = append(h.norms, n)
	}
	first := map[string]int{}
	for i, n := range h.norms {
		if n == "" {
			h.unnamed = append(h.unnamed, i)
			continue
		}
		if j, ok := first[n]; ok {
			p.add(h.line, h.names[i], "", "is there twice, as columns %d and %d: keep one, or give them different names", j+1, i+1)
			continue
		}
		first[n] = i
		if r, ok := roleNames[n]; ok {
			h.at[r] = i
		}
	}
	h.findFactors(first, opt.Factors, p)
	h.findStrength(opt, p)
	h.usable = h.has(adhesiveCol) || h.strength != noRole
	if !h.has(adhesiveCol) {
		p.add(h.line, "", "", "column adhesive is missing; the header has: %s%s", listed(h.named()), h.hint(adhesiveCol, sep))
	}
	for i, n := range h.norms {
		if _, known := roleNames[n]; !known && n != "" && !slices.Contains(h.factors, i) {
			h.extra = append(h.extra, i)
		}
	}
	h.refuseNearMisses(p)
	return h
}

// refuseNearMisses reports columns whose names are nearly those of the columns
// that decide what a reading means. Passing over one would change the answer: wood
// failures would count as broken bonds, spoiled specimens as sound.
func (h *header) refuseNearMisses(p *problems) {
	recorded := h.has(woodFailureCol) || h.has(failureCol)
	for _, i := range h.extra {
		switch r := h.suggest(h.norms[i]); r {
		case woodFailureCol, failureCol:
			if recorded {
				continue
			}
			fallthrough
		case rigLimitedCol, setAsideCol:
			p.add(h.line, h.names[i], "", "is nearly %s, which decides what a reading means: name it so if it is meant, otherwise give it another name", r)
		}
	}
}

// named returns the names of the columns that have one.
func (h *header) named() []string {
	return slices.DeleteFunc(slices.Clone(h.names), func(s string) bool { return s == "" })
}

// hint says which column may be meant by a missing one.
func (h *header) hint(missing role, sep byte) string {
	for i, n := range h.norms {
		if _, known := roleNames[n]; !known && h.suggest(n) == missing {
			return "; if " + named(h.names[i]) + " is meant, name it " + missing.String()
		}
	}
	if len(h.names) == 1 && sep == ',' {
		return "; no comma, semicolon or tab separates columns in it"
	}
	return ""
}

func (h *header) findFactors(first map[string]int, factors []string, p *problems) {
	for i, f := range factors {
		at := -1
		n := normalise(f)
		r, known := roleNames[n]
		switch j, there := first[n]; {
		case n == "":
			p.add(0, "", "", "a factor without a name was asked for: give the name of a column")
		case known:
			p.add(0, "", "", "%s cannot be a factor: the column has a meaning of its own in a trial", r)
		case slices.ContainsFunc(factors[:i], func(g string) bool { return normalise(g) == n }):
			p.add(0, "", "", "the factor %s was asked for twice", quoted(f))
		case !there:
			p.add(h.line, "", "", "column %s was named as a factor and is missing; the header has: %s", quoted(f), listed(h.named()))
		default:
			at = j
		}
		h.factors = append(h.factors, at)
	}
}

// findStrength settles where the strength comes from.
func (h *header) findStrength(opt Options, p *problems) {
	bare := false
	for i, n := range h.norms {
		if isBareStrength(n) && !slices.Contains(h.factors, i) {
			bare = true
			p.add(h.line, h.names[i], "", "does not say its unit, and a unit is never guessed: name the column %s", strengthNames)
		}
	}
	var there []role
	for _, r := range strengthRoles {
		if h.has(r) {
			there = append(there, r)
		}
	}
	area := h.has(areaCol) || opt.AreaMM2 > 0
	if opt.AreaMM2 < 0 || math.IsNaN(opt.AreaMM2) || math.IsInf(opt.AreaMM2, 0) {
		p.add(0, "", "", "the bonded area that was given, %v mm², must be a number greater than 0", opt.AreaMM2)
		area = true
	}
	if len(there) == 0 {
		if !bare {
			p.add(h.line, "", "", "no column gives the strength: name one %s; the header has: %s%s", strengthNames, listed(h.named()), h.otherUnit())
		}
		return
	}
	h.strength = there[0]
	if len(there) > 1 {
		if i := slices.IndexFunc(there, role.isPeak); i >= 0 && area {
			h.strength = there[i]
		}
		names := make([]string, len(there))
		for i, r := range there {
			names[i] = r.String()
		}
		p.add(h.line, "", "", "%s each give the strength: keep %s, and remove the others or give them names like %s",
			strings.Join(names, " and "), h.strength, "old_"+names[len(names)-1])
	}
	if h.strength.isPeak() && !area {
		p.add(h.line, h.names[h.at[h.strength]], "", "a peak needs the bonded area: add a column area_mm2, or give one area in mm² for all")
	}
}

// Words that name a strength without its unit, and words that may stand beside
// them.
var (
	strengthWords = []string{"strength", "peak", "force", "load", "stress"}
	besideWords   = []string{"max", "maximum", "shear", "bond", "break", "breaking", "ultimate", "nominal", "failure", "tensile", "bending", "at"}
)

func isBareStrength(norm string) bool {
	found := false
	for _, w := range strings.Split(norm, "_") {
		switch {
		case slices.Contains(strengthWords, w):
			found = true
		case !slices.Contains(besideWords, w):
			return false
		}
	}
	return found
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
		for _, w := range strings.Split(n, "_") {
			if slices.Contains(strengthWords, w) {
				return "; " + named(h.names[i]) + " is not one of these: convert it if need be, and rename it"
			}
		}
	}
	return ""
}

// Other words for known columns, used for suggestions only.
var otherWords = map[string]role{
	"glue": adhesiveCol, "bond": adhesiveCol, "species": woodCol, "timber": woodCol, "plank": boardCol,
	"sample": specimenCol, "coupon": specimenCol, "id": specimenCol,
	"mc": moistureCol, "mc_pct": moistureCol, "moisture_content": moistureCol, "moisture_content_pct": moistureCol,
	"wf": woodFailureCol, "wf_pct": woodFailureCol, "failure_mode": failureCol, "comment": noteCol, "remarks": noteCol,
}

var suffixes = []string{"name", "id", "no", "nr", "number", "code", "type", "species", "percent", "percentage", "pct"}

// suggest returns the known column that an unknown name may mean, noRole where
// there is none. Columns that the header has, or has no use for, are not
// suggested, and a strength only where the unit agrees.
func (h *header) suggest(norm string) role {
	if r, ok := otherWords[norm]; ok && !h.has(r) {
		return r
	}
	best, bestDistance := noRole, 3
	for i, name := range columnNames {
		r := role(i)
		if h.has(r) || r == areaCol && !h.strength.isPeak() {
			continue
		}
		if slices.Contains(strengthRoles, r) && (h.strength != noRole || lastWord(norm) != lastWord(name)) {
			continue
		}
		if end, ok := strings.CutPrefix(norm, name+"_"); ok && slices.Contains(suffixes, end) {
			return r
		}
		for _, unit := range []string{"_pct", "_mm2"} {
			stem, ok := strings.CutSuffix(name, unit)
			if ok && (norm == stem || norm == stem+"_percent" || norm == stem+"_percentage") {
				return r
			}
		}
		limit := 2
		if len(name) <= 5 {
			limit = 1
		}
		if d := distance(norm, name, limit); d <= limit && d < bestDistance {
			best, bestDistance = r, d
		}
	}
	return best
}

func lastWord(norm string) string { return norm[strings.LastIndexByte(norm, '_')+1:] }
