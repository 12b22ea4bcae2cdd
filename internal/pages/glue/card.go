package glue

import (
	"fmt"
	"strings"
	"time"

	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/record"
)

// planFile returns the trial file that the plan was made from, the one that is
// written so far where there is no plan; nil where neither can be read.
func planFile(t *record.Trial) *trialfile.Trial {
	if t.Plan == nil || t.Plan.File == t.Asked.File {
		return t.File
	}
	f, err := trialfile.Read(strings.NewReader(t.Plan.File), "plan")
	if err != nil {
		return nil
	}
	return f
}

// longWait is a wait within a batch after which a mixing is made anew: the one that
// the printed sheets go by.
const longWait = 15 * time.Minute

// opening is a cartridge or mixing.
type opening struct{ label, batch string }

// cardsOf returns the cards of what is left to glue. f may be nil.
func cardsOf(t *record.Trial, left []*record.Specimen, f *trialfile.Trial) []card {
	open := make(map[opening]bool)
	for _, s := range t.Specimens {
		if s.Glued != nil {
			open[opening{s.Label, s.Batch}] = true
		}
	}
	var hands time.Duration
	if f != nil {
		hands = f.Work.GlueUp
	}
	before := make(map[string]*record.Specimen, len(left)) // in the plan
	for i, s := range t.Specimens {
		if i > 0 {
			before[s.Code] = t.Specimens[i-1]
		}
	}
	cards := make([]card, 0, len(left))
	for _, s := range left {
		c := cardOf(t, s)
		o := opening{s.Label, s.Batch}
		last := before[s.Code]
		switch {
		case s.Batch == "":
		case !open[o]:
			c.Fresh = fmt.Sprintf("open a new cartridge of %s, or mix it anew: batch %s", t.Shown(s), s.Batch)
		case last != nil && last.Batch == s.Batch && last.Label == s.Label && s.GlueAt.Sub(last.GlueAt)-hands >= longWait:
			c.Fresh = fmt.Sprintf("a long pause lies before it: mix or open %s anew, batch %s", t.Shown(s), s.Batch)
		}
		open[o] = true
		cards = append(cards, c)
	}
	return cards
}

func cardOf(t *record.Trial, s *record.Specimen) card {
	c := card{Code: s.Code, Adhesive: t.Shown(s), Wood: s.Wood, Board: s.Board, Batch: s.Batch, Long: len(s.Code) > 6}
	if s.Label != c.Adhesive {
		c.Also = s.Label
	}
	if s.Pieces != [2]int{} {
		c.Pieces = fmt.Sprintf("%d and %d", s.Pieces[0], s.Pieces[1])
	}
	var levels []string
	for _, f := range t.Factors() {
		if l := s.Factors[f]; l != "" {
			levels = append(levels, f+": "+l)
		}
	}
	c.Levels = strings.Join(levels, ", ")
	if s.Planned != nil {
		c.Open, c.Limits = int(s.Planned.Open.Seconds()), limits(s.Planned)
	}
	if !s.GlueAt.IsZero() {
		c.At, c.Planned = s.GlueAt.UnixMilli(), s.GlueAt.In(t.Zone).Format("15:04, Mon 2 Jan")
	}
	return c
}

// limits says which times go with an adhesive.
func limits(a *record.PlannedAdhesive) string {
	var parts []string
	if a.Open > 0 {
		parts = append(parts, "open time "+span(a.Open))
	}
	if a.Closed > 0 {
		parts = append(parts, span(a.Closed)+" from joining to full pressure")
	}
	if a.Clamp > 0 {
		parts = append(parts, "under the clamp "+span(a.Clamp))
	}
	return strings.Join(parts, ", ")
}

// span writes a duration in the two largest units that it has.
func span(d time.Duration) string {
	if d < 0 {
		d = -d
	}
	units := []struct {
		of   time.Duration
		name string
	}{{24 * time.Hour, "day"}, {time.Hour, "h"}, {time.Minute, "min"}, {time.Second, "s"}}
	for i, u := range units {
		n := d / u.of
		if n == 0 {
			continue
		}
		out := fmt.Sprintf("%d %s", n, u.name)
		if u.name == "day" && n > 1 {
			out += "s"
		}
		if i+1 < len(units) {
			if m := (d % u.of) / units[i+1].of; m > 0 {
				out += fmt.Sprintf(" %d %s", m, units[i+1].name)
			}
		}
		return out
	}
	return "0 s"
}

// onTime is how far from its planned time a glue-up is still on time.
const onTime = 5 * time.Minute

// lag says where the work stands against its plan; at is in milliseconds since
// 1970, 0: in no plan. The module of the page says it in the same words.
func lag(at int64, now time.Time) string {
	if at == 0 {
		return ""
	}
	d := now.Sub(time.UnixMilli(at)).Truncate(time.Minute)
	switch {
	case d >= onTime:
		return span(d) + " behind the plan"
	case d <= -onTime:
		return span(d) + " ahead of the plan"
	}
	return "as planned"
}
