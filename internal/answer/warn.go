package answer

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"bondtrial"
)

// Limits of the sampler's own diagnosis (Vehtari et al. 2021 advise 1.01 for
// R-hat; an effective size of 2 000 puts an end of a 95 % interval within about
// 3 % of its half-length).
const (
	mostRHat = 1.01
	leastESS = 2000
)

// warn lists what a reader should know before trusting the answer.
func (a *Answer) warn() []string {
	var w []string
	add := func(format string, args ...any) { w = append(w, fmt.Sprintf(format, args...)) }
	for _, o := range a.Outliers {
		r := &a.Readings[o.Reading]
		add("Specimen %s (%s)%s reads %s times the middle of the others like it: is the point in its place, and the unit right? It is counted like the others.",
			r.Code, whatOf(r), onLine(r), times(o.Ratio))
	}
	a.warnRecords(add)
	var leaning []string
	for _, c := range a.Best {
		where := c.Condition.String()
		if c.Leans && !slices.Contains(leaning, where) {
			leaning = append(leaning, where)
		}
	}
	if len(leaning) > 0 {
		add("On %s an adhesive is only \"at least\" so strong: the chance of being the strongest there leans on what is assumed of it, not on breaks.",
			strings.Join(leaning, " and on "))
	}
	for _, l := range a.WoodLimits {
		if l.Flag != "" {
			add("%s", l.Flag)
		}
	}
	for _, d := range a.Drifts {
		if d.Flag {
			add("Strength changes along the order of %s: the last is %.2f times the first (%.2f to %.2f). If that is not chance, one in 20, something else than the adhesive changed meanwhile.",
				d.Order, float64(d.Ratio), float64(d.Low), float64(d.High))
		}
	}
	if a.Fit.MaxRHat > mostRHat || a.Fit.MinESS < leastESS {
		add("The sampling is rough (R-hat %.3f, effective size %.0f): repeat it with more draws (--draws, or Draws under Settings).", a.Fit.MaxRHat, a.Fit.MinESS)
	}
	return w
}

// whatOf names what a reading is of: "Tarn on ash".
func whatOf(r *bondtrial.Reading) string {
	if r.Wood == "" {
		return r.Adhesive
	}
	return r.Adhesive + " on " + r.Wood
}

// onLine says where in its table a reading stands.
func onLine(r *bondtrial.Reading) string {
	if r.Line == 0 {
		return ""
	}
	return fmt.Sprintf(", line %d of the table,", r.Line)
}

// times writes a factor with two digits.
func times(x float64) string {
	if x >= 10 {
		return strconv.FormatFloat(x, 'f', 0, 64)
	}
	return strconv.FormatFloat(x, 'g', 2, 64)
}

// warnRecords names what the readings do not record and what that costs.
func (a *Answer) warnRecords(add func(string, ...any)) {
	var wood, board, faces bool
	few := 0
	for _, r := range a.Readings {
		wood = wood || r.Wood != ""
		board = board || r.Board != ""
		faces = faces || r.Failure != "" || !math.IsNaN(float64(r.WoodFailure))
	}
	for k := range a.Cells {
		if a.Cells[k].N < 10 {
			few++
		}
	}
	if !faces {
		add("Nothing says how the specimens failed: every reading is taken as the strength of the bond. Where the wood broke first, the bond is stronger than it looks here.")
	}
	if !wood {
		add("No wood is named: all readings are taken to be on one wood.")
	}
	if !board {
		add("No boards are named: if pieces came from different boards, differences between boards hide in the scatter, and adhesives that happened to share a good board look better than they are.")
	}
	if few > 0 {
		where := "everywhere"
		if few < len(a.Cells) {
			where = fmt.Sprintf("in %d of %d places", few, len(a.Cells))
		}
		add("5th percentiles are rough with fewer than 10 specimens of an adhesive on one wood and condition, as here %s.", where)
	}
	if len(a.Cells) > 0 && a.oneAdhesive() {
		add("There is one adhesive only, so there is nothing to compare it with.")
	}
}

func (a *Answer) oneAdhesive() bool {
	for k := range a.Cells {
		if a.Cells[k].Adhesive != a.Cells[0].Adhesive {
			return false
		}
	}
	return true
}
