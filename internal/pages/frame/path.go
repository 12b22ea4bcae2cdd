package frame

import (
	"fmt"
	"time"

	"bondtrial/internal/record"
)

// Station is one of the seven stations of a trial.
type Station struct {
	Name  string // as it stands in the address
	Label string
	Words string // what is done and what is next
	Done  bool
	Next  bool // the first station with something left to do
}

// Path returns the seven stations of a trial with what is done and what is next at
// each. Nothing is locked.
func Path(t *record.Trial, now time.Time) []Station {
	out := []Station{
		{Name: "ask", Label: "Ask"}, {Name: "plan", Label: "Plan"}, {Name: "glue", Label: "Glue"}, {Name: "cure", Label: "Cure"},
		{Name: "break", Label: "Break"}, {Name: "answer", Label: "Answer"}, {Name: "publish", Label: "Publish"},
	}
	taken := t.Asked.Table != ""
	n := len(t.Specimens)
	out[0].Words, out[0].Done = askWords(t), taken || t.File != nil
	switch {
	case t.Plan != nil:
		out[1].Words, out[1].Done = fmt.Sprintf("%d specimens", len(t.Plan.Specimens)), true
	case taken:
		out[1].Words, out[1].Done = "taken in as it was", true
	default:
		out[1].Words = "no plan yet"
	}
	glued, spoiled, broken, toGlue := t.CountGlued(), t.CountSpoiled(), t.CountBroken(), len(t.ToGlue())
	switch {
	case glued+spoiled == 0 && (taken || broken > 0 && toGlue == 0):
		out[2].Words, out[2].Done = "not recorded here", true
	case n == 0:
		out[2].Words = "nothing to glue yet"
	default:
		out[2].Words = fmt.Sprintf("%d of %d glued", glued, n)
		if spoiled > 0 {
			out[2].Words += fmt.Sprintf(", %d spoiled", spoiled)
		}
		out[2].Done = glued+spoiled > 0 && toGlue == 0
	}
	out[3].Words, out[3].Done = cureWords(t, now)
	out[4].Words = "nothing to break yet"
	if n > 0 {
		out[4].Words = fmt.Sprintf("%d of %d broken", broken, toBreakInAll(t))
		if aside := setAside(t); aside > 0 {
			out[4].Words += fmt.Sprintf(", %d set aside", aside)
		}
		out[4].Done = broken > 0 && len(t.ToBreak()) == 0 && toGlue == 0
	}
	out[5].Words = "needs readings"
	if broken > 0 {
		out[5].Words = fmt.Sprintf("from %d %s", broken, plural(broken, "reading", "readings"))
	}
	out[6].Words = "after the answer"
	if broken > 0 {
		out[6].Words = "report, figures, data"
	}
	for i := range out {
		if !out[i].Done {
			out[i].Next = true
			break
		}
	}
	return out
}

// toBreakInAll counts the specimens that are broken or that may be: not those that
// were spoiled at the glue-up and left.
func toBreakInAll(t *record.Trial) int {
	n := len(t.Specimens)
	for _, s := range t.Specimens {
		if s.Broken == nil && s.Glued != nil && s.Glued.Spoiled != "" {
			n--
		}
	}
	return n
}

// setAside counts the broken specimens that do not count.
func setAside(t *record.Trial) int {
	n := 0
	for _, s := range t.Specimens {
		if s.Broken != nil && s.Broken.SetAside != "" {
			n++
		}
	}
	return n
}

func askWords(t *record.Trial) string {
	switch {
	case t.Asked.Table != "":
		return "taken in from a table"
	case t.File != nil:
		return fmt.Sprintf("%d adhesives, %d %s", len(t.File.Adhesives), len(t.File.Woods), plural(len(t.File.Woods), "wood", "woods"))
	case t.Asked.File != "":
		return "not complete yet"
	}
	return "to be written"
}

// cureWords says which cure check is due next.
func cureWords(t *record.Trial, now time.Time) (words string, done bool) {
	checks := t.Checks()
	if len(checks) == 0 {
		if t.Asked.Table != "" {
			return "not recorded here", true
		}
		return "no checks planned", t.CountBroken() > 0
	}
	over := t.CountBroken() > 0 && len(t.ToBreak()) == 0 && len(t.ToGlue()) == 0 // nothing is left to look at
	seen, due := 0, 0
	var next *record.Check
	for i := range checks {
		switch {
		case checks[i].Seen != nil:
			seen++
		case !checks[i].At.After(now):
			due++
		case next == nil:
			next = &checks[i]
		}
	}
	switch {
	case over:
		return fmt.Sprintf("%d of %d checks", seen, len(checks)), true
	case due > 0 && t.CountGlued() > 0:
		return fmt.Sprintf("%d %s due now", due, plural(due, "check", "checks")), false
	case next != nil:
		at := next.At.In(t.Zone)
		s := "cure check of " + fmt.Sprint(len(next.Codes)) + " due at " + at.Format("15:04")
		if at.Format("2006-01-02") != now.In(t.Zone).Format("2006-01-02") {
			s += " on " + at.Format("2 Jan")
		}
		return s, false
	}
	return fmt.Sprintf("%d of %d checks", seen, len(checks)), seen == len(checks)
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
