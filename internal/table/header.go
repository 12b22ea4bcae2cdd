package table

import (
	"math"
	"slices"
	"strings"

	"bondtrial/internal/handwritten"
)

// header is the first row, understood.
type header struct {
	line     int
	names    []string       // as written, trimmed
	norms    []string       // in the form that is compared
	at       [roleCount]int // column of each role, -1 where there is none
	strength role           // where the strength comes from, noRole where unknown
	area     role           // where the bonded area comes from, noRole where there is none
	factors  []int          // column of each of Options.Factors, -1 where there is none
	extra    []int          // columns that are carried along
	unnamed  []int          // columns without a name in which no value was met
	usable   bool           // the rows can be looked at
}

func (h *header) has(r role) bool { return h.at[r] >= 0 }

// readHeader understands the header and reports what is wrong with it.
func readHeader(rec record, opt Options, sep byte, p *problems) *header {
	h := &header{line: rec.line, strength: noRole, area: noRole}
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
		r := roleOf(n)
		switch {
		case r == noRole:
		case h.has(r):
			p.add(h.line, h.names[i], "", "means the same as %s: keep one, and remove the other or give it another name", named(h.names[h.at[r]]))
		default:
			h.at[r] = i
		}
	}
	h.findFactors(first, opt.Factors, p)
	h.findArea(p)
	h.findStrength(opt, p)
	if !h.has(adhesiveCol) {
		p.add(h.line, "", "", "column adhesive is missing; the header has: %s%s", listed(h.named()), h.hint(adhesiveCol, sep))
	}
	for i, n := range h.norms {
		if roleOf(n) == noRole && n != "" && !slices.Contains(h.factors, i) {
			h.extra = append(h.extra, i)
		}
	}
	h.refuseNearMisses(p)
	h.assume()
	h.usable = h.has(adhesiveCol) || h.strength != noRole
	return h
}

// named returns the names of the columns that have one.
func (h *header) named() []string {
	return slices.DeleteFunc(slices.Clone(h.names), func(s string) bool { return s == "" })
}

func (h *header) findFactors(first map[string]int, factors []string, p *problems) {
	for i, f := range factors {
		at := -1
		n := normalise(f)
		r := roleOf(n)
		switch j, there := first[n]; {
		case n == "":
			p.add(0, "", "", "a factor without a name was asked for: give the name of a column")
		case r != noRole:
			p.add(0, "", "", "%s cannot be a factor: the column has a meaning of its own in a trial", r)
		case slices.ContainsFunc(factors[:i], func(g string) bool { return normalise(g) == n }):
			p.add(0, "", "", "the factor %s was asked for twice", handwritten.Quoted(f))
		case !there:
			p.add(h.line, "", "", "column %s was named as a factor and is missing; the header has: %s", handwritten.Quoted(f), listed(h.named()))
		default:
			at = j
		}
		h.factors = append(h.factors, at)
	}
}

// title names a known column in a message: by its name in the documents, or, if
// the header has another name for it, as written there.
func (h *header) title(r role) string {
	if i := h.at[r]; h.norms[i] != r.String() {
		return named(h.names[i])
	}
	return r.String()
}

// present returns those of the roles that the header has, and their titles.
func (h *header) present(roles []role) (there []role, titles []string) {
	for _, r := range roles {
		if h.has(r) {
			there, titles = append(there, r), append(titles, h.title(r))
		}
	}
	return there, titles
}

// findArea settles where the bonded area comes from.
func (h *header) findArea(p *problems) {
	there, titles := h.present(areaRoles)
	if len(there) == 0 {
		return
	}
	h.area = there[0]
	if last := there[len(there)-1]; len(there) > 1 {
		p.add(h.line, "", "", "%s each give the bonded area: keep one, and remove the others or give them names like old_%s",
			strings.Join(titles, " and "), last)
	}
}

// findStrength settles where the strength comes from.
func (h *header) findStrength(opt Options, p *problems) {
	unitless := false
	for i, n := range h.norms {
		if bare.names(n) && !slices.Contains(h.factors, i) {
			unitless = true
			p.add(h.line, h.names[i], "", "does not say its unit, and a unit is never guessed: name the column %s", strengthNames)
		}
	}
	there, titles := h.present(strengthRoles)
	area := h.area != noRole || opt.AreaMM2 > 0
	if opt.AreaMM2 < 0 || math.IsNaN(opt.AreaMM2) || math.IsInf(opt.AreaMM2, 0) {
		p.add(0, "", "", "the bonded area that was given, %v mm², must be a number greater than 0", opt.AreaMM2)
		area = true
	}
	if len(there) == 0 {
		if !unitless {
			p.add(h.line, "", "", "no column gives the strength: name one %s; the header has: %s%s", strengthNames, listed(h.named()), h.otherUnit())
		}
		return
	}
	h.strength = there[0]
	if last := there[len(there)-1]; len(there) > 1 {
		if i := slices.IndexFunc(there, role.isPeak); i >= 0 && area {
			h.strength = there[i]
		}
		p.add(h.line, "", "", "%s each give the strength: keep %s, and remove the others or give them names like old_%s",
			strings.Join(titles, " and "), h.title(h.strength), last)
	}
	if h.strength.isPeak() && !area {
		advice := "add a column " + areaNames
		if i := h.areaLike(); i >= 0 {
			advice = named(h.names[i]) + " may hold it: name it " + areaNames + ", by its unit"
		}
		p.add(h.line, h.names[h.at[h.strength]], "", "a force needs the bonded area: %s, or %s", advice, opt.areaOption())
	}
}

// areaOption says how one area for all readings is given.
func (o Options) areaOption() string {
	if o.OnPage {
		return "fill in Bonded area, in mm², which then goes for all readings"
	}
	return "give one area for all readings with --area, in mm²"
}
