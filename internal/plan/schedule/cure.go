package schedule

import (
	"fmt"
	"strings"
	"time"
)

// Family is the kind of an adhesive, as far as it matters to how long it cures.
type Family string

const (
	PVAWhite         Family = "PVA white"
	PVAYellow        Family = "PVA yellow"
	PVACrossLinking  Family = "PVA cross-linking"
	UreaFormaldehyde Family = "urea formaldehyde"
	Resorcinol       Family = "resorcinol"
	EpoxySlow        Family = "epoxy slow"
	EpoxyFast        Family = "epoxy 5-minute"
	Polyurethane     Family = "polyurethane one-part"
	HideGlueHot      Family = "hide glue hot"
	HideGlueLiquid   Family = "hide glue liquid"
	Construction     Family = "construction adhesive moisture-curing"
	ContactCement    Family = "contact cement"
)

// CureDefault is the time from full pressure to full cure that is taken for a
// family where the label says none.
type CureDefault struct {
	Family Family
	Cure   time.Duration
	Source string
}

const day = 24 * time.Hour

const noSource = "common practice, no source"

// cureDefaults: where practice gives a range, its long end is taken, since a joint
// broken too early says nothing about the adhesive. "24 h or more" has no long end.
var cureDefaults = []CureDefault{
	{PVAWhite, 24 * time.Hour, noSource},
	{PVAYellow, 24 * time.Hour, noSource},
	{PVACrossLinking, 24 * time.Hour, noSource},
	{UreaFormaldehyde, 7 * day, "practice says 24 h or more (no source); the least time before a test in EN 205, 7 days, is taken (read in a public extract, not in the standard)"},
	{Resorcinol, 7 * day, noSource},
	{EpoxySlow, 7 * day, noSource + ": 2 to 7 days"},
	{EpoxyFast, 24 * time.Hour, noSource},
	{Polyurethane, 14 * day, noSource + ": moisture-curing, not hard at 24 h and given about two weeks"},
	{HideGlueHot, 24 * time.Hour, noSource},
	{HideGlueLiquid, 24 * time.Hour, noSource},
	{Construction, 14 * day, noSource + ": moisture-curing, not hard at 24 h, 1 to 2 weeks"},
	{ContactCement, 24 * time.Hour, "a public table of wood glues (read)"},
}

// CureDefaults returns the default of every family, in a fixed order.
func CureDefaults() []CureDefault { return append([]CureDefault(nil), cureDefaults...) }

// ParseFamily reads the name of a family in any case. An empty string is no
// family; anything else unknown is an error that lists the families.
func ParseFamily(s string) (Family, error) {
	s = strings.Join(strings.Fields(s), " ")
	if s == "" {
		return "", nil
	}
	var known []string
	for _, c := range cureDefaults {
		if strings.EqualFold(s, string(c.Family)) {
			return c.Family, nil
		}
		known = append(known, string(c.Family))
	}
	return "", fmt.Errorf("unknown adhesive family %q; the families are: %s", s, strings.Join(known, ", "))
}

// Cure is how long an adhesive is left before it is broken, from full pressure.
type Cure struct {
	Time   time.Duration
	Source string // "label", or where the family's default comes from
}

// cureOf returns the cure on the label or, where there is none, of the family.
func cureOf(a Adhesive) (Cure, error) {
	if a.FullCure != 0 {
		return Cure{a.FullCure, "label"}, nil
	}
	if a.Family == "" {
		return Cure{}, fmt.Errorf("adhesive %s has neither a time to full cure nor a family: write the one on the label, or the family whose default is to be taken", a.Name)
	}
	for _, c := range cureDefaults {
		if c.Family == a.Family {
			return Cure{c.Cure, c.Source}, nil
		}
	}
	_, err := ParseFamily(string(a.Family))
	if err == nil {
		err = fmt.Errorf("adhesive family %q is not written as it is here", a.Family)
	}
	return Cure{}, fmt.Errorf("adhesive %s: %w", a.Name, err)
}
