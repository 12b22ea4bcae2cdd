package table

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"bondtrial/internal/handwritten"
)

const (
	mostCompared = 300 // names of a column; more are no trial by hand, and are not compared
	longestName  = 100 // bytes of a name that is compared
	mostAlike    = 10  // pairs of a column that are pointed out
)

// warnOfNames points out names of adhesives, woods and levels of factors that are
// nearly alike.
func (p *parser) warnOfNames(warn func(format string, args ...any)) {
	look := func(column string, s *spellings) {
		if len(s.first) > mostCompared {
			return
		}
		type apart struct {
			use
			parts
		}
		var names []apart
		for _, u := range s.first {
			if len(u.name) <= longestName {
				names = append(names, apart{u, takeApart(u.name)})
			}
		}
		slices.SortFunc(names, func(a, b apart) int { return a.line - b.line }) // one name a line
		found := 0
		for i, b := range names {
			for _, a := range names[:i] {
				if !a.nearly(b.parts) {
					continue
				}
				if found++; found <= mostAlike {
					warn("column %s: %s (line %d) and %s (line %d) are nearly alike and count as two: if they are one, write its name in one way",
						named(column), named(a.name), a.line, named(b.name), b.line)
				}
			}
		}
		if found > mostAlike {
			warn("column %s: %d more pairs of names are nearly alike", named(column), found-mostAlike)
		}
	}
	for _, r := range []role{adhesiveCol, woodCol} {
		if p.head.has(r) {
			look(p.head.names[p.head.at[r]], &p.spelled[r])
		}
	}
	for i, at := range p.head.factors {
		look(p.head.names[at], &p.levels[i])
	}
}

// nearly reports whether two names may be one that was written in two ways: with
// one slip in one word, or two in a long one; accents, gaps and punctuation do
// not count. Names with different numbers, or with another letter at the end
// (Mix 1 and Mix 2, Tarn A and Tarn B, Tarn and Tarn B), are those of different
// things.
func (x parts) nearly(y parts) bool {
	if !slices.Equal(x.numbers, y.numbers) || x.letter != y.letter {
		return false
	}
	last := x.letter == "" && len(x.numbers) == 0
	joinedX, joinedY := strings.Join(x.words, ""), strings.Join(y.words, "")
	if joinedX == joinedY {
		return joinedX != ""
	}
	if len(x.words) != len(y.words) {
		return closeWords(joinedX, joinedY, last)
	}
	differ := 0
	for i, w := range x.words {
		if w == y.words[i] {
			continue
		}
		if differ++; differ > 1 || !closeWords(w, y.words[i], last && i == len(x.words)-1) {
			return false
		}
	}
	return true
}

// closeWords reports whether one word may be the other with a slip of the pen.
// Slips at the first letter are rare, and a last one may be there to tell two
// things apart.
func closeWords(a, b string, last bool) bool {
	if len(a) > len(b) {
		a, b = b, a
	}
	if a == "" || a[0] != b[0] || last && (b[:len(b)-1] == a || b[:len(b)-1] == a[:len(a)-1]) {
		return false
	}
	switch handwritten.Distance(a, b, 2) {
	case 1:
		return len(b) >= 5 || len(b) == 4 && sortedLetters(a) == sortedLetters(b)
	case 2:
		return len(b) >= 10
	}
	return false
}

func sortedLetters(s string) string {
	b := []byte(s)
	slices.Sort(b)
	return string(b)
}

// parts is a name taken apart: its words in small letters without accents, its
// numbers and symbols like +, and a single letter that stands last.
type parts struct {
	words, numbers []string
	letter         string
}

func takeApart(name string) parts {
	const gap, letter, digit = 0, 1, 2
	var p parts
	was, small := gap, false
	for _, r := range norm.NFD.String(name) {
		switch {
		case unicode.Is(unicode.Mn, r), unicode.Is(unicode.Cf, r):
		case unicode.IsDigit(r):
			if was != digit {
				p.numbers = append(p.numbers, "")
			}
			p.numbers[len(p.numbers)-1] += string(r)
			was = digit
		case unicode.IsLetter(r):
			if was != letter || small && unicode.IsUpper(r) {
				p.words = append(p.words, "")
			}
			p.words[len(p.words)-1] += string(unicode.ToLower(r))
			was, small = letter, unicode.IsLower(r)
		case unicode.IsSymbol(r):
			p.numbers = append(p.numbers, string(r))
			was = gap
		default:
			was = gap
		}
	}
	if n := len(p.words); n > 0 && utf8.RuneCountInString(p.words[n-1]) == 1 {
		p.words, p.letter = p.words[:n-1], p.words[n-1]
	}
	return p
}
