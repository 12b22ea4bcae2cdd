// Package budget propagates standard uncertainties through a measurement model by
// the first order (JCGM 100:2008, the GUM), shows each contribution, and holds the
// result against a Monte Carlo propagation of distributions (JCGM 101:2008).
//
// # Model
//
// A result y = f(x₁ … xₙ) of independent inputs, each with a standard uncertainty
// uᵢ, has
//
//	u² = Σ (cᵢ uᵢ)²,   cᵢ = ∂f/∂xᵢ                    JCGM 100, equation (10)
//	νeff = u⁴ / Σ ((cᵢ uᵢ)⁴/νᵢ)                       JCGM 100, equation (G.2b)
//	U = t(νeff) u                                     JCGM 100, annex G.4
//
// where νeff is cut down to a whole number before the quantile of Student's t is
// taken (JCGM 100, G.4.1). The clauses are cited from memory; the tests hold the
// package against the worked example H.1.
package budget

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Distribution says how the possible values of an input lie about its estimate.
type Distribution string

const (
	Normal      Distribution = "normal"      // scatter, or a figure from elsewhere
	Rectangular Distribution = "rectangular" // anywhere within a half-width, u = a/√3
	Triangular  Distribution = "triangular"  // difference of two equal rectangular ones, u = a/√6
	ArcSine     Distribution = "arc sine"    // swings between two limits, u = a/√2
)

// Coverage is the level of confidence of expanded uncertainties, 95 %.
const Coverage = 0.95

// Input is one quantity that a result depends on.
type Input struct {
	Name   string       `json:"name"`
	Value  float64      `json:"value"`
	Unit   string       `json:"unit"`
	U      float64      `json:"u"` // standard uncertainty in Unit
	Dist   Distribution `json:"distribution"`
	DF     float64      `json:"df,omitempty"`     // degrees of freedom of U; 0: not limited
	Shared bool         `json:"shared,omitempty"` // one and the same error in all readings of a rig: it drops out of their ratios
}

// Within is an input known to lie within a half-width of its value.
//
// It panics on a half-width that is negative or not finite, or a distribution that
// has none.
func Within(name string, value float64, unit string, halfWidth float64, d Distribution) Input {
	by := map[Distribution]float64{Rectangular: 3, Triangular: 6, ArcSine: 2}[d]
	if by == 0 {
		panic("budget: a distribution without a half-width")
	}
	if !(halfWidth >= 0) || math.IsInf(halfWidth, 0) {
		panic("budget: a half-width is negative or not finite")
	}
	return Input{Name: name, Value: value, Unit: unit, U: halfWidth / math.Sqrt(by), Dist: d}
}

// Row is one line of a budget.
type Row struct {
	Input
	Sensitivity  float64 `json:"sensitivity"`  // change of the result for a unit of the input
	Contribution float64 `json:"contribution"` // |Sensitivity|·U, in the result's unit
	Share        float64 `json:"share"`        // of the combined variance, 0 to 1; 0 where that is 0
}

// Budget is a result with its uncertainty and where that comes from.
type Budget struct {
	Name     string  `json:"name"`
	Value    float64 `json:"value"`
	Unit     string  `json:"unit"`
	U        float64 `json:"u"`            // combined standard uncertainty
	DF       float64 `json:"df,omitempty"` // effective degrees of freedom, before they are cut down; 0: not limited
	Level    float64 `json:"level"`        // of confidence of Expanded, as 0.95
	K        float64 `json:"k"`            // coverage factor
	Expanded float64 `json:"expanded"`     // K·U
	SharedU  float64 `json:"shared_u"`     // the part of U that all readings of the rig have in common
	OwnU     float64 `json:"own_u"`        // the part that is new with every reading
	Rows     []Row   `json:"rows"`
}

// Combine builds the budget of a result with the given value and the sensitivities
// to its inputs, expanded at a level of confidence such as Coverage.
//
// It panics on lengths that differ, a level outside 0 to 1, a negative uncertainty,
// degrees of freedom below 1 other than 0, and on anything that is not finite.
func Combine(name, unit string, value float64, inputs []Input, sensitivity []float64, level float64) Budget {
	if len(inputs) != len(sensitivity) {
		panic("budget: as many sensitivities as inputs are needed")
	}
	if !(level > 0 && level < 1) {
		panic("budget: the level of confidence is not between 0 and 1")
	}
	b := Budget{Name: name, Unit: unit, Value: value, Level: level}
	finite(value)
	for i, in := range inputs {
		if in.U < 0 || in.DF < 1 && in.DF != 0 {
			panic("budget: an input with a negative uncertainty or less than one degree of freedom")
		}
		finite(in.Value, in.U, in.DF, sensitivity[i])
		r := Row{Input: in, Sensitivity: sensitivity[i], Contribution: math.Abs(sensitivity[i]) * in.U}
		b.U = math.Hypot(b.U, r.Contribution)
		if in.Shared {
			b.SharedU = math.Hypot(b.SharedU, r.Contribution)
		} else {
			b.OwnU = math.Hypot(b.OwnU, r.Contribution)
		}
		b.Rows = append(b.Rows, r)
	}
	limited := 0.0 // 1/νeff
	for i := range b.Rows {
		r := &b.Rows[i]
		if b.U == 0 {
			continue
		}
		r.Share = (r.Contribution / b.U) * (r.Contribution / b.U)
		if r.DF > 0 {
			limited += r.Share * r.Share / r.DF
		}
	}
	if limited > 0 {
		b.DF = 1 / limited
	}
	b.K = Factor(b.DF, level)
	b.Expanded = b.K * b.U
	return b
}

func finite(values ...float64) {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			panic("budget: a value, uncertainty, sensitivity or degree of freedom is not finite")
		}
	}
}

// manyDF is where Student's t and the normal distribution have the same quantiles
// to 6 digits.
const manyDF = 1e7

// Factor returns the coverage factor of a level of confidence: the two-sided
// quantile of Student's t with df degrees of freedom, cut down to a whole number;
// of the normal distribution where df is 0, which stands for no limit.
//
// It panics on df below 1 other than 0 and a level outside 0 to 1.
func Factor(df, level float64) float64 {
	if !(level > 0 && level < 1) || !(df >= 1) && df != 0 {
		panic("budget: a coverage factor needs a level between 0 and 1 and one degree of freedom or more")
	}
	p := (1 - level) / 2
	if df == 0 || df > manyDF {
		return -distuv.UnitNormal.Quantile(p)
	}
	// Rounding may put a df of 16 at 15.999…
	return -distuv.StudentsT{Mu: 0, Sigma: 1, Nu: math.Floor(df * (1 + 1e-12))}.Quantile(p)
}

// Largest returns the rows by their share, the largest first.
func (b Budget) Largest() []Row {
	rows := slices.Clone(b.Rows)
	slices.SortStableFunc(rows, func(x, y Row) int {
		switch {
		case x.Contribution > y.Contribution:
			return -1
		case x.Contribution < y.Contribution:
			return 1
		}
		return 0
	})
	return rows
}

// String says the result with its expanded uncertainty, and what contributes most.
func (b Budget) String() string {
	var s strings.Builder
	fmt.Fprintf(&s, "%s %s %s ± %s %s (%.4g %%, k = %.2f", b.Name, places(b.Value, b.Expanded), b.Unit, places(b.Expanded, b.Expanded), b.Unit, 100*b.Level, b.K)
	if b.DF > 0 {
		fmt.Fprintf(&s, ", %.0f degrees of freedom", math.Floor(b.DF*(1+1e-12)))
	}
	s.WriteString(")")
	for i, r := range b.Largest() {
		if i == 3 || r.Share < 0.05 {
			break
		}
		s.WriteString([]string{"; mostly ", ", ", ", "}[i])
		fmt.Fprintf(&s, "%s (%.0f %%)", r.Name, 100*r.Share)
	}
	return s.String()
}

// places writes v with the decimals that give u two digits.
func places(v, u float64) string {
	n := 3
	if u > 0 {
		n = min(max(1-int(math.Floor(math.Log10(u))), 0), 12)
	}
	return fmt.Sprintf("%.*f", n, v)
}
