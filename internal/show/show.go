// Package show writes numbers as people read them, the same in figures, tables and
// sentences. What does not exist is a dash.
package show

import (
	"math"
	"strconv"
	"strings"

	"bondtrial"
	"bondtrial/internal/answer"
)

// None stands for a number that does not exist.
const None = "–"

// Strength is a strength in MPa written in the unit of u, without the unit: three
// significant digits from 10 MPa on, else one or two decimals; whole tens of psi
// from 100 psi on.
func Strength(u bondtrial.Units, v answer.Value) string {
	if !v.Exists() {
		return None
	}
	return InUnit(u, u.Stress(float64(v)))
}

// InUnit is Strength for a number that is in the unit of u already.
func InUnit(u bondtrial.Units, x float64) string {
	switch {
	case u == bondtrial.US && x >= 99.5:
		return fixed(10*math.Round(x/10), 0)
	case x >= 99.95:
		return fixed(x, 0)
	case x >= 0.995:
		return fixed(x, 1)
	}
	return fixed(x, 2)
}

// WithUnit is Strength with its unit.
func WithUnit(u bondtrial.Units, v answer.Value) string {
	if !v.Exists() {
		return None
	}
	return Strength(u, v) + " " + u.StressUnit()
}

// Ratio has two decimals, fewer where it is large, more where it is small.
func Ratio(v answer.Value) string {
	switch x := float64(v); {
	case !v.Exists():
		return None
	case x >= 99.95:
		return fixed(x, 0)
	case x >= 9.995:
		return fixed(x, 1)
	case x >= 0.0995:
		return fixed(x, 2)
	default:
		return strconv.FormatFloat(x, 'g', 2, 64)
	}
}

// Ends is an interval of ratios: "1.04–1.65", or "from 1.04" or "to 1.65" where
// one end does not exist.
func Ends(low, high answer.Value) string {
	switch {
	case !low.Exists() && !high.Exists():
		return None
	case !high.Exists():
		return "from " + Ratio(low)
	case !low.Exists():
		return "to " + Ratio(high)
	}
	return Ratio(low) + "–" + Ratio(high)
}

// Percent is a share as whole per cent.
func Percent(share float64) string { return fixed(100*share, 0) + " %" }

// Chance is a probability as whole per cent. Nothing that readings say is
// impossible or certain, so it is never 0 or 100 %.
func Chance(p answer.Value) string {
	switch {
	case !p.Exists():
		return None
	case p < 0.005:
		return "<1 %"
	case p >= 0.995:
		return ">99 %"
	}
	return Percent(min(max(float64(p), 0.01), 0.99))
}

// Trim writes a number without needless zeros.
func Trim(x float64) string { return strconv.FormatFloat(math.Round(x*1e6)/1e6, 'f', -1, 64) }

// List joins names as one says them.
func List(names []string) string {
	if n := len(names) - 1; n > 0 {
		return strings.Join(names[:n], ", ") + " and " + names[n]
	}
	return strings.Join(names, "")
}

// Count is a small number in words.
func Count(n int) string {
	words := [...]string{"none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}
	if n >= 0 && n < len(words) {
		return words[n]
	}
	return strconv.Itoa(n)
}

func fixed(x float64, places int) string { return strconv.FormatFloat(x, 'f', places, 64) }
