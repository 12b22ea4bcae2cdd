package trialfile

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"bondtrial"
	"bondtrial/internal/handwritten"
)

// adhesives reads every [[adhesive]].
func (r *reader) adhesives(list []*node) {
	seen := names{}
	for i, n := range list {
		s := r.section("adhesive", n, part("adhesive", i+1, n, "name"))
		a := r.adhesive(s)
		_, nameNode := s.peekName()
		seen.note(s, nameNode, a.Name)
		r.trial.Adhesives = append(r.trial.Adhesives, a)
	}
	if len(list) == 1 {
		r.bad.add(Problem{Line: list[0].line, Message: "there is only one [[adhesive]]: a trial compares two or more"})
	}
}

// peekName returns the name of a section where it is a text, without reporting
// anything.
func (s *section) peekName() (string, *node) {
	n := s.node.sub["name"]
	if n == nil || n.spoiled || n.kind != textKind {
		return "", nil
	}
	name, fault := nameOf(n.text)
	if fault != "" || name == "" {
		return "", nil
	}
	return name, n
}

func (r *reader) adhesive(s *section) Adhesive {
	a := Adhesive{Line: s.node.line, Lowest: noLowest}
	a.Name, _ = s.nameText("name")
	usual := r.family(s, &a)
	a.Open = r.usualTime(s, "open", time.Second, usual.open, usual)
	a.Closed, _ = s.time("closed", 0)
	a.Clamp = r.usualTime(s, "clamp", 0, usual.clamp, usual)
	r.cure(s, &a, usual)
	if v, ok := s.number("lowest_temperature_c", -30, 100); ok {
		a.Lowest = Celsius(v)
	} else if !math.IsNaN(float64(usual.lowest)) && !s.has("lowest_temperature_c") {
		a.Lowest = usual.lowest
		r.assume(s, "lowest_temperature_c", plainNumber(float64(usual.lowest)), usual.of())
	}
	a.Price, _ = parsed(s, "price", parseMoney)
	a.Content, _ = parsed(s, "content", parseContent)
	if s.has("price") && !s.has("content") {
		r.bad.add(Problem{Line: s.line("price"), Where: s.where, Key: "content", Message: "is missing beside the price: write " + s.level.key("content").write})
	}
	a.Strength, _ = parsed(s, "strength", likelyStress)
	if v, ok := s.whole("specimens_per_batch", 1, 10_000); ok {
		a.PerBatch = int(v)
	}
	a.Retested, _ = s.yes("retested")
	return a
}

// family reads the family and returns its common practice; one without any where
// the family cannot be read.
func (r *reader) family(s *section, a *Adhesive) practice {
	nothing := practice{open: noTime, clamp: noTime, cure: noTime, lowest: noLowest}
	name, n := s.text("family")
	if n == nil {
		return nothing
	}
	usual, ok := practiceOf(Family(strings.ToLower(name)))
	if !ok {
		s.fail(n, "family", "is no family that is known: write one of %s", familyNames())
		return nothing
	}
	a.Family = usual.family
	return usual
}

// usualTime reads a time, or takes what is usual for the family.
func (r *reader) usualTime(s *section, name string, least, usual time.Duration, p practice) time.Duration {
	if d, ok := s.time(name, least); ok {
		return d
	}
	switch {
	case s.has(name), p.family == "":
		return 0 // reported already, or nothing can be said before the family is right
	case usual < 0:
		r.bad.add(Problem{Line: s.node.line, Where: s.where, Key: name,
			Message: fmt.Sprintf("is missing, and nothing is usual for the family %s: write %s, from the label", p.family, s.level.key(name).write)})
		return 0
	}
	r.assume(s, name, plainTime(usual), p.of())
	return usual
}

// cure reads the time until a joint may be broken. It counts from joining, so that
// it cannot be shorter than the time under pressure.
func (r *reader) cure(s *section, a *Adhesive, p practice) {
	d, given := s.time("cure", time.Second)
	switch usual, source, ok := p.curing(); {
	case given && d < a.Clamp:
		n, _ := s.find("cure")
		s.fail(n, "cure", "is %s shorter than the time under clamps, %s: it counts from joining the pieces until the break", plainTime(a.Clamp-d), plainTime(a.Clamp))
	case given:
		a.Cure = d
	case s.has("cure"), p.family == "":
	case !ok:
		r.bad.add(Problem{Line: s.node.line, Where: s.where, Key: "cure",
			Message: fmt.Sprintf("is missing, and nothing is usual for the family %s: write %s, from the label", p.family, s.level.key("cure").write)})
	default:
		a.Cure = max(usual, a.Clamp)
		if a.Cure > usual {
			source = "the time under clamps"
		}
		r.assume(s, "cure", plainTime(a.Cure), source)
	}
}

// likelyStress reads a strength that a bond or a wood may have.
func likelyStress(text string) (bondtrial.Megapascal, error) {
	v, err := bondtrial.ParseStress(text)
	if err != nil {
		return 0, fmt.Errorf(`is no strength above 0 with its unit: write it as in "8 MPa" or "1200 psi"`)
	}
	if v < 0.01 || v > 500 {
		return 0, fmt.Errorf("is not between 0.01 and 500 MPa: check the unit")
	}
	return v, nil
}

// meanings are the columns of a table of readings that mean something already, so
// that no factor can be called so.
var meanings = []string{
	"adhesive", "wood", "board", "session", "trial", "specimen", "strength", "strength_mpa", "strength_psi",
	"peak", "peak_n", "peak_lbf", "peak_kgf", "area", "area_mm2", "wood_failure", "wood_failure_pct", "failure",
	"rig_limited", "set_aside", "glue_order", "break_order", "moisture", "moisture_pct", "note", "batch", "off", "code", "pair", "piece_1", "piece_2", "glue_at",
	"clamp_off_at", "cured_at", "break_at",
}

// factors reads every [[factor]].
func (r *reader) factors(list []*node) {
	seen := names{}
	for i, n := range list {
		s := r.section("factor", n, part("factor", i+1, n, "name"))
		f := Factor{Line: n.line, Ratio: DefaultRatio}
		var nameNode *node
		f.Name, nameNode = s.nameText("name")
		seen.note(s, nameNode, f.Name)
		if nameNode != nil && slices.ContainsFunc(meanings, func(m string) bool { return folded(m) == folded(f.Name) }) {
			s.fail(nameNode, "name", "has a meaning of its own in a trial: give the factor another name")
		}
		r.levels(s, &f)
		if v, ok := s.number("ratio", 0.1, 10); ok {
			f.Ratio = v
		} else if !s.has("ratio") {
			r.assume(s, "ratio", plainNumber(DefaultRatio), sourceRatio)
		}
		r.trial.Factors = append(r.trial.Factors, f)
	}
}

// levels reads the two levels of a factor.
func (r *reader) levels(s *section, f *Factor) {
	n, _ := s.find("levels")
	if n == nil {
		return
	}
	if n.kind != listKind {
		s.wrongKind(n, "levels", "levels")
		return
	}
	if len(n.items) != 2 {
		s.fail(n, "levels", "has %s, and a factor has two: write %s", counted(len(n.items), "level"), s.level.key("levels").write)
		return
	}
	for i, item := range n.items {
		if item.kind != textKind {
			s.fail(item, "levels", "is no text: write %s", s.level.key("levels").write)
			return
		}
		name, fault := nameOf(item.text)
		if fault == "" && name == "" {
			fault = "is empty: write " + s.level.key("levels").write
		}
		if fault != "" {
			s.fail(item, "levels", "%s", fault)
			return
		}
		f.Levels[i] = name
	}
	if folded(f.Levels[0]) == folded(f.Levels[1]) {
		s.fail(n, "levels", "has the same level twice, %s: a factor has two that differ", handwritten.Quoted(f.Levels[0]))
	}
}
