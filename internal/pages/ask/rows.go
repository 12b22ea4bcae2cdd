package ask

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/plan/trialfile/form"
	"bondtrial/internal/record"
)

// kinds are the kinds of rows that a person adds and removes, with how many a trial
// may have.
var kinds = []struct {
	key  string
	most int
}{
	{"adhesive", trialfile.MaxAdhesives}, {"wood", trialfile.MaxWoods}, {"board", trialfile.MaxBoards},
	{"reused", trialfile.MaxBoards}, {"factor", trialfile.MaxFactors},
}

// typed reads a form that was sent, rows that are still blank included. write is
// false where a button asked for rows only.
func typed(sent url.Values, things *record.Things) (s shown, write bool) {
	verb, what, _ := strings.Cut(sent.Get("do"), " ")
	if verb == "remove" {
		kind, number, _ := strings.Cut(what, " ")
		removeRow(sent, kind, number)
		s.focus = "add-" + kind
	}
	f := form.FromValues(sent)
	s.form = f
	for _, k := range kinds {
		atLeast(f, k.key, min(rowsSent(sent, k.key), k.most))
	}
	fromShelf(f, things.Shelf)
	switch verb {
	case "add":
		n := count(f, what)
		atLeast(f, what, n+1)
		if count(f, what) > n {
			s.focus = fieldID(what + "." + strconv.Itoa(n) + "." + firstKey(what))
			s.open = what
		}
	case "remove":
		atLeast(f, "adhesive", 1)
		atLeast(f, "wood", 1)
		kind, _, _ := strings.Cut(what, " ")
		s.open = kind
	case "rack":
		for _, b := range things.Rack {
			if strconv.FormatInt(b.Seq, 10) == what {
				s.open = fromRack(f, b)
				s.focus = "rack"
			}
		}
	default:
		return s, true
	}
	return s, false
}

func firstKey(kind string) string {
	if kind == "board" || kind == "reused" {
		return "wood"
	}
	return "name"
}

func removeRow(sent url.Values, kind, number string) {
	for name := range sent {
		if strings.HasPrefix(name, kind+"."+number+".") {
			delete(sent, name)
		}
	}
}

// rowsSent counts the rows of a kind that a form holds, blank ones included.
func rowsSent(sent url.Values, kind string) int {
	seen := make(map[string]bool)
	for name := range sent {
		if k, rest, _ := strings.Cut(name, "."); k == kind {
			number, _, _ := strings.Cut(rest, ".")
			seen[number] = true
		}
	}
	return len(seen)
}

func count(f *form.Form, kind string) int {
	switch kind {
	case "adhesive":
		return len(f.Adhesives)
	case "wood":
		return len(f.Woods)
	case "board":
		return len(f.Boards)
	case "reused":
		return len(f.Reused)
	case "factor":
		return len(f.Factors)
	}
	return 0
}

// atLeast adds blank rows until there are n of a kind, or as many as there may be.
func atLeast(f *form.Form, kind string, n int) {
	i := slices.IndexFunc(kinds, func(k struct {
		key  string
		most int
	}) bool {
		return k.key == kind
	})
	if i < 0 {
		return
	}
	for n = min(n, kinds[i].most); count(f, kind) < n; {
		switch kind {
		case "adhesive":
			f.Adhesives = append(f.Adhesives, form.Adhesive{})
		case "wood":
			f.Woods = append(f.Woods, form.Wood{})
		case "board":
			f.Boards = append(f.Boards, form.Board{})
		case "reused":
			f.Reused = append(f.Reused, form.Reused{})
		case "factor":
			f.Factors = append(f.Factors, form.Factor{})
		}
	}
}

// fromShelf fills in what the shelf says of adhesives that are named as there and
// have no family yet. What a trial file would not take is left out.
func fromShelf(f *form.Form, shelf []record.Adhesive) {
	for i := range f.Adhesives {
		a := &f.Adhesives[i]
		if a.Family != "" || a.Name == "" {
			continue
		}
		for _, s := range shelf {
			if strings.EqualFold(oneLine(s.Name), oneLine(a.Name)) {
				facts := factsOf(s)
				a.Family = facts.Family
				for _, x := range []struct {
					to   *string
					fact string
				}{{&a.Open, facts.Open}, {&a.Clamp, facts.Clamp}, {&a.Cure, facts.Cure}, {&a.Lowest, facts.Lowest}, {&a.Price, facts.Price}, {&a.Content, facts.Content}} {
					if *x.to == "" {
						*x.to = x.fact
					}
				}
				break
			}
		}
	}
}

// factsOf returns what the shelf says of an adhesive as a form takes it: blank where
// a trial file would refuse it.
func factsOf(s record.Adhesive) form.Adhesive {
	a := form.Adhesive{Name: s.Name, Family: s.Family, Open: s.Open, Clamp: s.Clamp, Cure: s.Cure, Price: s.Price, Content: s.Content}
	lowest := strings.TrimSpace(s.Lowest)
	for _, unit := range []string{"°C", "C", "°"} {
		lowest = strings.TrimSpace(strings.TrimSuffix(lowest, unit))
	}
	a.Lowest = lowest
	for range 2 { // a price without a content is refused after the content was
		f := form.Form{Adhesives: []form.Adhesive{a}}
		_, problems := f.Check()
		for _, p := range problems {
			switch p.Field {
			case "adhesive.0.family":
				a.Family = ""
			case "adhesive.0.open":
				a.Open = ""
			case "adhesive.0.clamp":
				a.Clamp = ""
			case "adhesive.0.cure":
				a.Cure = ""
			case "adhesive.0.lowest_temperature_c":
				a.Lowest = ""
			case "adhesive.0.price":
				a.Price = ""
			case "adhesive.0.content":
				a.Content = ""
			}
		}
	}
	return a
}

// fromRack adds a board of the rack, or the pieces that there are of it, and its wood
// where that is not in the form yet. It returns the kind of row that was added.
func fromRack(f *form.Form, b record.Board) string {
	if !slices.ContainsFunc(f.Woods, func(w form.Wood) bool { return strings.EqualFold(oneLine(w.Name), oneLine(b.Wood)) }) {
		i := slices.Index(f.Woods, form.Wood{})
		if i < 0 {
			i = len(f.Woods)
			atLeast(f, "wood", i+1)
		}
		if i < len(f.Woods) {
			f.Woods[i].Name = b.Wood
		}
	}
	mm := func(x float64) form.Measure {
		if x == 0 {
			return form.Measure{}
		}
		return form.Measure{MM: strconv.FormatFloat(x, 'f', -1, 64)}
	}
	switch {
	case b.Pieces > 0 && b.Uses > 0:
		if row := (form.Reused{Wood: b.Wood, Board: b.Name, Pieces: strconv.Itoa(b.Pieces), Thickness: mm(b.ThickMM), Uses: strconv.Itoa(b.Uses)}); len(f.Reused) < trialfile.MaxBoards {
			f.Reused = append(f.Reused, row)
		}
		return "reused"
	case b.Pieces > 0:
		if len(f.Boards) < trialfile.MaxBoards {
			f.Boards = append(f.Boards, form.Board{Wood: b.Wood, Name: b.Name, Pieces: strconv.Itoa(b.Pieces)})
		}
	case len(f.Boards) < trialfile.MaxBoards:
		f.Boards = append(f.Boards, form.Board{Wood: b.Wood, Name: b.Name, Length: mm(b.LengthMM), Width: mm(b.WidthMM), Thickness: mm(b.ThickMM)})
	}
	return "board"
}

// taken reports whether a board of the rack is in the form.
func taken(f *form.Form, b record.Board) bool {
	is := func(wood, name string) bool {
		return strings.EqualFold(oneLine(wood), oneLine(b.Wood)) && strings.EqualFold(oneLine(name), oneLine(b.Name))
	}
	return slices.ContainsFunc(f.Boards, func(x form.Board) bool { return is(x.Wood, x.Name) }) ||
		slices.ContainsFunc(f.Reused, func(x form.Reused) bool { return is(x.Wood, x.Board) })
}
