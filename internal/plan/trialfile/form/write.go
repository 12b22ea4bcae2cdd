package form

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// TOML returns the form as a trial file, which trialfile.Read takes if the form is
// right. Blank fields and blank rows are left out. A value that is not of the kind
// of its key, such as a word for a number, is written as a text, so that the file
// is proper TOML whatever was typed. Bytes that are not UTF-8 become U+FFFD.
func (f *Form) TOML() []byte {
	w := f.write()
	return w.out.Bytes()
}

// place is what stands on a line of the file that was written.
type place struct {
	part  string
	field string // empty for the header of a part
}

type writer struct {
	form   *Form
	all    []section // of the form, also those that are not written
	out    bytes.Buffer
	places []place         // by line, from 1
	parts  map[string]bool // those that are written
}

// at returns what stands on a line; nothing for a line that is not there.
func (w *writer) at(line int) place {
	if line < 1 || line >= len(w.places) {
		return place{}
	}
	return w.places[line]
}

// put writes whole lines and notes what stands on each.
func (w *writer) put(p place, text string) {
	w.out.WriteString(text)
	w.out.WriteByte('\n')
	for range 1 + strings.Count(text, "\n") {
		w.places = append(w.places, p)
	}
}

// required are the parts that are written even if nothing is in them, so that what
// is missing is found field by field.
var required = []string{"", "specimen", "work"}

func (f *Form) write() *writer {
	w := &writer{form: f, all: f.sections(), places: make([]place, 1), parts: map[string]bool{}}
	mentioned := map[string]bool{}
	for _, u := range f.Unknown {
		mentioned[u.Part] = true
	}
	for _, s := range w.all {
		w.parts[s.name] = !s.blank() || mentioned[s.name] || slices.Contains(required, s.name)
	}
	for _, s := range w.all {
		if !w.parts[s.name] {
			continue
		}
		if s.name != "" {
			w.put(place{part: s.name}, "\n"+header(s))
		}
		taken := w.section(s)
		w.unknown(s, taken)
	}
	return w
}

func header(s section) string {
	switch {
	case s.name != s.kind && s.kind != "hours":
		return "[[" + s.kind + "]]"
	default:
		return "[" + s.name + "]"
	}
}

// section writes the keys of a part and returns those that there are now.
func (w *writer) section(s section) (taken map[string]bool) {
	taken = map[string]bool{}
	for _, c := range s.slots {
		if strings.TrimSpace(*c.to) == "" {
			continue
		}
		p := place{s.name, fieldName(s.name, c.key)}
		switch {
		case strings.HasPrefix(c.key, "levels."):
			if !taken["levels"] {
				p.field = fieldName(s.name, "levels")
				w.put(p, fmt.Sprintf("levels = [%s, %s]", quoted(s.text("levels.0")), quoted(s.text("levels.1"))))
				taken["levels"] = true
			}
			continue
		case kindOf(s.kind, c.key) == Lines:
			w.put(p, c.key+" = [")
			for line := range strings.SplitSeq(*c.to, "\n") {
				if line = strings.TrimSpace(line); line != "" {
					w.put(p, "  "+dateOrText(line)+",")
				}
			}
			w.put(p, "]")
		default:
			w.put(p, c.key+" = "+written(kindOf(s.kind, c.key), *c.to))
		}
		taken[c.key] = true
	}
	return taken
}

var bareKey = regexp.MustCompile(`^[A-Za-z0-9_-]+$`)

// unknown writes what a part holds under unknown keys, and at the top what belongs
// to no part that is written. It leaves out what would make the file no TOML.
func (w *writer) unknown(s section, taken map[string]bool) {
	for i, u := range w.form.Unknown {
		key := u.Key
		switch {
		case strings.TrimSpace(u.Value) == "" || key == "":
			continue
		case s.name == "" && !w.parts[u.Part]:
			key = u.Part + "." + key
		case u.Part != s.name:
			continue
		}
		key = strings.ToValidUTF8(key, "\ufffd")
		if taken[key] || w.isSection(s.name, key) {
			continue
		}
		taken[key] = true
		if !bareKey.MatchString(key) {
			key = quoted(key)
		}
		w.put(place{s.name, rowName(unknownKind, i) + ".value"}, key+" = "+quoted(u.Value))
	}
}

// isSection reports whether a key of a part is the name of parts that are written.
func (w *writer) isSection(part, key string) bool {
	if part == "work" {
		return key == "hours" && w.parts["work.hours"]
	}
	if part != "" {
		return false
	}
	return w.parts[key] && !strings.Contains(key, ".") || mostOf(key) > 0 && w.hasRows(key)
}

func (w *writer) hasRows(kind string) bool {
	for i := range w.form.rows(kind).count() {
		if w.parts[rowName(kind, i)] {
			return true
		}
	}
	return false
}

// written returns a value as the file writes one of its kind.
func written(k Kind, value string) string {
	plain := strings.TrimSpace(value)
	switch {
	case k.numeric() && isNumber(plain),
		k == YesNo && (plain == "true" || plain == "false"):
		return plain
	case k.numeric() || k == YesNo:
		return quoted(plain)
	case k == Day:
		return dateOrText(value)
	case k == LongText && strings.Contains(plain, "\n"):
		return "\"\"\"\n" + escaped(value, true) + "\"\"\""
	}
	return quoted(value)
}

// The numbers of TOML 1.0, infinity and NaN excepted.
var tomlNumber = regexp.MustCompile(`^(?:[+-]?(?:0|[1-9](?:_?[0-9])*)(?:\.[0-9](?:_?[0-9])*)?(?:[eE][+-]?[0-9](?:_?[0-9])*)?` +
	`|0x[0-9A-Fa-f](?:_?[0-9A-Fa-f])*|0o[0-7](?:_?[0-7])*|0b[01](?:_?[01])*)$`)

// isNumber reports whether a text is a number that TOML knows and that is not too
// large to be kept.
func isNumber(s string) bool {
	if !tomlNumber.MatchString(s) {
		return false
	}
	if strings.HasPrefix(s, "0x") || !strings.ContainsAny(s, ".eE") {
		_, err := strconv.ParseInt(s, 0, 64)
		return err == nil
	}
	_, err := strconv.ParseFloat(strings.ReplaceAll(s, "_", ""), 64)
	return err == nil
}

// dateOrText writes a day that there is without quotation marks.
func dateOrText(value string) string {
	plain := strings.TrimSpace(value)
	if day, err := time.Parse(time.DateOnly, plain); err == nil && day.Year() >= 1000 {
		return plain
	}
	return quoted(value)
}

func quoted(s string) string { return `"` + escaped(s, false) + `"` }

// escaped writes a text so that it can stand between quotation marks, with what
// cannot be seen as an escape. The joiner within emoji stays as it is.
func escaped(s string, lines bool) string {
	var b strings.Builder
	for _, r := range strings.ToValidUTF8(s, "\ufffd") {
		switch {
		case r == '"' || r == '\\':
			b.WriteRune('\\')
			b.WriteRune(r)
		case r == '\n' && lines:
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r == '\r':
			b.WriteString(`\r`)
		case unicode.IsPrint(r) || r == '\u200d':
			b.WriteRune(r)
		case r > 0xffff:
			fmt.Fprintf(&b, `\U%08X`, r)
		default:
			fmt.Fprintf(&b, `\u%04X`, r)
		}
	}
	return b.String()
}
