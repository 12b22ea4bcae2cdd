package trialfile

import (
	"slices"
	"strings"

	"bondtrial/internal/handwritten"
)

// key is a key of the trial file.
type key struct {
	name  string // of a length or an area: without its unit
	write string // how it may be written, for messages
	must  bool   // there is no default
	units []string
}

var (
	lengthUnits = []string{"_mm", "_in"}
	areaUnits   = []string{"_mm2", "_in2"}
)

func must(name, write string) key   { return key{name: name, write: write, must: true} }
func may(name, write string) key    { return key{name: name, write: write} }
func length(name, write string) key { return key{name: name, write: write, units: lengthUnits} }

// level is a part of the file with keys of its own.
type level struct {
	name string // "" at the top
	show string // in messages
	keys []key
}

// levels lists every key there is, in the order in which a person writes them.
var levels = []level{
	{"", "the top of the file, before the first [section]", []key{
		must("name", `name = "Glue for benches"`),
		may("question", `question = "Which glue for outdoor benches?"`),
		may("units", `units = "si" (MPa) or units = "us" (psi)`),
		may("seed", `seed = 2027`),
		may("blind", `blind = true or blind = false`),
		may("control", `control = "Pemmet white"`),
		may("smallest_difference_pct", `smallest_difference_pct = 15`),
		may("scatter_pct", `scatter_pct = 14`),
		may("chance_pct", `chance_pct = 80`),
		may("specimens_per_cell", `specimens_per_cell = 6 or specimens_per_cell = "auto"`),
		may("pairs", `pairs = "surface" (the name of a factor) or pairs = "off"`),
		must("adhesive", `[[adhesive]], once for each`),
		must("wood", `[[wood]], once for each`),
		may("board", `[[board]], once for each`),
		may("reused", `[[reused]], once for each`),
		may("factor", `[[factor]], once for each`),
		must("specimen", `[specimen] with joint, length_mm, width_mm, thickness_mm and overlap_mm`),
		may("cutting", `[cutting]`),
		must("work", `[work] with start, time_zone and clamps`),
		may("labels", `[labels]`),
	}},
	{"adhesive", "[[adhesive]]", []key{
		must("name", `name = "Pemmet white"`),
		must("family", `family = "pva"`),
		may("open", `open = "10 min"`),
		may("closed", `closed = "10 min"`),
		may("clamp", `clamp = "1 h", or clamp = "none"`),
		may("cure", `cure = "7 d"`),
		may("lowest_temperature_c", `lowest_temperature_c = 10`),
		may("price", `price = "8.90 EUR"`),
		may("content", `content = "500 g" or content = "290 ml"`),
		may("strength", `strength = "8 MPa" or strength = "1200 psi"`),
		may("specimens_per_batch", `specimens_per_batch = 12`),
		may("retested", `retested = true or retested = false`),
	}},
	{"wood", "[[wood]]", []key{
		must("name", `name = "ash"`),
		may("strength", `strength = "12 MPa", or strength = "unknown"`),
		may("boards", `boards = 5`),
		length("length", `length_mm = 900`),
		length("width", `width_mm = 120`),
		length("thickness", `thickness_mm = 25`),
		may("pieces_per_board", `pieces_per_board = 24`),
	}},
	{"board", "[[board]]", []key{
		must("wood", `wood = "ash"`),
		may("name", `name = "A1"`),
		length("length", `length_mm = 900`),
		length("width", `width_mm = 120`),
		length("thickness", `thickness_mm = 25`),
		may("pieces", `pieces = 24`),
	}},
	{"reused", "[[reused]]", []key{
		must("wood", `wood = "ash"`),
		may("board", `board = "A1"`),
		must("pieces", `pieces = 24`),
		{name: "thickness", write: `thickness_mm = 9`, must: true, units: lengthUnits},
		must("uses", `uses = 1`),
	}},
	{"factor", "[[factor]]", []key{
		must("name", `name = "surface"`),
		must("levels", `levels = ["dry", "damp"]`),
		may("ratio", `ratio = 0.9`),
	}},
	{"specimen", "[specimen]", []key{
		must("joint", `joint = "lap"`),
		{name: "length", write: `length_mm = 80`, must: true, units: lengthUnits},
		{name: "width", write: `width_mm = 20`, must: true, units: lengthUnits},
		{name: "thickness", write: `thickness_mm = 8`, must: true, units: lengthUnits},
		length("overlap", `overlap_mm = 10`),
		{name: "area", write: `area_mm2 = 200`, units: areaUnits},
	}},
	{"cutting", "[cutting]", []key{
		length("kerf", `kerf_mm = 3`),
		length("planing", `planing_mm = 0.5`),
		length("least_thickness", `least_thickness_mm = 7`),
	}},
	{"work", "[work]", []key{
		must("start", `start = 2027-04-12`),
		must("time_zone", `time_zone = "Europe/Berlin"`),
		may("days_off", `days_off = ["2027-05-01", "2027-07-05 to 2027-07-16"]`),
		may("clamps", `clamps = 12`),
		may("glue_up", `glue_up = "4 min"`),
		may("break", `break = "3 min"`),
		may("temperature_c", `temperature_c = 18`),
		may("one_cartridge", `one_cartridge = true or one_cartridge = false`),
		may("hours", `[work.hours]`),
	}},
	{"hours", "[work.hours]", []key{
		may("weekdays", `weekdays = "9:00-12:00, 13:00-17:00"`),
		may("monday", `monday = "9:00-17:00"`),
		may("tuesday", `tuesday = "9:00-17:00"`),
		may("wednesday", `wednesday = "9:00-17:00"`),
		may("thursday", `thursday = "9:00-17:00"`),
		may("friday", `friday = "9:00-13:00"`),
		may("saturday", `saturday = "off"`),
		may("sunday", `sunday = "off"`),
	}},
	{"labels", "[labels]", []key{
		may("page", `page = "A4" or page = "letter"`),
		may("rows", `rows = 8`),
		may("columns", `columns = 3`),
		length("top", `top_mm = 10`),
		length("bottom", `bottom_mm = 10`),
		length("left", `left_mm = 10`),
		length("right", `right_mm = 10`),
		length("gap_across", `gap_across_mm = 2`),
		length("gap_down", `gap_down_mm = 0`),
	}},
}

func levelNamed(name string) level {
	for _, l := range levels {
		if l.name == name {
			return l
		}
	}
	panic("trialfile: no such level of the trial file")
}

func (l level) key(name string) key {
	for _, k := range l.keys {
		if k.name == name {
			return k
		}
	}
	panic("trialfile: no such key in the trial file")
}

// spellings returns how a key may be spelt: one for each unit.
func (k key) spellings() []string {
	if k.units == nil {
		return []string{k.name}
	}
	var all []string
	for _, u := range k.units {
		all = append(all, k.name+u)
	}
	return all
}

func (l level) spellings() []string {
	var all []string
	for _, k := range l.keys {
		all = append(all, k.spellings()...)
	}
	return all
}

// unknownKey says what may have been meant by a key that l does not have; meant is
// the key of l that it probably is, empty where none is near.
func (l level) unknownKey(name string) (message, meant string) {
	for _, k := range l.keys {
		if k.units != nil && strings.EqualFold(k.name, name) {
			return "does not say its unit: name it " + strings.Join(k.spellings(), " or "), k.name
		}
	}
	near, meant := l.nearest(name)
	place := ""
	for _, other := range levels {
		if other.name != l.name && slices.Contains(other.spellings(), name) {
			place = other.show
			break
		}
	}
	switch {
	case near != "" && place != "":
		return "is not known here: write " + near + ", or put it at " + place, meant
	case near != "":
		return "is not known here: is " + near + " meant?", meant
	case place != "":
		return "is not known here: its place is " + place, ""
	}
	return "is not known here; the keys here are " + strings.Join(l.spellings(), ", "), ""
}

// nearest returns the spelling of a key of l that is nearest to name, and its name
// without a unit; empty where none is near.
func (l level) nearest(name string) (spelling, meant string) {
	name = strings.ToLower(strings.ReplaceAll(name, "-", "_"))
	best := 1 + max(1, min(3, len(name)/3))
	for _, k := range l.keys {
		for _, s := range k.spellings() {
			if d := handwritten.Distance(name, s, best); d < best {
				best, spelling, meant = d, s, k.name
			}
		}
	}
	if spelling != "" {
		return spelling, meant
	}
	// A key with one more word: open_time for open.
	words := strings.Split(name, "_")
	for _, k := range l.keys {
		own := strings.Split(k.name, "_")
		if within(words, own) || within(own, words) && len(words[0]) > 2 {
			return k.spellings()[0], k.name
		}
	}
	return "", ""
}

// within reports whether every one of some words is among others.
func within(others, some []string) bool {
	return !slices.ContainsFunc(some, func(w string) bool { return !slices.Contains(others, w) })
}
