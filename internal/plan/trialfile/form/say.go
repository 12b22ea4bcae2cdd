package form

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"bondtrial/internal/plan/trialfile"
)

// message says what is wrong with a field. Messages of the trial file speak of
// lines, keys and quotation marks, which a form does not have.
func (w *writer) message(s section, field string, p trialfile.Problem) string {
	key := strings.TrimPrefix(field, s.name+".")
	i, _ := lookUp(s.kind, key)
	value := s.text(key)
	if said := misspelt(i, value); said != "" && !strings.HasPrefix(p.Message, "says the same as") {
		return said
	}
	switch {
	case strings.HasPrefix(p.Message, "must be true or false"):
		return "must be yes or no"
	case strings.HasPrefix(p.Message, "is missing"):
		return w.missing(s.kind, i, p.Message)
	case strings.HasPrefix(p.Message, "is empty"):
		return "is missing: write it as in " + i.example
	case strings.HasPrefix(p.Message, "is divided by 0"):
		return "is divided by 0: write it as in " + i.example
	case i.kind == Chosen && strings.Contains(p.Message, "that is known: write "):
		before, after, _ := strings.Cut(p.Message, ": write ")
		return before + ": write " + strings.ReplaceAll(w.plain(s.kind, after), "as in ", "")
	}
	said := w.plain(s.kind, p.Message)
	if i.kind == Lines && p.Value != "" {
		return printable(p.Value) + " " + said
	}
	return said
}

// missing says what is to be filled in.
func (w *writer) missing(kind string, i info, message string) string {
	asIn := "write it as in " + i.example
	if i.kind == Chosen {
		asIn = "choose one"
	}
	switch {
	case strings.Contains(message, "of the board, or "):
		return "is missing: write the length, width and thickness of one board, or how many pieces it gives"
	case strings.HasPrefix(message, "is missing: write boards = "):
		return "is missing: write how many boards there are and the size of one, or add each board, or pieces that are used again"
	case strings.HasPrefix(message, "is missing: write overlap_mm = "):
		return "is missing: write how far the pieces overlap along the grain, or the bonded area"
	case strings.HasPrefix(message, "is missing beside "):
		other, _, _ := strings.Cut(strings.TrimPrefix(message, "is missing beside "), ":")
		return "is missing beside " + w.plain(kind, other) + ": " + asIn
	case strings.HasPrefix(message, "is missing: write "):
		return "is missing: " + asIn
	}
	return w.plain(kind, message)
}

var (
	inQuotes    = regexp.MustCompile(`^["'“”„«].*["'“”«»]$`)
	withComma   = regexp.MustCompile(`^([+-]?\d+),(\d+)$`)
	commaWithin = regexp.MustCompile(`\d,\d`)
	grouped     = regexp.MustCompile(`^[+-]?\d{1,3}([ '’,.\x{a0}\x{202f}]\d{3})+$`)
	withEnding  = regexp.MustCompile(`^[+-]?\d[\d.,/ ]*\s*(?:%|\p{L}.*|["'″′°].*)$`)
	zerosBefore = regexp.MustCompile(`^0+(\d+(?:\.\d+)?)$`)
	pointFirst  = regexp.MustCompile(`^\.\d+$`)
	pointLast   = regexp.MustCompile(`^(\d+)\.$`)
	fraction    = regexp.MustCompile(`^(?:\d+[ -]+)?\d+/\d+$`)
)

// misspelt says how a value that is no number, or no price, is to be written
// instead, and nothing where it is one. It never takes one for another: what 1,500
// is only the person knows.
func misspelt(i info, value string) string {
	switch {
	case value == "":
		return ""
	case inQuotes.MatchString(value) && i.kind != Text && i.kind != LongText:
		return "write it without quotation marks, as in " + i.example
	case i.key == "strength" && commaWithin.MatchString(value):
		return "has a comma: write the number with a point, as in 8.5 MPa"
	case !i.kind.numeric() || isNumber(value):
		return ""
	case i.kind == Auto && strings.EqualFold(value, "auto"), i.kind == Inches && fraction.MatchString(value):
		return ""
	}
	alone := "write the number alone"
	if unit := unitOf(i.key); unit != "" {
		alone += ", in " + map[string]string{"in": "inches", "in²": "square inches", "%": "percent"}[unit]
		if strings.HasSuffix(alone, " ") {
			alone += unit
		}
	}
	alone += ", as in " + i.example
	if m := withComma.FindStringSubmatch(value); m != nil && !grouped.MatchString(value) {
		return "has a comma: write the number with a point, " + m[1] + "." + m[2]
	}
	if m := withComma.FindStringSubmatch(value); m != nil {
		return "has a comma, which may be either: write " + m[1] + "." + m[2] + " if decimals follow it, " + m[1] + m[2] + " if it parts thousands"
	}
	if grouped.MatchString(value) {
		return "is parted in groups: write the digits without anything between them"
	}
	if m := zerosBefore.FindStringSubmatch(value); m != nil {
		return "write the number without the 0 before it: " + m[1]
	}
	if m := pointLast.FindStringSubmatch(value); m != nil {
		return "write the number without the point behind it: " + m[1]
	}
	switch {
	case tomlNumber.MatchString(value):
		return "is too large a number: check it"
	case pointFirst.MatchString(value):
		return "write the number with a 0 before the point: 0" + value
	case withEnding.MatchString(value):
		return "has something behind the number: " + alone
	case i.kind == Inches:
		return "is no length in inches: write a number such as 1.5, or a fraction such as 1 1/2"
	case i.kind == Auto:
		return "is no number: write digits, as in " + i.example + ", or auto"
	}
	return "is no number: write digits, as in " + i.example
}

var (
	firstOnLine = regexp.MustCompile(`, first on line (\d+)`)
	keyIsValue  = regexp.MustCompile(`(as in )?\b[a-z][a-z0-9_]* = ("(?:[^"\\]|\\.)*"|\[[^\]]*\]|[\w.-]*\w)`)
	inBrackets  = regexp.MustCompile(`\[{1,2}([a-z.]+)\]{1,2}`)
	quotation   = regexp.MustCompile(`"(?:[^"\\]|\\.)*"`)
	longKey     = regexp.MustCompile(`\b[a-z]+(?:_[a-z0-9]+)+\b`)
)

// plain turns a message of the trial file into one of a form: rows for lines,
// labels for keys, and values as they are typed, without quotation marks. kind is
// that of the part that the message is about.
func (w *writer) plain(kind, message string) string {
	message = firstOnLine.ReplaceAllStringFunc(message, func(m string) string {
		line, _ := strconv.Atoi(firstOnLine.FindStringSubmatch(m)[1])
		first, n, ok := rowNumber(w.at(line).part)
		if !ok {
			return ""
		}
		return ", first in " + strings.ToLower(titles[first]) + " " + strconv.Itoa(n+1)
	})
	message = strings.ReplaceAll(message, "in quotation marks ", "")
	another := false
	message = keyIsValue.ReplaceAllStringFunc(message, func(m string) string {
		v := keyIsValue.FindStringSubmatch(m)[2]
		if strings.HasPrefix(v, "[") {
			v = strings.Trim(v, "[]")
		}
		if another && !strings.HasPrefix(m, "as in ") {
			return v
		}
		another = true
		return "as in " + v
	})
	message = strings.ReplaceAll(message, "write as in ", "write it as in ")
	message = inBrackets.ReplaceAllString(message, "$1")
	message = quotation.ReplaceAllStringFunc(message, func(m string) string {
		if inside, err := strconv.Unquote(m); err == nil {
			return printable(inside)
		}
		return strings.Trim(m, `"`)
	})
	return longKey.ReplaceAllStringFunc(message, func(key string) string { return labelOf(kind, key) })
}

// labelOf returns the label of a key of several words, in the middle of a sentence:
// of its own part, or of the first that has it. What is no such key stays as it is.
func labelOf(kind, key string) string {
	for _, k := range []string{kind, "specimen", "wood", "board", "cutting", "work", "adhesive", "", "labels"} {
		if i, ok := lookUp(k, key); ok {
			return "“" + i.label + "”"
		}
	}
	return key
}

// printable is a text with a space for each sign that cannot be seen.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return ' '
		}
		return r
	}, s)
}
