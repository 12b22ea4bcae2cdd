package trialfile

import (
	"fmt"
	"strconv"
	"strings"

	"bondtrial"
	"bondtrial/internal/wood"
)

// specimen reads the shape of the specimens.
func (r *reader) specimen(s *section) {
	g := &r.trial.Specimen
	joint, n := s.text("joint")
	switch g.Joint = Joint(joint); g.Joint {
	case BlockShear, Lap, Butt, CrossLap:
	default:
		if n != nil {
			s.fail(n, "joint", "is no kind of joint that is known: write %s, %s, %s or %s", BlockShear, Lap, Butt, CrossLap)
		}
		g.Joint = ""
	}
	var okL, okW, okT bool
	g.Length, okL = s.length("length", false)
	g.Width, okW = s.length("width", false)
	g.Thickness, okT = s.length("thickness", false)
	overlap, hasOverlap := s.length("overlap", false)
	area, hasArea := s.area("area")
	if s.has("overlap") && s.has("area") {
		r.bad.add(Problem{Line: s.line("area"), Where: s.where, Key: "area_mm2", Message: "says the same as overlap_mm: keep one of them"})
		return
	}
	if g.Joint == "" || !okL || !okW || !okT {
		return
	}
	r.bond(s, overlap, hasOverlap, bondtrial.SquareMillimetre(area), hasArea)
}

// bond works out the bonded area and whether the pieces have room for it.
func (r *reader) bond(s *section, overlap Millimetre, hasOverlap bool, area bondtrial.SquareMillimetre, hasArea bool) {
	g := &r.trial.Specimen
	var most bondtrial.SquareMillimetre
	switch g.Joint {
	case Butt:
		most = product(g.Width, g.Thickness)
	case CrossLap:
		most = product(g.Width, g.Width)
	default:
		most = product(g.Length, g.Width)
	}
	crossways := g.Joint == Butt || g.Joint == CrossLap
	switch {
	case hasArea:
		g.Area = area
	case s.has("area"): // wrong, and reported
	case crossways && hasOverlap:
		n, spelling := s.find("overlap")
		s.fail(n, spelling, "has no meaning for a %s joint: remove it, or give area_mm2 if less than the whole face is bonded", g.Joint)
	case crossways:
		g.Area = most
	case hasOverlap:
		g.Overlap, g.Area = overlap, product(overlap, g.Width)
	case !s.has("overlap"):
		r.bad.add(Problem{Line: s.node.line, Where: s.where, Key: "overlap_mm", Message: "is missing: write overlap_mm = 10, along the grain, or the bonded area as area_mm2 = 200"})
	}
	switch {
	case g.Overlap > g.Length:
		n, spelling := s.find("overlap")
		s.fail(n, spelling, "is %s mm longer than the pieces, %s mm", trimmed(g.Overlap-g.Length), trimmed(g.Length))
	case float64(g.Area) > float64(most)*(1+1e-9): // for the rounding of inches
		n, spelling := s.find("area")
		s.fail(n, spelling, "is %s mm² more than the pieces have room for, %s mm²", trimmed(g.Area-most), trimmed(most))
	}
}

func product(a, b Millimetre) bondtrial.SquareMillimetre {
	return bondtrial.SquareMillimetre(a) * bondtrial.SquareMillimetre(b)
}

// trimmed shows a quantity with at most two decimals.
func trimmed[T ~float64](v T) string {
	s := strconv.FormatFloat(float64(v), 'f', 2, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// cutting reads what sawing and planing take away.
func (r *reader) cutting(s *section) {
	c := &r.trial.Cutting
	otherwise := func(name string, to *Millimetre, value Millimetre, source string) {
		if v, ok := s.length(name, name != "least_thickness"); ok {
			*to = v
			return
		}
		*to = value
		if !s.has(name) && value > 0 {
			r.assume(s, name+"_mm", trimmed(value), source)
		}
	}
	otherwise("kerf", &c.Kerf, DefaultKerf, sourceCutting)
	otherwise("planing", &c.Planing, DefaultPlaning, sourceCutting)
	otherwise("least_thickness", &c.LeastThickness, r.trial.Specimen.Thickness, sourceLeastThickness)
	thickness := r.trial.Specimen.Thickness
	if s.has("least_thickness") && thickness > 0 && c.LeastThickness > thickness {
		n, spelling := s.find("least_thickness")
		if n != nil {
			s.fail(n, spelling, "is %s mm more than the pieces are thick, %s mm: it is the thinnest that is still used", trimmed(c.LeastThickness-thickness), trimmed(thickness))
		}
	}
}

// woods reads every [[wood]], with the boards that it counts.
func (r *reader) woods(list []*node) {
	seen := names{}
	for i, n := range list {
		s := r.section("wood", n, part("wood", i+1, n, "name"))
		w := Wood{Line: n.line}
		var nameNode *node
		w.Name, nameNode = s.nameText("name")
		seen.note(s, nameNode, w.Name)
		r.woodStrength(s, &w)
		r.trial.Woods = append(r.trial.Woods, w)
		r.alike(s, w.Name)
	}
}

// handbookMoisture is the moisture content that the handbook gives strengths at.
const handbookMoisture bondtrial.Percent = 12

// woodStrength reads the strength of the wood in the joint, or takes it from the
// handbook where that has it: its shear strength speaks for joints in shear.
func (r *reader) woodStrength(s *section, w *Wood) {
	if s.has("strength") {
		if t, n := s.text("strength"); n == nil || t == "unknown" {
			return
		}
		w.Strength, _ = parsed(s, "strength", likelyStress)
		return
	}
	joint := r.trial.Specimen.Joint
	if w.Name == "" || joint == "" {
		return
	}
	miss := func(why string) {
		r.bad.add(Problem{Line: s.node.line, Where: s.where, Key: "strength",
			Message: "is missing, and " + why + `: write what the wood itself is likely to bear in the joint, as in strength = "12 MPa", or strength = "unknown"`})
	}
	if joint == Butt || joint == CrossLap {
		miss("the handbook's shear strength says nothing of a " + string(joint) + " joint")
		return
	}
	match, err := wood.Find(w.Name)
	if err != nil {
		miss("the handbook's table has no such wood")
		return
	}
	shear, err := match.Shear(handbookMoisture)
	if err != nil {
		miss("the handbook gives none at 12 % moisture")
		return
	}
	w.Strength = shear.Mean
	source := "shear strength at 12 % moisture, Wood Handbook, " + match.Species[0].Name()
	if shear.Species > 1 {
		source = fmt.Sprintf("shear strength at 12 %% moisture, Wood Handbook, mean of %d species", shear.Species)
	}
	if match.Note != "" {
		source += "; " + match.Note
	}
	r.assume(s, "strength", fmt.Sprintf("%.1f MPa", float64(w.Strength)), source)
}

// alike adds the boards that a [[wood]] counts.
func (r *reader) alike(s *section, name string) {
	b := Board{Wood: name, Line: s.line("boards")}
	count, ok := s.whole("boards", 1, MaxBoards)
	if !s.has("boards") {
		for _, k := range []string{"length", "width", "thickness", "pieces_per_board"} {
			if s.has(k) {
				s.missingBeside("boards", k)
				r.doubtful[name] = true
				break
			}
		}
		return
	}
	if !r.size(s, &b, "pieces_per_board") || !ok {
		r.doubtful[name] = true
		return
	}
	for i := range count {
		b.Name = strconv.FormatInt(i+1, 10)
		r.trial.Boards = append(r.trial.Boards, b)
	}
}

func (s *section) missingBeside(name, other string) {
	k := s.level.key(name)
	s.r.bad.add(Problem{Line: s.line(other), Where: s.where, Key: k.spellings()[0],
		Message: fmt.Sprintf("is missing beside %s: write %s", s.level.key(other).spellings()[0], k.write)})
}

// size reads the dimensions of a board, or how many pieces it gives.
func (r *reader) size(s *section, b *Board, piecesKey string) bool {
	dimensions := []struct {
		name string
		to   *Millimetre
	}{{"length", &b.Length}, {"width", &b.Width}, {"thickness", &b.Thickness}}
	given := ""
	for _, d := range dimensions {
		if s.has(d.name) {
			given = d.name
			break
		}
	}
	switch {
	case s.has(piecesKey) && given != "":
		r.bad.add(Problem{Line: s.line(piecesKey), Where: s.where, Key: piecesKey, Message: "is there beside dimensions: give either the dimensions of the board or the number of pieces"})
		return false
	case s.has(piecesKey):
		v, ok := s.whole(piecesKey, 1, MaxPieces)
		b.Pieces = int(v)
		return ok
	case given == "":
		r.bad.add(Problem{Line: s.line("name"), Where: s.where, Key: "length_mm",
			Message: "is missing: write length_mm, width_mm and thickness_mm of the board, or " + s.level.key(piecesKey).write})
		return false
	}
	all := true
	for _, d := range dimensions {
		v, ok := s.length(d.name, false)
		if !s.has(d.name) {
			s.missingBeside(d.name, given)
		}
		*d.to = v
		all = all && ok
	}
	return all
}
