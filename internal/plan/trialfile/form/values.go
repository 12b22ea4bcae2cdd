package form

import (
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// FromValues takes a form that was sent. Of a name that is there more than once the
// first value counts; names that are not a form's are passed over. Space around a
// value goes, line breaks become LF, and bytes that are not UTF-8 become U+FFFD.
//
// Rows may be numbered with gaps; blank ones are dropped and the others keep their
// order. Of more rows than a trial may have the first are kept, and [Form.Check]
// says how many were not.
func FromValues(v url.Values) *Form {
	f := &Form{}
	numbered := map[string]map[int]map[string]string{} // by kind, number and key
	for name, values := range v {
		if len(values) == 0 {
			continue
		}
		text := sent(values[0])
		if text == "" {
			continue
		}
		if kind, number, key, ok := rowField(name); ok {
			row(numbered, kind, number)[key] = text
		}
	}
	// A row that an unknown key stood in stays, so that the key stays in it.
	for _, u := range numbered[unknownKind] {
		kind, number, ok := rowNumber(u["part"])
		if ok && kind != unknownKind && u["key"] != "" && u["value"] != "" {
			row(numbered, kind, number)
		}
	}
	now := map[string]string{} // names of rows, by those that were sent
	for _, k := range rowKinds {
		f.take(k.kind, numbered[k.kind], now)
	}
	for _, s := range f.sections() {
		if f.rows(s.kind) != nil {
			continue
		}
		for _, c := range s.slots {
			*c.to = plainComma(s.kind, c.key, sent(v.Get(fieldName(s.name, c.key))))
		}
	}
	for i := range f.Unknown {
		u := &f.Unknown[i]
		if name, ok := now[u.Part]; ok {
			u.Part = name
		}
	}
	f.Unknown = slices.DeleteFunc(f.Unknown, func(u Unknown) bool { return u.Key == "" || u.Value == "" })
	if len(f.Unknown) == 0 {
		f.Unknown = nil
	}
	f.sortUnknown()
	return f
}

// sortUnknown puts unknown keys in the order of their parts.
func (f *Form) sortUnknown() {
	slices.SortStableFunc(f.Unknown, func(a, b Unknown) int { return strings.Compare(a.Part, b.Part) })
}

func row(numbered map[string]map[int]map[string]string, kind string, number int) map[string]string {
	if numbered[kind] == nil {
		numbered[kind] = map[int]map[string]string{}
	}
	if numbered[kind][number] == nil {
		numbered[kind][number] = map[string]string{}
	}
	return numbered[kind][number]
}

// take makes rows of those that were sent, in the order of their numbers.
func (f *Form) take(kind string, sent map[int]map[string]string, now map[string]string) {
	numbers := make([]int, 0, len(sent))
	for n := range sent {
		numbers = append(numbers, n)
	}
	slices.Sort(numbers)
	r := f.rows(kind)
	for _, n := range numbers {
		if !f.grow(kind) {
			continue
		}
		i := r.count() - 1
		now[rowName(kind, n)] = rowName(kind, i)
		for _, c := range r.at(i) {
			*c.to = plainComma(kind, c.key, sent[n][c.key])
		}
	}
}

// decimalComma matches a number with one comma, alone or before its unit.
var decimalComma = regexp.MustCompile(`^([-+]?[0-9]+),([0-9]+)(\s*[^0-9.,'’\s][^0-9]*)?$`)

// thousands matches a number whose comma may divide thousands.
var thousands = regexp.MustCompile(`^[-+]?[1-9][0-9]{0,2},[0-9]{3}($|[^0-9])`)

// withUnit are the texts that are a number and its unit.
var withUnit = []string{"strength", "price", "content"}

// plainComma writes a number with a decimal comma with a point, where the comma
// cannot mean anything else.
func plainComma(kind, key, value string) string {
	switch k := kindOf(kind, key); {
	case k != Number && k != Inches && !slices.Contains(withUnit, key), thousands.MatchString(value):
		return value
	}
	return decimalComma.ReplaceAllString(value, "$1.$2$3")
}

// sent is a value without space around it, with line breaks of LF alone.
func sent(s string) string {
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
	return strings.TrimSpace(strings.ToValidUTF8(s, "\ufffd"))
}

// rowField takes the name of a field of a row apart; ok is false where it is none.
func rowField(name string) (kind string, number int, key string, ok bool) {
	kind, rest, _ := strings.Cut(name, ".")
	digits, key, _ := strings.Cut(rest, ".")
	kind, number, ok = rowNumber(kind + "." + digits)
	if !ok {
		return "", 0, "", false
	}
	_, ok = lookUp(kind, key)
	return kind, number, key, ok
}

// rowNumber takes the name of a row apart; ok is false where it is none.
func rowNumber(name string) (kind string, number int, ok bool) {
	kind, digits, _ := strings.Cut(name, ".")
	number, err := strconv.Atoi(digits)
	if mostOf(kind) == 0 || err != nil || number < 0 || strconv.Itoa(number) != digits {
		return "", 0, false
	}
	return kind, number, true
}
