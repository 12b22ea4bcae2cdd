package answer

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// String names the condition for a table or a title: the wood and the levels of the
// factors, in the order of the factors' names, each as Level has it.
func (c Condition) String() string { return c.words(": ") }

// Spoken names the condition for a place before a colon: "pine, gap none".
func (c Condition) Spoken() string { return c.words(" ") }

func (c Condition) words(between string) string {
	names := make([]string, 0, len(c.Factors))
	for name := range c.Factors {
		names = append(names, name)
	}
	slices.Sort(names)
	var parts []string
	if c.Wood != "" {
		parts = append(parts, c.Wood)
	}
	for _, name := range names {
		parts = append(parts, level(name, between, c.Factors[name]))
	}
	if len(parts) == 0 {
		return "the wood"
	}
	return strings.Join(parts, ", ")
}

// Level names a level of a factor: "damp", but "gap: none" and "gap: 0.3 mm", which
// say nothing without the factor's name.
func Level(factor, name string) string { return level(factor, ": ", name) }

func level(factor, between, name string) string {
	if name == "" || SpeaksAlone(name) {
		return name
	}
	return factor + between + name
}

// silent are levels that many factors may have.
var silent = []string{
	"none", "yes", "no", "with", "without", "on", "off", "low", "medium", "high", "little", "much", "few", "many",
	"small", "large", "short", "long", "thin", "thick",
}

// SpeaksAlone reports whether the name of a level says what is meant without its
// factor: not so a number, one or two letters, or a word such as none or high.
func SpeaksAlone(name string) bool {
	number := strings.TrimLeft(name, "+-−<>≤≥±~. ")
	digit := number != "" && number[0] >= '0' && number[0] <= '9'
	return !digit && utf8.RuneCountInString(name) > 2 && !slices.Contains(silent, strings.ToLower(name))
}
