package trialfile

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"bondtrial/internal/handwritten"
)

// Durations as people write them. A month and a year have no fixed length, and m
// may be either minutes or months.
var timeUnits = map[string]time.Duration{
	"s": time.Second, "sec": time.Second, "second": time.Second, "seconds": time.Second,
	"min": time.Minute, "mins": time.Minute, "minute": time.Minute, "minutes": time.Minute,
	"h": time.Hour, "hr": time.Hour, "hrs": time.Hour, "hour": time.Hour, "hours": time.Hour,
	"d": day, "day": day, "days": day,
	"w": 7 * day, "wk": 7 * day, "week": 7 * day, "weeks": 7 * day,
}

const (
	day         = 24 * time.Hour
	longestTime = 366 * day
)

const writeTime = `write a time with its unit, such as "20 min", "24 h", "7 d" or "1 h 30 min"`

var (
	timePart  = regexp.MustCompile(`^(\d+(?:\.\d+)?)\s*([A-Za-z]*)[\s,]*`)
	timeRange = regexp.MustCompile(`\d\s*[A-Za-z]*\s*(?:-|–|to)\s*\d`)
	commaPart = regexp.MustCompile(`\d,\d`)
)

// parseTime reads a length of time; "none" is 0. It is exact to the second.
func parseTime(s string) (time.Duration, error) {
	text := strings.ToLower(strings.TrimSpace(s))
	switch {
	case text == "":
		return 0, errors.New("is empty: " + writeTime)
	case text == "none":
		return 0, nil
	case timeRange.MatchString(text):
		return 0, errors.New("is a range: write one time, the one that is safe (the shorter for open, the longer for clamp and cure)")
	case text[0] == '-':
		return 0, errors.New("is below 0: a time counts forward")
	case commaPart.MatchString(text):
		return 0, errors.New(`write the number with a point, as in "1.5 h"`)
	}
	var total float64
	for rest := text; rest != ""; {
		m := timePart.FindStringSubmatch(rest)
		if m == nil {
			return 0, errors.New("is no length of time: " + writeTime)
		}
		unit, known := timeUnits[m[2]]
		switch {
		case m[2] == "":
			return 0, errors.New("has no unit: " + writeTime)
		case m[2] == "m":
			return 0, errors.New("m may be minutes or months: write min for minutes")
		case !known:
			return 0, fmt.Errorf("has the unit %s, which is not known: %s", handwritten.Quoted(m[2]), writeTime)
		}
		v, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			return 0, errors.New("is no length of time: " + writeTime)
		}
		total += v * unit.Seconds()
		rest = rest[len(m[0]):]
	}
	if total > longestTime.Seconds() {
		return 0, fmt.Errorf("is longer than %s: check the unit", plainTime(longestTime))
	}
	return time.Duration(math.Round(total)) * time.Second, nil
}

// plainTime writes a length of time for a person: "90 s", "1 h 30 min", "7 d".
func plainTime(d time.Duration) string {
	var parts []string
	units := []struct {
		d    time.Duration
		name string
	}{{time.Hour, "h"}, {time.Minute, "min"}, {time.Second, "s"}}
	if d >= 2*day {
		parts = append(parts, fmt.Sprintf("%d d", d/day))
		d %= day
	}
	for _, u := range units {
		if d >= u.d {
			parts = append(parts, fmt.Sprintf("%d %s", d/u.d, u.name))
			d %= u.d
		}
	}
	if parts == nil {
		return "0 min"
	}
	return strings.Join(parts, " ")
}

var inchText = regexp.MustCompile(`^(?:(\d+)[ -]+)?(\d+)/(\d+)$`)

// parseInches reads a fraction of an inch, such as "3/4" or "1 1/2".
func parseInches(s string) (float64, error) {
	m := inchText.FindStringSubmatch(strings.TrimSpace(s))
	if m == nil {
		return 0, errors.New(`is no length in inches: write a number such as 1.5, or a fraction in quotation marks such as "1 1/2"`)
	}
	var v [3]float64
	for i, t := range m[1:] {
		if t == "" {
			continue
		}
		var err error
		if v[i], err = strconv.ParseFloat(t, 64); err != nil {
			return 0, errors.New("is no length in inches")
		}
	}
	if v[2] == 0 {
		return 0, errors.New("is divided by 0")
	}
	return v[0] + v[1]/v[2], nil
}

var moneyText = regexp.MustCompile(`^(?:(\d+(?:\.\d+)?)\s*([A-Z]{3})|([A-Z]{3})\s*(\d+(?:\.\d+)?))$`)

// parseMoney reads a price with the code of its currency.
func parseMoney(s string) (Money, error) {
	s = strings.TrimSpace(s)
	m := moneyText.FindStringSubmatch(s)
	switch {
	case m == nil && commaPart.MatchString(s):
		return Money{}, errors.New(`write the price with a point and without separators, as in "8.90 EUR"`)
	case m == nil && strings.ContainsAny(s, "€$£¥"):
		return Money{}, errors.New(`write the currency with its three letters, as in "8.90 EUR": one sign serves several currencies`)
	case m == nil:
		return Money{}, errors.New(`is no price: write the number and the three letters of the currency, as in "8.90 EUR"`)
	}
	v, err := strconv.ParseFloat(m[1]+m[4], 64)
	if err != nil || v > 1e7 {
		return Money{}, errors.New("is no price of a package: check the number")
	}
	return Money{v, m[2] + m[3]}, nil
}

var contentText = regexp.MustCompile(`^(\d+(?:\.\d+)?)\s*([A-Za-z]+)$`)

// parseContent reads how much a package holds.
func parseContent(s string) (Content, error) {
	s = strings.TrimSpace(s)
	const write = `write it in g, kg, ml or l, as in "500 g" or "290 ml"`
	if commaPart.MatchString(s) {
		return Content{}, errors.New(`write the number with a point, as in "0.75 l"`)
	}
	m := contentText.FindStringSubmatch(s)
	if m == nil {
		return Content{}, errors.New("is no content of a package: " + write)
	}
	v, err := strconv.ParseFloat(m[1], 64)
	if err != nil || v <= 0 || v > 1e6 {
		return Content{}, errors.New("is no content of a package: check the number")
	}
	switch strings.ToLower(m[2]) {
	case "g":
		return Content{v, "g"}, nil
	case "kg":
		return Content{1000 * v, "g"}, nil
	case "ml":
		return Content{v, "ml"}, nil
	case "l":
		return Content{1000 * v, "ml"}, nil
	case "oz":
		return Content{}, errors.New("oz may be a weight or a volume: " + write)
	}
	return Content{}, errors.New("has a unit that is not known: " + write)
}

var dateText = regexp.MustCompile(`^(\d{4})-(\d{2})-(\d{2})$`)

// parseDate reads a day and says why where there is no such day.
func parseDate(s string) (Date, error) {
	m := dateText.FindStringSubmatch(strings.TrimSpace(s))
	if m == nil {
		return Date{}, errors.New("is no date: write year, month and day, as in 2027-04-12")
	}
	var v [3]int
	for i, t := range m[1:] {
		v[i], _ = strconv.Atoi(t) // digits only, at most four
	}
	d := Date{v[0], time.Month(v[1]), v[2]}
	last := time.Date(d.Year, d.Month+1, 0, 0, 0, 0, 0, time.UTC).Day()
	switch {
	case d.Year < 2000 || d.Year > 2199:
		return Date{}, errors.New("is not in the years 2000 to 2199: check the year")
	case v[1] < 1 || v[1] > 12:
		return Date{}, fmt.Errorf("does not exist: there is no month %d; write year, month and day, as in 2027-04-12", v[1])
	case d.Day < 1 || d.Day > last:
		return Date{}, fmt.Errorf("does not exist: %s %d has %d days", d.Month, d.Year, last)
	}
	return d, nil
}

const writeHours = `write from-to on the 24-hour clock, as in "9:00-12:00, 13:00-17:00", or "off"`

var spanText = regexp.MustCompile(`^(\d{1,2})(?::(\d{2}))?\s*[-–]\s*(\d{1,2})(?::(\d{2}))?$`)

// parseHours reads the working hours of a day; "off" is none.
func parseHours(s string) ([]Span, error) {
	text := strings.ToLower(strings.TrimSpace(s))
	if text == "off" {
		return nil, nil
	}
	if strings.Contains(text, "am") || strings.Contains(text, "pm") {
		return nil, errors.New("has am or pm: " + writeHours)
	}
	var spans []Span
	for part := range strings.SplitSeq(text, ",") {
		part = strings.TrimSpace(part)
		which := ""
		if part != text {
			which = handwritten.Quoted(part) + " "
		}
		m := spanText.FindStringSubmatch(part)
		if m == nil {
			return nil, errors.New("are no working hours: " + writeHours)
		}
		from, ok1 := clock(m[1], m[2])
		to, ok2 := clock(m[3], m[4])
		switch {
		case !ok1 || !ok2:
			return nil, fmt.Errorf("%shas a time that no clock shows: %s", which, writeHours)
		case to <= from:
			return nil, fmt.Errorf("%sends before it begins, or as it begins: for work past midnight, write until 24:00 and the rest on the next day", which)
		case len(spans) > 0 && from < spans[len(spans)-1].To:
			return nil, fmt.Errorf("%sbegins before the stretch before it ends: write the stretches one after the other", which)
		}
		spans = append(spans, Span{from, to})
	}
	return spans, nil
}

// clock reads a time of day, up to 24:00.
func clock(hour, minute string) (time.Duration, bool) {
	h, _ := strconv.Atoi(hour)   // digits only, at most two
	m, _ := strconv.Atoi(minute) // the same, or empty: 0
	d := time.Duration(h)*time.Hour + time.Duration(m)*time.Minute
	return d, m < 60 && d <= day
}
