package answer

import (
	"fmt"

	"bondtrial/stat/gibbs"
)

// Priors on the log scale. A board, a session or a trial shifts strengths by
// about a tenth; the half-t lets it be much more. Scatter differs between
// adhesives by a factor of e^±0.3 or so.
var (
	termPrior    = gibbs.HalfT{DF: 3, Scale: 0.2}
	scatterPrior = gibbs.HalfT{DF: 3, Scale: 0.3}

	// No glued joints repeat to 1 %; readings that are equal are rounded. EN 14358
	// takes no standard deviation of log strength below 0.05.
	scatterRange = gibbs.Range{Lo: 0.01, Hi: 3}
)

// term is a board, batch, session or trial term of the model.
type term struct {
	name  string // "board", "batch", "session", "trial"
	level []int  // of each used reading
	n     int
}

// terms returns the terms that the readings can tell apart, and a warning for
// each column that was given and cannot be used.
func (b *bench) terms(cell []int) (use []term, warnings []string) {
	for _, cand := range []term{
		b.levels("trial", func(i int) string { return b.readings[i].Trial }),
		b.levels("session", func(i int) string { return b.readings[i].Session }),
		b.levels("board", func(i int) string {
			r := &b.readings[i]
			if r.Board == "" {
				return ""
			}
			return r.Wood + "\x00" + r.Board
		}),
		b.levels("batch", func(i int) string {
			r := &b.readings[i]
			if r.Batch == "" {
				return ""
			}
			return r.Adhesive + "\x00" + r.Batch
		}),
	} {
		if cand.n < 2 {
			continue
		}
		if why := cand.confounded(cell, use); why != "" {
			warnings = append(warnings, why)
			continue
		}
		use = append(use, cand)
	}
	return use, warnings
}

// levels numbers the levels of a term in the order of the used readings. A term
// that is blank throughout has no levels.
func (b *bench) levels(name string, key func(i int) string) term {
	t := term{name: name, level: make([]int, len(b.used))}
	number := make(map[string]int)
	for k, i := range b.used {
		s := key(i)
		n, ok := number[s]
		if !ok {
			n = len(number)
			number[s] = n
		}
		t.level[k] = n
	}
	t.n = len(number)
	return t
}

// confounded says why the term cannot be told from the rest of the model, or
// returns an empty string.
func (t *term) confounded(cell []int, others []term) string {
	size := make([]int, t.n)
	for _, l := range t.level {
		size[l]++
	}
	repeated := false
	for _, n := range size {
		repeated = repeated || n > 1
	}
	if !repeated {
		return fmt.Sprintf("Every reading has its own %s, so what the %s add to the scatter cannot be told from the rest.", t.name, plural(t.name))
	}
	if t.name == "batch" && nested(cell, t.level) {
		return "No adhesive was glued from two batches on the same wood, so a difference between batches cannot be told from one between adhesives; intervals do not include it."
	}
	if nested(cell, t.level) {
		if samePartition(cell, t.level) || t.name != "board" {
			return fmt.Sprintf("Each adhesive and wood was broken in one %s only, so a difference between %ss cannot be told from a difference between adhesives; "+
				"intervals do not include it.", t.name, t.name)
		}
		return fmt.Sprintf("No adhesive was broken on two %ss of the same wood, so a difference between %ss cannot be told; intervals do not include it.", t.name, t.name)
	}
	for _, o := range others {
		if samePartition(o.level, t.level) {
			return fmt.Sprintf("Each %s is one %s, so the two cannot be told apart; the %s is used.", t.name, o.name, o.name)
		}
	}
	return ""
}

func plural(name string) string {
	if name == "batch" {
		return "batches"
	}
	return name + "s"
}

// nested reports whether all readings with one value of outer have one value of
// inner.
func nested(outer, inner []int) bool {
	seen := make(map[int]int)
	for i, o := range outer {
		if v, ok := seen[o]; ok && v != inner[i] {
			return false
		}
		seen[o] = inner[i]
	}
	return true
}

func samePartition(a, b []int) bool { return nested(a, b) && nested(b, a) }
