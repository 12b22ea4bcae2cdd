package trialfile

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	_ "time/tzdata" // so that a time zone means the same where the system has no table of them

	"bondtrial/internal/handwritten"
)

// readWork reads when and how fast the work is done.
func (r *reader) readWork(s *section) {
	w := &r.trial.Work
	w.Temperature = noLowest
	w.Start, _ = s.date("start")
	w.Location, _ = parsed(s, "time_zone", parseZone)
	r.daysOff(s)
	if v, ok := s.whole("clamps", 1, 10_000); ok {
		w.Clamps = int(v)
	}
	r.needClamps(s)
	pace := func(name string, to *time.Duration, otherwise time.Duration, source string) {
		if d, ok := s.time(name, time.Second); ok {
			*to = d
			return
		}
		if !s.has(name) {
			*to = otherwise
			r.assume(s, name, plainTime(otherwise), source)
		}
	}
	glueUp, source := r.usualGlueUp()
	pace("glue_up", &w.GlueUp, glueUp, source)
	pace("break", &w.Break, DefaultBreak, sourceWorkPaces)
	if v, ok := s.number("temperature_c", -30, 60); ok {
		w.Temperature = Celsius(v)
	}
	w.OneCartridge, _ = s.yes("one_cartridge")
	r.hours(s)
}

// usualGlueUp returns the time for one glue-up that is taken where the file gives
// none, and where it comes from: no longer than any adhesive leaves.
func (r *reader) usualGlueUp() (d time.Duration, source string) {
	d, source = DefaultGlueUp, sourceWorkPaces
	for _, a := range r.trial.Adhesives {
		if left := a.Open + a.Closed; a.Open > 0 && left < d {
			d, source = left, "no more than adhesive "+handwritten.Quoted(a.Name)+" leaves: be as quick, or write how long it takes"
		}
	}
	return d, source
}

// needClamps reports that clamps are left out while an adhesive needs some.
func (r *reader) needClamps(s *section) {
	if s.has("clamps") {
		return
	}
	for _, a := range r.trial.Adhesives {
		if a.Clamp > 0 {
			r.bad.add(Problem{Line: s.node.line, Where: s.where, Key: "clamps",
				Message: fmt.Sprintf("is missing, and adhesive %s is clamped for %s: write how many specimens can be under pressure at once, as in %s", handwritten.Quoted(a.Name), plainTime(a.Clamp), s.level.key("clamps").write)})
			return
		}
	}
}

// date reads a day, with or without quotation marks.
func (s *section) date(name string) (Date, bool) {
	n, _ := s.find(name)
	if n == nil {
		return Date{}, false
	}
	if n.kind != dateKind && n.kind != textKind {
		if n.kind == otherKind && len(n.text) > 10 {
			s.fail(n, name, "is a day with a time: write the day alone, as in %s", s.level.key(name).write)
		} else {
			s.wrongKind(n, name, name)
		}
		return Date{}, false
	}
	d, err := parseDate(n.text)
	if err != nil {
		s.fail(n, name, "%s", err)
		return Date{}, false
	}
	return d, true
}

// parseZone reads a time zone by its name.
func parseZone(name string) (*time.Location, error) {
	const write = `write a place of the zone as in "Europe/Berlin" or "America/New_York", or "UTC"`
	switch {
	case strings.EqualFold(name, "local"):
		return nil, errors.New("differs from computer to computer: " + write)
	case name != "UTC" && !strings.Contains(name, "/"):
		return nil, errors.New("is no name of a time zone: " + write)
	}
	loc, err := time.LoadLocation(name)
	if err != nil {
		return nil, errors.New("is no name of a time zone: " + write)
	}
	return loc, nil
}

const mostDaysOff = 1000

// daysOff reads days and stretches of days without work.
func (r *reader) daysOff(s *section) {
	n, _ := s.find("days_off")
	if n == nil {
		return
	}
	items := n.items
	if n.kind != listKind {
		items = []*node{n}
	}
	var days []Date
	for _, item := range items {
		if item.kind != dateKind && item.kind != textKind {
			s.wrongKind(item, "days_off", "days_off")
			continue
		}
		first, last, isRange := strings.Cut(item.text, " to ")
		from, err := parseDate(first)
		to := from
		if err == nil && isRange {
			to, err = parseDate(last)
		}
		switch {
		case err != nil:
			s.fail(item, "days_off", "%s", err)
		case to.Compare(from) < 0:
			s.fail(item, "days_off", "ends before it begins")
		default:
			for d := from; d.Compare(to) <= 0 && len(days) <= mostDaysOff; d = d.Next() {
				days = append(days, d)
			}
		}
	}
	if len(days) > mostDaysOff {
		s.fail(n, "days_off", "names more than %d days: check the years", mostDaysOff)
	}
	slices.SortFunc(days, Date.Compare)
	r.trial.Work.DaysOff = slices.Compact(days)
}

// hours reads the working hours of the week.
func (r *reader) hours(s *section) {
	w := &r.trial.Work
	n := s.sub("hours")
	if n == nil {
		w.Hours = defaultHours()
		if !s.has("hours") {
			r.assume(s, "hours", "Monday to Friday 9:00-17:00", sourceHours)
		}
		return
	}
	r.hoursLine = n.line
	h := r.section("hours", n, "[work.hours]")
	good := true
	of := func(name string, days ...time.Weekday) {
		if !h.has(name) {
			return
		}
		spans, at := parsed(h, name, parseHours)
		good = good && at != nil
		for _, d := range days {
			w.Hours[d] = spans
		}
	}
	of("weekdays", time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday)
	for d := time.Sunday; d <= time.Saturday; d++ {
		of(strings.ToLower(d.String()), d)
	}
	if !good {
		w.Hours = [7][]Span{} // nothing further is said of hours that cannot be read
		return
	}
	if longest(w.Hours) == 0 {
		r.bad.add(Problem{Line: n.line, Where: h.where, Message: `has no working hours at all: write some, as in weekdays = "9:00-17:00"`})
	}
}

// longest returns the longest stretch of work in a week.
func longest(week [7][]Span) time.Duration {
	var most time.Duration
	for _, spans := range week {
		for _, s := range spans {
			most = max(most, s.To-s.From)
		}
	}
	return most
}

// readLabels reads the sheet of labels.
func (r *reader) readLabels(s *section) {
	l := &r.trial.Labels
	r.labelsLine = s.node.line
	if len(s.node.order) == 0 {
		r.trial.Assumed = append(r.trial.Assumed, Assumption{s.where,
			fmt.Sprintf("%s, %d by %d labels, margins of %s mm", pages[0].name, defaultColumns, defaultRows, trimmed(defaultMargin)), sourceLabels})
		*l = LabelSheet{pages[0].name, pages[0].width, pages[0].height, defaultRows, defaultColumns,
			defaultMargin, defaultMargin, defaultMargin, defaultMargin, 0, 0}
		return
	}
	r.page(s)
	count := func(name string, to *int, otherwise int64) {
		v, ok := s.whole(name, 1, 60)
		if !ok {
			v = otherwise
		}
		*to = int(v)
		if !s.has(name) {
			r.assume(s, name, fmt.Sprint(otherwise), sourceLabels)
		}
	}
	count("rows", &l.Rows, defaultRows)
	count("columns", &l.Columns, defaultColumns)
	margin := func(name string, to *Millimetre, otherwise Millimetre, source string) {
		v, ok := s.length(name, true)
		if !ok {
			v = otherwise
		}
		*to = v
		if !s.has(name) && otherwise > 0 {
			r.assume(s, name+"_mm", trimmed(otherwise), source)
		}
	}
	margin("top", &l.Top, defaultMargin, sourceLabels)
	margin("left", &l.Left, defaultMargin, sourceLabels)
	margin("bottom", &l.Bottom, l.Top, "the same as top")
	margin("right", &l.Right, l.Left, "the same as left")
	margin("gap_across", &l.GapAcross, 0, "")
	margin("gap_down", &l.GapDown, 0, "")
}

// page reads the size of the paper.
func (r *reader) page(s *section) {
	name, n := s.text("page")
	if !s.has("page") {
		name = pages[0].name
		r.assume(s, "page", name, sourceLabels)
	}
	for _, p := range pages {
		if strings.EqualFold(p.name, name) {
			r.trial.Labels.Page, r.trial.Labels.PageWidth, r.trial.Labels.PageHeight = p.name, p.width, p.height
			return
		}
	}
	if n != nil {
		s.fail(n, "page", "is no page that is known: write %s", s.level.key("page").write)
	}
}
