package table

import (
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
	batchCol
	sessionCol
	trialCol
	strengthMPaCol
	strengthPSICol
	peakNCol
	peakKNCol
	peakLbfCol
	peakKgfCol
	areaCol
	areaCm2Col
	areaIn2Col
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
	"specimen", "adhesive", "wood", "board", "batch", "session", "trial",
	"strength_mpa", "strength_psi", "peak_n", "peak_kn", "peak_lbf", "peak_kgf", "area_mm2", "area_cm2", "area_in2",
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

var (
	strengthRoles = []role{strengthMPaCol, strengthPSICol, peakNCol, peakKNCol, peakLbfCol, peakKgfCol}
	areaRoles     = []role{areaCol, areaCm2Col, areaIn2Col}
	// identityRoles say which specimen was broken.
	identityRoles = []role{specimenCol, adhesiveCol, woodCol, boardCol, batchCol, sessionCol, trialCol}
)

const (
	strengthNames = "strength_mpa, strength_psi, peak_n, peak_kn, peak_lbf or peak_kgf"
	areaNames     = "area_mm2, area_cm2 or area_in2"
)

func (r role) isPeak() bool { return peakNCol <= r && r <= peakKgfCol }

// roleOf returns the role of a column by its normalised name, noRole where it is
// not known.
func roleOf(norm string) role {
	if r, ok := roleNames[norm]; ok {
		return r
	}
	if r, ok := germanNames[norm]; ok {
		return r
	}
	for _, m := range measures {
		if stem, ok := strings.CutSuffix(norm, "_"+m.unit); ok && m.quantity.names(stem) {
			return m.role
		}
	}
	return noRole
}

// germanNames are columns as German tables often name them.
var germanNames = map[string]role{
	"kleber": adhesiveCol, "klebstoff": adhesiveCol, "leim": adhesiveCol, "holz": woodCol, "holzart": woodCol, "brett": boardCol,
	"holzbruch_pct": woodFailureCol, "holzbruchanteil_pct": woodFailureCol, "bemerkung": noteCol,
}

// A quantity is what people call a force, a stress or an area: one of its words,
// with any of the words beside it.
type quantity struct{ words, beside []string }

var (
	force  = quantity{[]string{"peak", "force", "load", "kraft", "bruchkraft", "bruchlast", "höchstkraft"}, besideStrength}
	stress = quantity{[]string{"strength", "stress", "festigkeit", "scherfestigkeit", "klebfestigkeit"}, append([]string{"peak"}, besideStrength...)}
	area   = quantity{[]string{"area", "fläche", "klebfläche", "klebefläche"}, []string{"bond", "bonded", "bonding", "glue", "glued", "joint", "lap", "overlap", "shear", "nominal"}}
	// bare is a force or a stress, which the name does not tell without a unit.
	bare = quantity{append(slices.Clone(force.words), stress.words...), besideStrength}

	besideStrength = []string{
		"max", "maximum", "shear", "bond", "bonding", "joint", "lap", "break", "breaking", "ultimate", "nominal",
		"failure", "tensile", "bending", "at",
	}
)

// names reports whether the words of a name are those of the quantity.
func (q quantity) names(norm string) bool {
	found := false
	for w := range strings.SplitSeq(norm, "_") {
		switch {
		case slices.Contains(q.words, w):
			found = true
		case !slices.Contains(q.beside, w):
			return false
		}
	}
	return found
}

// measures are the units in which quantities are read.
var measures = []struct {
	quantity quantity
	unit     string
	role     role
}{
	{stress, "mpa", strengthMPaCol}, {stress, "n_mm2", strengthMPaCol}, {stress, "psi", strengthPSICol},
	{force, "n", peakNCol}, {force, "kn", peakKNCol}, {force, "lbf", peakLbfCol}, {force, "kgf", peakKgfCol},
	{area, "mm2", areaCol}, {area, "cm2", areaCm2Col}, {area, "in2", areaIn2Col},
	{area, "sq_mm", areaCol}, {area, "sq_cm", areaCm2Col}, {area, "sq_in", areaIn2Col},
}

// normalise turns a column's name into the form in which names are compared:
// lower case, words of letters and digits joined by underscores, % as pct, ^2 as
// the ² that it stands for.
func normalise(name string) string {
	name = strings.ToLower(norm.NFKC.String(name))
	name = strings.NewReplacer("%", " pct ", "^2", "2").Replace(name)
	words := strings.FieldsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	if len(words) > 1 && words[0] == "pct" {
		words = append(words[1:], "pct") // "% wood failure"
	}
	return strings.Join(words, "_")
}
