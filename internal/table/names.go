package table

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Name returns a name as Read keeps it: composed letters, single spaces inside and
// none around it.
func Name(s string) string { return cleaned(s) }

// cleaned returns a name without space around it, with single spaces inside and
// composed letters.
func cleaned(s string) string {
	plain := true
	space := true // so that a leading space counts as doubled
	for i := range len(s) {
		c := s[i]
		if c >= utf8.RuneSelf || c < ' ' || c == ' ' && space {
			plain = false
			break
		}
		space = c == ' '
	}
	if plain && !space || s == "" {
		return s
	}
	return strings.Join(strings.Fields(norm.NFC.String(s)), " ")
}

// Spelling returns what the spellings of one name have in common. Read refuses a
// column in which two names that differ have the same.
func Spelling(name string) string { return folded(cleaned(name)) }

// folded returns what two spellings of one name have in common: case, spaces,
// hyphens, underscores and invisible characters are left out. Digits that a gap
// separates stay apart, so that "1-2" is not "12".
func folded(name string) string {
	var b strings.Builder
	gap, digit := false, false
	for _, r := range strings.ToLower(name) {
		switch {
		case unicode.IsSpace(r), r == '-', r == '_', unicode.Is(unicode.Pd, r):
			gap = true
			continue
		case unicode.Is(unicode.Cf, r):
			continue
		}
		if gap && digit && unicode.IsDigit(r) {
			b.WriteByte(' ')
		}
		gap, digit = false, unicode.IsDigit(r)
		b.WriteRune(r)
	}
	if b.Len() == 0 {
		return name
	}
	return b.String()
}

// An interner keeps one copy of each string that is often repeated, cut loose
// from the text of the file.
type interner map[string]string

const mostInterned = 1 << 14 // distinct strings; beyond it each one is copied

func (in interner) keep(s string) string {
	if s == "" {
		return ""
	}
	if k, ok := in[s]; ok {
		return k
	}
	k := strings.Clone(s)
	if len(in) < mostInterned {
		in[k] = k
	}
	return k
}

// spellings finds names of one column that differ only in case or spacing.
type spellings struct {
	exact map[scoped]bool
	first map[scoped]use
}

// scoped is a name within a scope: a board within its wood, others in "".
type scoped struct{ scope, name string }

type use struct {
	name string
	line int
}

// note records a use of a name and returns the earlier spelling that it clashes
// with. Each further spelling is returned once, at its first use.
func (s *spellings) note(scope, name string, line int) (earlier use, clash bool) {
	key := scoped{scope, name}
	if s.exact[key] {
		return use{}, false
	}
	if s.exact == nil {
		s.exact, s.first = map[scoped]bool{}, map[scoped]use{}
	}
	s.exact[key] = true
	key.name = folded(name)
	if earlier, ok := s.first[key]; ok {
		return earlier, true
	}
	s.first[key] = use{name, line}
	return use{}, false
}
