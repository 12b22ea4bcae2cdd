package trialfile

import (
	"fmt"
	"slices"
	"strconv"

	"bondtrial/internal/handwritten"
)

// boards reads every [[board]] and puts all boards in the order of the woods.
func (r *reader) boards(list []*node) {
	t := r.trial
	unnamed := map[int]bool{} // by index in t.Boards
	for i, n := range list {
		s := r.section("board", n, part("board", i+1, n, "name"))
		b := Board{Line: n.line}
		b.Wood = r.woodOf(s)
		b.Name, _ = s.nameText("name")
		if r.size(s, &b, "pieces") && b.Wood != "" {
			unnamed[len(t.Boards)] = !s.has("name")
			t.Boards = append(t.Boards, b)
		} else {
			r.doubtful[b.Wood] = true
		}
	}
	r.nameBoards(unnamed)
	order := map[string]int{}
	for i, w := range t.Woods {
		order[w.Name] = i
	}
	slices.SortStableFunc(t.Boards, func(a, b Board) int { return order[a.Wood] - order[b.Wood] })
	if len(t.Boards) > MaxBoards {
		r.bad.add(Problem{Line: t.Boards[len(t.Boards)-1].Line, Message: fmt.Sprintf("there are %d boards, and a trial has at most %d", len(t.Boards), MaxBoards)})
		t.Boards = t.Boards[:MaxBoards]
	}
}

// nameBoards reports names that are there twice within a wood, and numbers the
// boards that have none.
func (r *reader) nameBoards(unnamed map[int]bool) {
	type place struct{ wood, name string }
	taken := map[place]int{}
	for i := range r.trial.Boards {
		b := &r.trial.Boards[i]
		if unnamed[i] || b.Name == "" {
			continue
		}
		if line, ok := taken[place{b.Wood, folded(b.Name)}]; ok {
			r.bad.add(Problem{Line: b.Line, Where: "board " + handwritten.Quoted(b.Name), Key: "name",
				Message: fmt.Sprintf("is there twice within %s, first on line %d: give each board of a wood its own name", b.Wood, line)})
			continue
		}
		taken[place{b.Wood, folded(b.Name)}] = b.Line
	}
	next := map[string]int{}
	for i := range r.trial.Boards {
		b := &r.trial.Boards[i]
		for unnamed[i] && b.Name == "" {
			next[b.Wood]++
			if n := strconv.Itoa(next[b.Wood]); taken[place{b.Wood, n}] == 0 {
				b.Name = n
			}
		}
	}
}

// woodOf reads the wood of a board or of reused pieces.
func (r *reader) woodOf(s *section) string {
	name, n := s.nameText("wood")
	if n == nil {
		return ""
	}
	var all []string
	for _, w := range r.trial.Woods {
		all = append(all, w.Name)
	}
	return r.choice(s, n, "wood", name, all, "wood")
}

// reused reads every [[reused]].
func (r *reader) reused(list []*node) {
	for i, n := range list {
		s := r.section("reused", n, part("reused pieces", i+1, n, "board"))
		p := Reused{Line: n.line}
		p.Wood = r.woodOf(s)
		p.Board, _ = s.nameText("board")
		pieces, okP := s.whole("pieces", 1, MaxPieces)
		uses, _ := s.whole("uses", 0, 1000)
		var okT bool
		p.Thickness, okT = s.length("thickness", false)
		p.Pieces, p.Uses = int(pieces), int(uses)
		if p.Wood == "" || !okP || !okT {
			r.doubtful[p.Wood] = true
			continue
		}
		c := r.trial.Cutting
		if left := p.Thickness - c.Planing; c.LeastThickness > 0 && left < c.LeastThickness {
			message := fmt.Sprintf("is too thin to be used again: after planing %s mm off, %s mm are left, %s mm less than least_thickness_mm, %s mm",
				trimmed(c.Planing), trimmed(left), trimmed(c.LeastThickness-left), trimmed(c.LeastThickness))
			r.bad.add(Problem{Line: s.line("thickness"), Where: s.where, Key: "thickness_mm", Message: message})
			r.doubtful[p.Wood] = true
			continue
		}
		r.trial.Reused = append(r.trial.Reused, p)
	}
}
