package cure

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"bondtrial/internal/record"
)

// scale is a scale of marks from 1 to 5 with what each point feels like.
type scale struct {
	Field, Ask, How string
	Points          [5]string // of 1 to 5
}

// The scales are in our own words; common sense of the trade, no source.
var (
	hardness = scale{"hardness", "How hard", "Press a fingernail into the bead that was squeezed out, or into a drop set aside for it.", [5]string{
		"wet: it comes off on the finger", "a skin, wet or soft beneath it", "soft: a fingernail goes in deep", "firm: a fingernail leaves a faint mark", "hard as when fully cured: no mark; of a rubbery one, as firm as it becomes"}}
	flexible = scale{"flexible", "How flexible", "Bend a thin bead or a drop between two fingers.", [5]string{
		"rigid: it snaps", "stiff: bends a little, then snaps", "tough: bends and stays whole", "springy: bends easily and comes back", "rubbery: it stretches"}}
)

// Scales lists them for the page.
func (page) Scales() []scale { return []scale{hardness, flexible} }

// words says what a mark means; empty where none was given.
func (s scale) words(mark int) string {
	if mark < 1 || mark > len(s.Points) {
		return ""
	}
	return fmt.Sprintf("%d, %s", mark, s.Points[mark-1])
}

// Given returns the mark of a form on the scale, 0 where none was given.
func (f lookForm) Given(field string) int {
	if field == flexible.Field {
		return f.Flexible
	}
	return f.Hardness
}

// hardEnough is the hardness from which an adhesive counts as hard.
const hardEnough = 4

// Warning says that an adhesive is not hard yet where it should be.
type Warning struct {
	Of    string // adhesive and batch, as pages may call it
	Words string // what was seen and why it matters
	Codes []string
}

// NotYet returns which adhesives were last seen softer than they should be, so that
// their specimens are better not broken yet. It is a hint: nothing is locked by it.
// Specimens that are broken already are left out of the codes; a warning without any
// left is left out.
func NotYet(t *record.Trial) []Warning {
	latest := make(map[string]*record.Looked)
	var order []string
	for i := range t.Cures {
		l := &t.Cures[i]
		if l.Cured.Hardness == 0 {
			continue
		}
		group := l.Adhesive
		if c, ok := checkAt(t, l.Subject); ok {
			group += "\n" + c.Batch + "\n" + c.GluedOn
		}
		switch before := latest[group]; {
		case before == nil:
			order = append(order, group)
		case l.First < before.First: // a correction of an earlier look
			continue
		}
		latest[group] = l
	}
	var out []Warning
	for _, group := range order {
		l := latest[group]
		words := softAt(t, l)
		if words == "" || hardSince(t, l) {
			continue
		}
		w := Warning{Of: shownAs(t, l.Adhesive), Words: words}
		for _, s := range lookedAt(t, l) {
			if s.Broken == nil {
				w.Codes = append(w.Codes, s.Code)
			}
		}
		if c, ok := checkAt(t, l.Subject); ok && c.Batch != "" {
			w.Of += ", batch " + c.Batch
		}
		if len(w.Codes) > 0 {
			out = append(out, w)
		}
	}
	return out
}

// hardSince reports whether a later look found the adhesive of a look hard. One that
// the plan asked for is of its own specimens, and says nothing of another such look.
func hardSince(t *record.Trial, l *record.Looked) bool {
	_, planned := checkAt(t, l.Subject)
	for i := range t.Cures {
		m := &t.Cures[i]
		if m.First > l.First && m.Adhesive == l.Adhesive && m.Cured.Hardness >= hardEnough {
			if _, too := checkAt(t, m.Subject); !planned || !too {
				return true
			}
		}
	}
	return false
}

// softAt says that what was seen is softer than it should be; empty: it is not. An
// adhesive should be hard when its time to full cure is over, after a day where its
// kind is hard by then, and before it is broken.
func softAt(t *record.Trial, l *record.Looked) string {
	if l.Cured.Hardness == 0 || l.Cured.Hardness >= hardEnough {
		return ""
	}
	c, planned := checkAt(t, l.Subject)
	if planned && strings.Contains(c.Why, "before breaking") {
		return "Do not break yet: it was looked at before breaking and is not hard. A soft bond breaks low, and the number says nothing of the adhesive. Look again in some hours."
	}
	since, cure := gluedSince(t, l)
	switch {
	case cure > 0 && since >= cure:
		return fmt.Sprintf("Do not break yet: after %s it should be hard and is not. Cold, thick or badly mixed adhesive cures slowly; look again later.", Span(since))
	case since >= aboutADay && t.Sealed():
		return fmt.Sprintf("Do not break yet: after %s it is not hard. Many adhesives are hard in a day, some take two weeks; look again later.", Span(since))
	case since >= aboutADay && hardInADay(t, l):
		return fmt.Sprintf("Do not break yet: after %s its kind is hard as a rule, and it is not. Cold, thick or badly mixed adhesive cures slowly; look again later.", Span(since))
	}
	return ""
}

// aboutADay is from when a look counts as one after 24 h: they often come somewhat
// early.
const aboutADay = 20 * time.Hour

// quick are the families that are hard in a day as a rule (common practice, no
// source).
var quick = []string{"pva", "pva-yellow", "pva-crosslinking", "epoxy-fast", "urea", "hide", "hide-liquid", "contact", "cyanoacrylate", "hot-melt"}

// hardInADay reports whether the adhesive of a look is hard in a day as a rule. Where
// letters are sealed it is not to be asked: the answer would tell the family.
func hardInADay(t *record.Trial, l *record.Looked) bool {
	if t.Plan == nil {
		return false
	}
	return slices.ContainsFunc(t.Plan.Adhesives, func(a record.PlannedAdhesive) bool {
		return a.Label == l.Adhesive && slices.Contains(quick, a.Family)
	})
}

// lookedAt returns the specimens of a look: those of the plan's, or all of the
// adhesive that are glued.
func lookedAt(t *record.Trial, l *record.Looked) []*record.Specimen {
	var out []*record.Specimen
	if c, ok := checkAt(t, l.Subject); ok {
		for _, code := range c.Codes {
			if s, ok := t.Specimen(code); ok {
				out = append(out, s)
			}
		}
		return out
	}
	for _, s := range t.Specimens {
		if s.Label == l.Adhesive && s.Glued != nil && s.Glued.Spoiled == "" {
			out = append(out, s)
		}
	}
	return out
}

// gluedSince returns how long before a look the last of its specimens was glued, and
// the time to full cure of their adhesive; 0 where it is not known.
func gluedSince(t *record.Trial, l *record.Looked) (since, cure time.Duration) {
	var last time.Time
	for _, s := range lookedAt(t, l) {
		at := s.GlueAt
		if s.Glued != nil {
			at = s.Glued.ClampedAt()
		}
		if at.After(last) && at.Before(l.FirstWhen) {
			last = at
		}
		if s.Planned != nil {
			cure = s.Planned.Cure
		}
	}
	if last.IsZero() {
		return 0, 0
	}
	return l.FirstWhen.Sub(last), cure
}
