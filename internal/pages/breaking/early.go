package breaking

import (
	"fmt"
	"strings"
	"time"

	"bondtrial/internal/pages/cure"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

// nearlyCured is the part of the time to full cure that may be missing without a word:
// glue-ups and breaks are seldom at the planned minute.
const nearlyCured = 0.05

// early is what speaks against breaking a specimen now. It says nothing of which
// adhesive it is: where letters are sealed it goes by times that are the same for all.
type early struct {
	Words string
	Until time.Time // when it no longer holds; zero: that is not known
}

// softOnes returns the codes of specimens whose adhesive was soft when it was last
// looked at.
func softOnes(t *record.Trial) map[string]bool {
	out := make(map[string]bool)
	for _, w := range cure.NotYet(t) {
		for _, code := range w.Codes {
			out[code] = true
		}
	}
	return out
}

// earlyOf says what speaks against breaking a specimen at a moment; no words: nothing.
func earlyOf(t *record.Trial, s *record.Specimen, soft map[string]bool, now time.Time) (e early) {
	if s.Glued == nil || s.Glued.Spoiled != "" {
		return e
	}
	glued := s.Glued.ClampedAt()
	said := "glued " + cure.Span(max(0, now.Sub(glued))) + " ago"
	cured := curedAt(t, s)
	notYet := cured.Add(-time.Duration(nearlyCured * float64(cured.Sub(glued)))).After(now)
	switch {
	case notYet && s.BreakAt.After(now):
		said = "Not cured yet: " + said + "; the plan breaks it from " + frame.When(s.BreakAt, t.Zone)
	case notYet:
		said = "Not cured yet: " + said + "; it has its time to cure until " + frame.When(cured, t.Zone)
	case soft[s.Code]:
		return early{Words: fmt.Sprintf("It may be soft: %s; the last look said soft.", said)}
	default:
		return e
	}
	if soft[s.Code] {
		return early{Words: said + "; the last look said soft."}
	}
	return early{Words: said + ".", Until: cured}
}

// curedAt is when a specimen has had its time to full cure, counted from its clamping;
// where that is not known, when the plan breaks it. Zero: neither is known. Where letters
// are sealed its own time would tell the adhesive: it is the longest of the trial's, or
// the plan's time of breaking, put off as much as the glue-up was late, where that is
// earlier.
func curedAt(t *record.Trial, s *record.Specimen) time.Time {
	glued := s.Glued.ClampedAt()
	if t.Sealed() {
		at := s.BreakAt
		if late := glued.Sub(s.GlueAt); !at.IsZero() && late > 0 {
			at = at.Add(late)
		}
		var longest time.Duration
		for _, a := range t.Plan.Adhesives {
			longest = max(longest, a.Cure)
		}
		if all := glued.Add(longest); longest > 0 && (at.IsZero() || all.Before(at)) {
			return all
		}
		return at
	}
	if s.Planned != nil && s.Planned.Cure > 0 {
		return glued.Add(s.Planned.Cure)
	}
	return s.BreakAt
}

// lowered begins a sentence's words within another one.
func lowered(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + strings.TrimSuffix(s[1:], ".")
}
