package schedule

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"io"
	"math"
	"sort"
	"strings"
	"time"
	"unicode"

	ics "github.com/arran4/golang-ical"
)

// Calendar says what stands in a calendar file beside the plan.
type Calendar struct {
	Trial string    // its name; the identifiers of the events depend on it
	Stamp time.Time // when the plan was made: DTSTAMP of every event
	// Blind names no adhesive or batch, and lists the specimens of a check without
	// grouping them. That some are looked at on other days than others still tells
	// adhesives apart that take different times to cure.
	Blind bool
}

// Cautions that stand in the events (common practice, no source; no substitute for
// the label and its safety data).
const (
	GlueUpCaution = "Caution: wear gloves, air the room, and read the label and its safety data before opening."
	BreakCaution  = "Caution: wear eye protection; a joint that breaks throws splinters."
)

// item is one event of the calendar.
type item struct {
	uid        string
	start, end time.Time
	summary    string
	lines      []string
}

// WriteCalendar writes the plan as a calendar after RFC 5545: one event for each
// block of glue-ups, of releases and of breaks on a day, and one for all cure
// checks that fall on one moment. Times are in UTC, which every reader shows in its
// own zone; the descriptions tell them as in the workshop. Lines end in CRLF and are
// folded at 75 octets. The same plan and the same Calendar give the same bytes, and
// an event keeps its identifier as long as its day, its kind and its place among
// that day's events of the kind stay.
//
// Errors are those of w.
func WriteCalendar(w io.Writer, p *Plan, c Calendar) error {
	cal := ics.NewCalendarFor("bondtrial")
	cal.SetProductId("-//bondtrial//plan//EN")
	cal.SetName(plain("Trial " + c.Trial))
	for _, it := range items(p, c) {
		e := cal.AddEvent(it.uid)
		e.SetDtStampTime(c.Stamp)
		e.SetStartAt(it.start)
		e.SetEndAt(it.end)
		e.SetSummary(plain(it.summary))
		for i, l := range it.lines {
			it.lines[i] = plain(l)
		}
		e.SetDescription(strings.Join(it.lines, "\n"))
	}
	var b bytes.Buffer
	// The line end is said here: the library's own depends on the system.
	if err := cal.SerializeTo(&b, ics.WithNewLineWindows); err != nil {
		return fmt.Errorf("writing the calendar: %w", err)
	}
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("writing the calendar: %w", err)
	}
	return nil
}

// plain makes a text fit for one line of a calendar: valid UTF-8 without control
// characters and without blanks in a row, at which readers differ.
func plain(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	return strings.Join(strings.Fields(s), " ")
}

// items returns the events by day, and within a day blocks before checks.
func items(p *Plan, c Calendar) []item {
	mark := sha256.Sum256([]byte(c.Trial))
	var list []item
	for _, d := range p.Days {
		count := make(map[string]int)
		add := func(kind string, it item) {
			count[kind]++
			it.uid = fmt.Sprintf("%04d%02d%02d-%s-%d-%x@bondtrial", d.Date.Year, d.Date.Month, d.Date.Day, kind, count[kind], mark[:6])
			list = append(list, it)
		}
		for _, b := range d.Blocks() {
			add(b.Kind.String(), p.blockItem(b, c))
		}
		for from := 0; from < len(d.Checks); {
			to := from
			for to < len(d.Checks) && p.Checks[d.Checks[to]].At.Equal(p.Checks[d.Checks[from]].At) {
				to++
			}
			add("check", p.checkItem(d.Checks[from:to], c))
			from = to
		}
	}
	return list
}

func (p *Plan) blockItem(b Block, c Calendar) item {
	it := item{start: b.Start, end: b.End}
	switch b.Kind {
	case GlueUp:
		it.summary = fmt.Sprintf("%s: glue up %s", c.Trial, specimens(len(b.Steps)))
		it.lines = append(it.lines, GlueUpCaution)
		if !c.Blind {
			it.lines = append(it.lines, p.lowest(b)...)
		}
	case Release:
		it.summary = fmt.Sprintf("%s: take the clamps off %s", c.Trial, specimens(len(b.Steps)))
	case Break:
		it.summary = fmt.Sprintf("%s: break %s", c.Trial, specimens(len(b.Steps)))
		it.lines = append(it.lines, BreakCaution)
	}
	for _, s := range b.Steps {
		line := s.Start.In(p.Location).Format("15:04 ") + p.Specimens[s.Specimen].Code
		if n := p.Times[s.Specimen].Clamp; n > 0 && b.Kind != Break {
			line += fmt.Sprintf(", clamp %d", n)
		}
		if b.Kind == GlueUp && !c.Blind {
			line += ", " + p.label(p.Specimens[s.Specimen].Adhesive, p.Specimens[s.Specimen].Batch)
		}
		it.lines = append(it.lines, line)
	}
	return it
}

// lowest says below which temperature the adhesives of a block must not be applied.
func (p *Plan) lowest(b Block) (lines []string) {
	said := make(map[int]bool)
	for _, s := range b.Steps {
		a := p.Specimens[s.Specimen].Adhesive
		if t := p.Adhesives[a].LowestC; !said[a] && !math.IsNaN(t) {
			lines = append(lines, fmt.Sprintf("%s: not below %g °C.", p.Adhesives[a].Name, t))
		}
		said[a] = true
	}
	return lines
}

func (p *Plan) checkItem(checks []int, c Calendar) item {
	at := p.Checks[checks[0]].At
	it := item{start: at, end: at.Add(CheckLook)}
	var all []int
	for _, n := range checks {
		k := p.Checks[n]
		all = append(all, k.Specimens...)
		if !c.Blind {
			it.lines = append(it.lines, fmt.Sprintf("%s (%s), glued up %s: %s", p.label(k.Adhesive, k.Batch), k.Reasons(), k.GluedOn, p.codes(k.Specimens)))
		}
	}
	sort.Ints(all)
	if c.Blind {
		it.lines = append(it.lines, p.codes(all))
	}
	it.summary = fmt.Sprintf("%s: look at the cure of %s", c.Trial, specimens(len(all)))
	return it
}

func (p *Plan) label(adhesive int, batch string) string {
	if batch == "" {
		return p.Adhesives[adhesive].Name
	}
	return p.Adhesives[adhesive].Name + ", batch " + batch
}

func (p *Plan) codes(indices []int) string {
	var codes []string
	for _, i := range indices {
		codes = append(codes, p.Specimens[i].Code)
	}
	return strings.Join(codes, ", ")
}

func specimens(n int) string {
	if n == 1 {
		return "1 specimen"
	}
	return fmt.Sprintf("%d specimens", n)
}
