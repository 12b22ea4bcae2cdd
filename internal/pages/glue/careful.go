package glue

import (
	"slices"

	"bondtrial/internal/record"
)

// dangers are what kinds of adhesives may do, and the families that do it. The
// sentences are common knowledge of the trade, no source; the label's safety sheet
// goes before them.
var dangers = []struct {
	families []string
	words    string
}{
	{[]string{"polyurethane", "construction", "emulsion-isocyanate"}, "Isocyanates (polyurethane and its kin): skin or lungs that have become allergic to them stay so. Gloves, no spraying, wash splashes off at once, and stay away where you have asthma."},
	{[]string{"epoxy", "epoxy-fast"}, "Amines (epoxy hardeners): they can make you allergic for life. Gloves of nitrile, change them when smeared, nothing on bare skin. A large mixing heats itself: mix little."},
	{[]string{"contact"}, "Solvents (contact cement): the vapour burns and dazes. No flame, spark or heater near, windows open, lids shut."},
	{[]string{"acrylic"}, "Acrylics: strong vapour, and they can make you allergic. Gloves, windows open."},
	{[]string{"cyanoacrylate"}, "Instant glue: it joins skin and eyelids in seconds. Glasses; never pull apart, soak in warm soapy water."},
	{[]string{"urea", "melamine", "resorcinol", "phenolic"}, "Formaldehyde resins: they give off vapour while wet and under the clamp. Gloves, windows open, no breathing in of the powder."},
	{[]string{"hide", "hot-melt"}, "Hot glue: it sticks to skin and goes on burning. Cold water at hand."},
}

// careful returns the cautions for the adhesives of a trial as a whole, so that none
// tells what a blind letter stands for.
func careful(t *record.Trial) []string {
	var families []string
	switch {
	case t.Plan != nil:
		for _, a := range t.Plan.Adhesives {
			families = append(families, a.Family)
		}
	case t.File != nil:
		for _, a := range t.File.Adhesives {
			families = append(families, string(a.Family))
		}
	}
	out := []string{"Gloves, fresh air, no eating at the bench, and each label's safety sheet first."}
	for _, d := range dangers {
		if slices.ContainsFunc(d.families, func(f string) bool { return slices.Contains(families, f) }) {
			out = append(out, d.words)
		}
	}
	return out
}
