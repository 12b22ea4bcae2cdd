package ask

import (
	"strconv"
	"strings"

	"bondtrial/internal/plan/trialfile/form"
)

func (b *builder) asked() group {
	return group{Title: "The question", Fields: b.fields("", "name", "question")}
}

// rowKind says how rows of a kind are shown.
type rowKind struct {
	kind, title, add, remove string
	main, more               []string
}

var (
	adhesiveRows = rowKind{"adhesive", "Adhesive", "Add an adhesive", "Remove this adhesive", []string{"name", "family"},
		[]string{"open", "closed", "clamp", "cure", "lowest_temperature_c", "strength", "price", "content", "specimens_per_batch", "retested"}}
	woodRows = rowKind{"wood", "Wood", "Add a wood", "Remove this wood", []string{"name", "boards", "length", "width", "thickness"},
		[]string{"strength", "pieces_per_board"}}
	boardRows  = rowKind{"board", "Board", "Add a board", "Remove this board", []string{"wood", "name", "length", "width", "thickness", "pieces"}, nil}
	reusedRows = rowKind{"reused", "Reused pieces", "Add pieces", "Remove these pieces", []string{"wood", "board", "pieces", "thickness", "uses"}, nil}
	factorRows = rowKind{"factor", "Condition", "Add a condition", "Remove this condition", []string{"name", "levels.0", "levels.1", "ratio"}, nil}
)

// rows fills a group with the rows of a kind.
func (b *builder) rows(g *group, k rowKind) {
	g.Kind, g.Add = k.kind, k.add
	n := count(b.form, k.kind)
	for i := range n {
		g.Rows = append(g.Rows, b.row(k, strconv.Itoa(i), i+1))
	}
	for _, x := range kinds {
		if x.key == k.kind {
			g.More = n < x.most
		}
	}
	blank := *b
	blank.shown = shown{form: &form.Form{Units: b.form.Units, Woods: b.form.Woods, Adhesives: b.form.Adhesives, Factors: b.form.Factors}}
	// One blank row behind those that give the choices.
	last := count(blank.form, k.kind)
	switch k.kind {
	case "adhesive":
		blank.form.Adhesives = append([]form.Adhesive(nil), append(blank.form.Adhesives, form.Adhesive{})...)
	case "wood":
		blank.form.Woods = append([]form.Wood(nil), append(blank.form.Woods, form.Wood{})...)
	case "board":
		blank.form.Boards = make([]form.Board, 1)
	case "reused":
		blank.form.Reused = make([]form.Reused, 1)
	case "factor":
		blank.form.Factors = append([]form.Factor(nil), append(blank.form.Factors, form.Factor{})...)
	}
	made := newBuilder(blank.shown).row(k, strconv.Itoa(last), 0)
	made.rename(k.kind+"."+strconv.Itoa(last), k.kind+".__n__")
	made.Number, made.Open = "__n__", false
	g.Blank = &made
}

func (b *builder) row(k rowKind, number string, place int) row {
	part := k.kind + "." + number
	r := row{Kind: k.kind, Number: number, Title: k.title, Remove: k.remove, Main: b.fields(part, k.main...), More: b.fields(part, k.more...)}
	if place > 0 {
		r.Title += " " + strconv.Itoa(place)
	}
	if len(r.More) > 0 {
		r.Said, r.Open = said(r.More)
	}
	return r
}

// rename gives the fields of a row the names of another one.
func (r *row) rename(from, to string) {
	for _, list := range [][]field{r.Main, r.More} {
		for i := range list {
			list[i].Name = to + strings.TrimPrefix(list[i].Name, from)
			list[i].ID = fieldID(list[i].Name)
			list[i].Focus = false
		}
	}
}

func (b *builder) adhesives() group {
	g := group{Title: "Adhesives", Words: "Two at the least. What the label says goes under label facts; the rest is taken from what is usual for the family."}
	b.rows(&g, adhesiveRows)
	return g
}

func (b *builder) woods() group {
	g := group{Title: "Woods and boards", Words: "Pieces of one board resemble each other: more boards tell more than longer ones."}
	b.rows(&g, woodRows)
	boards := group{Title: "Boards that differ", Words: "One row for each board that has a size, or a number of pieces, of its own."}
	b.rows(&boards, boardRows)
	reused := group{Title: "Pieces that are used again", Words: "Pieces of an earlier trial that are planed fresh."}
	b.rows(&reused, reusedRows)
	g.Inner = []group{b.folded(boards), b.folded(reused)}
	return g
}

// folded says what is in a group of rows, and opens it where that is to be seen.
func (b *builder) folded(g group) group {
	switch n := len(g.Rows); n {
	case 0:
		g.Said = "none"
	default:
		g.Said = strconv.Itoa(n)
	}
	g.Open = b.open == g.Kind
	for _, r := range g.Rows {
		for _, f := range append(r.Main, r.More...) {
			g.Open = g.Open || len(f.Problems) > 0 || f.Focus
		}
	}
	return g
}

// rest are the parts behind the question, the adhesives and the woods.
func (b *builder) rest() []group {
	factors := group{Title: "Further conditions", Words: "Each with two levels, such as faces dry or damp. Each doubles the number of specimens."}
	b.rows(&factors, factorRows)
	out := []group{
		b.folded(factors),
		{Title: "What is compared, and how surely", Words: "The smaller the difference that matters, the more specimens it takes.",
			Fields: b.fields("", "control", "smallest_difference_pct", "chance_pct", "scatter_pct", "specimens_per_cell", "pairs", "blind", "units", "seed")},
		{Title: specimenTitle, Words: "Two pieces of this size, and how they are joined.",
			Fields: b.fields("specimen", "joint", "length", "width", "thickness", "overlap", "area")},
		{Title: "The work", Words: "When, how many clamps, how fast.",
			Fields: append(b.fields("work", "start", "clamps", "time_zone", "glue_up", "break", "days_off", "temperature_c", "one_cartridge"),
				b.fields("work.hours", "weekdays", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")...)},
		{Title: "Sawing and planing", Words: "What saw and plane take away.", Fields: b.fields("cutting", "kerf", "planing", "least_thickness")},
		{Title: "The sheet of labels", Words: "As the packet of labels says.",
			Fields: b.fields("labels", "page", "rows", "columns", "top", "bottom", "left", "right", "gap_across", "gap_down")},
	}
	for i := range out {
		if out[i].Kind == "" {
			out[i].Said, out[i].Open = said(out[i].Fields)
			if out[i].Title == specimenTitle {
				out[i].Said = specimenSaid(out[i].Fields, out[i].Said)
			}
		}
	}
	return out
}

// unknown are what stood in a trial file under keys that no trial file has.
func (b *builder) unknown() []row {
	var out []row
	for i, u := range b.form.Unknown {
		part := "unknown." + strconv.Itoa(i)
		r := row{Kind: "unknown", Number: strconv.Itoa(i), Title: u.Key, Main: b.fields(part, "part", "key", "value")}
		for k := range r.Main {
			if r.Main[k].Key == "value" {
				r.Main[k].Label = u.Key
			}
		}
		out = append(out, r)
	}
	return out
}

const specimenTitle = "The specimen"

// specimenSaid says a specimen in short, as in "lap, 80 × 20 × 8 mm, overlap 10 mm";
// otherwise where something of it is missing.
func specimenSaid(fields []field, otherwise string) string {
	value := make(map[string]string)
	unit := ""
	for _, f := range fields {
		key := strings.TrimSuffix(strings.TrimSuffix(f.Key, "_mm"), "_in")
		value[key] = f.Value
		if key == "length" {
			unit = " " + f.Unit
		}
	}
	if value["joint"] == "" || value["length"] == "" || value["width"] == "" || value["thickness"] == "" {
		return otherwise
	}
	s := value["joint"] + ", " + value["length"] + " × " + value["width"] + " × " + value["thickness"] + unit
	if value["overlap"] != "" {
		s += ", overlap " + value["overlap"] + unit
	}
	return s
}
