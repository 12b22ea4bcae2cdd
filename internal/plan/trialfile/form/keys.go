package form

import "strings"

// Kind says how a field is filled in.
type Kind string

// The kinds of fields.
const (
	Text     Kind = "text"     // one line
	LongText Kind = "long"     // any number of lines
	Lines    Kind = "lines"    // one thing a line
	Number   Kind = "number"   // with a decimal point
	Whole    Kind = "whole"    // a whole number
	Auto     Kind = "auto"     // a whole number or "auto"
	Inches   Kind = "inches"   // a number, or a fraction such as 1 1/2
	YesNo    Kind = "yes-no"   // "true" or "false"
	Day      Kind = "day"      // year-month-day
	Chosen   Kind = "choice"   // one of the field's Choices
	Duration Kind = "duration" // a time with its unit
	OpenAt   Kind = "hours"    // working hours of a day, or "off"
	Hidden   Kind = "hidden"   // to be sent back as it is
)

// numeric reports whether the trial file writes such a value without quotation
// marks.
func (k Kind) numeric() bool {
	return k == Number || k == Whole || k == Auto || k == Inches
}

// info is what a page tells about a field.
type info struct {
	key     string
	kind    Kind
	label   string
	example string
	without string // what is taken where it is blank; empty: it must be filled in, or nothing is taken
	must    bool
}

const (
	usualForFamily = "usual for the family"
	none           = "none"
	wholeFace      = "overlap times width; for butt and cross-lap joints the whole face"
)

// lengths are the two fields of a length; inch is the example in inches.
func lengths(key, label, example, inch, without string, must bool) []info {
	return []info{
		{key + "_mm", Number, label, example, without, must},
		{key + "_in", Inches, label, inch, without, must},
	}
}

func listed(lists ...[]info) (all []info) {
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

// about tells about every field, by the kind of its part. The order is that of the
// slots; what is taken for a blank field is that of docs/trial-file.md.
var about = map[string][]info{
	"": {
		{"name", Text, "Name of the trial", "Glue for benches", "", true},
		{"question", LongText, "Question", "Which glue for outdoor benches?", none, false},
		{"units", Chosen, "Strengths are shown in", "si", "si (MPa)", false},
		{"seed", Whole, "Number from which orders are drawn", "2027", "1", false},
		{"blind", YesNo, "Labels carry no adhesive's name", "true", "yes", false},
		{"control", Chosen, "Compare all others with", "Pemmet white", "each with each", false},
		{"smallest_difference_pct", Number, "Smallest difference that matters", "15", "15, what answers call the same", false},
		{"scatter_pct", Number, "Scatter within a board", "14", "14, wood in shear, Wood Handbook, from memory, unconfirmed", false},
		{"chance_pct", Number, "Chance to find that difference", "80", "80, common practice, no source", false},
		{"specimens_per_cell", Auto, "Specimens of each adhesive in each wood and condition", "6", "auto: worked out", false},
		{"pairs", Chosen, "Neighbouring pieces go to the levels of", "surface", "off", false},
	},
	"adhesive": {
		{"name", Text, "Adhesive", "Pemmet white", "", true},
		{"family", Chosen, "Family", "pva", "", true},
		{"open", Duration, "Open time", "10 min", usualForFamily, false},
		{"closed", Duration, "Closed time", "10 min", "not reckoned with", false},
		{"clamp", Duration, "Time under clamps", "1 h", usualForFamily, false},
		{"cure", Duration, "Cure", "7 d", usualForFamily + ", at least 7 days", false},
		{"lowest_temperature_c", Number, "Lowest temperature of application", "10", usualForFamily, false},
		{"price", Text, "Price of a package", "8.90 EUR", none, false},
		{"content", Text, "Content of a package", "500 g", none, false},
		{"strength", Text, "Strength that you expect", "8 MPa", none, false},
		{"specimens_per_batch", Whole, "Specimens of one cartridge or mixing", "12", "any number", false},
		{"retested", YesNo, "It was in an earlier trial", "false", "no", false},
	},
	"wood": listed([]info{
		{"name", Text, "Wood", "ash", "", true},
		{"strength", Text, "Strength of the wood in the joint", "12 MPa", "the handbook's shear strength at 12 % moisture", false},
		{"boards", Whole, "Boards that are alike", "5", none, false},
	},
		lengths("length", "Length along the grain", "900", "36", "", false),
		lengths("width", "Width", "120", "4 3/4", "", false),
		lengths("thickness", "Thickness", "25", "1", "", false),
		[]info{{"pieces_per_board", Whole, "Pieces of one board, instead of its size", "24", "", false}}),
	"board": listed([]info{
		{"wood", Chosen, "Wood of the board", "ash", "", true},
		{"name", Text, "Name of the board", "A1", "the next free number", false},
	},
		lengths("length", "Length along the grain", "900", "36", "", false),
		lengths("width", "Width", "120", "4 3/4", "", false),
		lengths("thickness", "Thickness", "25", "1", "", false),
		[]info{{"pieces", Whole, "Pieces, instead of its size", "24", "", false}}),
	"reused": listed([]info{
		{"wood", Chosen, "Wood of the pieces", "ash", "", true},
		{"board", Text, "Board that they came from", "A1", "not known", false},
		{"pieces", Whole, "Pieces", "24", "", true},
	},
		lengths("thickness", "Thickness now", "9", "3/8", "", true),
		[]info{{"uses", Whole, "How often they were glued", "1", "", true}}),
	"factor": {
		{"name", Text, "Factor", "surface", "", true},
		{"levels.0", Text, "First level", "dry", "", true},
		{"levels.1", Text, "Second level", "damp", "", true},
		{"ratio", Number, "Expected strength at the second level over that at the first", "0.9", "1", false},
	},
	"specimen": listed([]info{{"joint", Chosen, "Joint", "lap", "", true}},
		lengths("length", "Length of a piece, along the grain", "80", "3", "", true),
		lengths("width", "Width of a piece", "20", "3/4", "", true),
		lengths("thickness", "Thickness of a piece", "8", "3/8", "", true),
		lengths("overlap", "Overlap along the grain", "10", "1/2", "", false),
		[]info{
			{"area_mm2", Number, "Bonded area", "200", wholeFace, false},
			{"area_in2", Number, "Bonded area", "0.3", wholeFace, false},
		}),
	"cutting": listed(
		lengths("kerf", "Width of the saw cut", "3", "1/8", "3 mm, common practice, no source", false),
		lengths("planing", "Taken off by planing a face fresh", "0.5", "1/32", "0.5 mm, common practice, no source", false),
		lengths("least_thickness", "Thinnest piece that is still used", "7", "1/4", "the thickness of the specimen's pieces", false)),
	"work": {
		{"start", Day, "First day of work", "2027-04-12", "", true},
		{"time_zone", Text, "Time zone", "Europe/Berlin", "", true},
		{"days_off", Lines, "Days off, one a line", "2027-05-13 to 2027-05-14", none, false},
		{"clamps", Whole, "Specimens under pressure at once", "12", "", false},
		{"glue_up", Duration, "Hands on one glue-up", "4 min", "4 min, common practice, no source, no more than each adhesive leaves", false},
		{"break", Duration, "Hands on one break", "3 min", "3 min, common practice, no source", false},
		{"temperature_c", Number, "Temperature of the shop", "18", "not checked", false},
		{"one_cartridge", YesNo, "One cartridge or mixing open at a time", "false", "no", false},
	},
	"hours": hours(),
	"labels": listed([]info{
		{"page", Chosen, "Page", "A4", "A4", false},
		{"rows", Whole, "Rows of labels", "8", "8, common practice, no source", false},
		{"columns", Whole, "Columns of labels", "3", "3, common practice, no source", false},
	},
		lengths("top", "Top margin", "10", "3/8", "10 mm, common practice, no source", false),
		lengths("bottom", "Bottom margin", "10", "3/8", "the same as at the top", false),
		lengths("left", "Left margin", "10", "3/8", "10 mm, common practice, no source", false),
		lengths("right", "Right margin", "10", "3/8", "the same as at the left", false),
		lengths("gap_across", "Gap between neighbours in a row", "2", "1/16", "0", false),
		lengths("gap_down", "Gap between rows", "2", "1/16", "0", false)),
	unknownKind: {
		{"part", Hidden, "Part of the trial file", "", "", false},
		{"key", Hidden, "Key", "", "", false},
		{"value", Text, "What stood there", "", "", false},
	},
}

func hours() []info {
	const monday = "Monday to Friday 9:00-17:00 if every day is blank, common practice, no source"
	all := []info{{"weekdays", OpenAt, "Monday to Friday", "9:00-12:00, 13:00-17:00", monday, false}}
	for _, d := range []string{"Monday", "Tuesday", "Wednesday", "Thursday", "Friday"} {
		all = append(all, info{strings.ToLower(d), OpenAt, d, "9:00-13:00", "as Monday to Friday", false})
	}
	for _, d := range []string{"Saturday", "Sunday"} {
		all = append(all, info{strings.ToLower(d), OpenAt, d, "9:00-13:00", "off", false})
	}
	return all
}

// lookUp returns what is known of a key of a kind of part.
func lookUp(kind, key string) (i info, ok bool) {
	for _, i := range about[kind] {
		if i.key == key {
			return i, true
		}
	}
	return info{}, false
}

func kindOf(kind, key string) Kind {
	i, _ := lookUp(kind, key)
	return i.kind
}

// unitOf returns the unit that a key says, empty where it says none.
func unitOf(key string) string {
	for _, u := range []struct{ ending, unit string }{
		{"_mm", "mm"}, {"_in", "in"}, {"_mm2", "mm²"}, {"_in2", "in²"}, {"_pct", "%"}, {"_c", "°C"},
	} {
		if strings.HasSuffix(key, u.ending) {
			return u.unit
		}
	}
	return ""
}

// twin returns the key of the same measure in the other unit, empty where there is
// none.
func twin(key string) string {
	for _, u := range [][2]string{{"_mm", "_in"}, {"_in", "_mm"}, {"_mm2", "_in2"}, {"_in2", "_mm2"}} {
		if base, ok := strings.CutSuffix(key, u[0]); ok {
			return base + u[1]
		}
	}
	return ""
}
