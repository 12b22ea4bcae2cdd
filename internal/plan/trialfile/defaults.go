package trialfile

import (
	"math"
	"slices"
	"strings"
	"time"

	"bondtrial"
)

// What is taken where the file leaves something open. Each value is listed in
// [Trial.Assumed] with its source, except that a trial is blind, that pairs and
// batches are off, and that strengths are shown in MPa.
const (
	// The margin within which answers call two adhesives the same.
	DefaultSmallestDifference bondtrial.Percent = 15
	sourceSmallestDifference                    = "the margin within which answers call two adhesives the same"

	// Coefficient of variation of the shear strength of small clear
	// specimens of wood, Wood Handbook.
	DefaultScatter bondtrial.Percent = 14
	sourceScatter                    = "coefficient of variation of wood in shear, Wood Handbook, from memory, unconfirmed"

	DefaultChance bondtrial.Percent = 80
	sourceChance                    = "common practice, no source"

	DefaultSeed = 1
	sourceSeed  = "any number does; another one gives other orders"

	DefaultKerf    Millimetre = 3
	DefaultPlaning Millimetre = 0.5
	sourceCutting             = "common practice, no source"

	sourceLeastThickness = "the thickness of the specimens' pieces"

	// Less where an adhesive leaves less.
	DefaultGlueUp   = 4 * time.Minute
	DefaultBreak    = 3 * time.Minute
	sourceWorkPaces = "common practice, no source"
	sourceHours     = "common practice, no source"

	DefaultRatio = 1.0
	sourceRatio  = "no effect is expected where none is written"

	// LeastCure is the cure before a break that is taken at least where the
	// file gives none.
	LeastCure       = 7 * day
	sourceLeastCure = "at least 7 days at the standard climate before testing, EN 205"

	defaultRows, defaultColumns            = 8, 3
	defaultMargin               Millimetre = 10
	sourceLabels                           = "common practice, no source"
)

// Sizes of paper. A4 is that of ISO 216, letter 8½ by 11 inches; both from memory,
// unconfirmed.
var pages = []struct {
	name          string
	width, height Millimetre
}{
	{"A4", 210, 297},
	{"letter", 8.5 * MillimetrePerInch, 11 * MillimetrePerInch},
}

// defaultHours are Monday to Friday, 9:00 to 17:00.
func defaultHours() (h [7][]Span) {
	for d := time.Monday; d <= time.Friday; d++ {
		h[d] = []Span{{9 * time.Hour, 17 * time.Hour}}
	}
	return h
}

// Family is a kind of adhesive.
type Family string

// practice is how a family is commonly used. A time below 0 says that practice
// gives none, so that the file must.
type practice struct {
	family            Family
	what              string
	open, clamp, cure time.Duration
	lowest            Celsius // NaN: not known
	source            string
}

const (
	noTime      = time.Duration(-1)
	readTable   = "open and clamp read in a public glue table (woodworkingarchive.biz), the rest common practice, no source"
	readContact = "read in a public glue table (woodworkingarchive.biz)"
	noSource    = "common practice, no source"
)

// noLowest is the lowest temperature where none is known.
var noLowest = Celsius(math.NaN())

// families lists every family with its common practice: the middle of no range
// but its safe end, which is the shortest open time, the longest clamp time and
// cure, the highest of the lowest temperatures. Families after "contact" have no
// common practice here.
var families = []practice{
	{"pva", "white PVA", 5 * time.Minute, time.Hour, day, 10, readTable},
	{"pva-yellow", "yellow PVA (aliphatic)", 5 * time.Minute, 30 * time.Minute, day, 10, readTable},
	{"pva-crosslinking", "water-resistant PVA", 5 * time.Minute, time.Hour, day, 13, noSource},
	// Moisture cures it from the outside in: it is not hard at 24 h, whatever the
	// label's "24 h or more" suggests, and is given two weeks.
	{"polyurethane", "one-part polyurethane", 10 * time.Minute, 4 * time.Hour, 14 * day, 10, noSource},
	{"epoxy", "slow two-part epoxy", 30 * time.Minute, 12 * time.Hour, 7 * day, 15, noSource},
	{"epoxy-fast", "five-minute epoxy", 3 * time.Minute, 30 * time.Minute, day, 15, noSource},
	{"urea", "urea-formaldehyde powder", 20 * time.Minute, 12 * time.Hour, day, 21, readTable},
	{"resorcinol", "resorcinol-formaldehyde", 15 * time.Minute, 10 * time.Hour, 7 * day, 20, readTable},
	{"hide", "hot hide glue", time.Minute, 0, day, noLowest, "working heat and no clamp read in a public glue table (woodworkingarchive.biz), the rest common practice, no source"},
	{"hide-liquid", "liquid hide glue", 10 * time.Minute, 12 * time.Hour, day, 15, readTable},
	{"construction", "moisture-curing construction adhesive", 10 * time.Minute, noTime, 14 * day, noLowest, noSource},
	{"contact", "contact cement", noTime, 0, day, 18, readContact},
	{"acrylic", "two-part acrylic", noTime, noTime, noTime, noLowest, ""},
	{"casein", "casein", noTime, noTime, noTime, noLowest, ""},
	{"cyanoacrylate", "cyanoacrylate, instant glue", noTime, noTime, noTime, noLowest, ""},
	{"emulsion-isocyanate", "emulsion polymer isocyanate", noTime, noTime, noTime, noLowest, ""},
	{"hot-melt", "hot-melt", noTime, noTime, noTime, noLowest, ""},
	{"hybrid", "silane-terminated hybrid polymer", noTime, noTime, noTime, noLowest, ""},
	{"melamine", "melamine-formaldehyde", noTime, noTime, noTime, noLowest, ""},
	{"phenolic", "phenol-formaldehyde", noTime, noTime, noTime, noLowest, ""},
	{"other", "anything else", noTime, noTime, noTime, noLowest, ""},
}

// Families returns the families there are, in the order of the documentation.
func Families() []Family {
	var all []Family
	for _, p := range families {
		all = append(all, p.family)
	}
	return all
}

// practiceOf returns the common practice of a family; ok is false where there is
// no such family.
func practiceOf(f Family) (practice, bool) {
	i := slices.IndexFunc(families, func(p practice) bool { return p.family == f })
	if i < 0 {
		return practice{}, false
	}
	return families[i], true
}

func familyNames() string {
	var names []string
	for _, p := range families {
		names = append(names, string(p.family))
	}
	return strings.Join(names, ", ")
}

// curing returns the cure that is taken for a family, and where it comes from; ok
// is false where practice gives none.
func (p practice) curing() (cure time.Duration, source string, ok bool) {
	switch {
	case p.cure < 0:
		return 0, "", false
	case p.cure < LeastCure:
		return LeastCure, sourceLeastCure, true
	}
	return p.cure, p.of(), true
}

func (p practice) of() string { return "usual for " + p.what + ": " + p.source }
