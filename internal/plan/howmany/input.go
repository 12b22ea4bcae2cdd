// Package howmany says how many specimens of each adhesive a trial needs, by
// simulated trials with the wood's limit, boards and bounds included.
//
// # What is simulated
//
// A trial has A adhesives on W woods under C combinations of further factors'
// levels, and n specimens in each of the A·W·C cells. Each specimen has a bond and
// the wood around it, with log strengths normal about typical values, and pieces of
// a board share a shift, as in package simulate; the weaker of the two ends the
// break, and where that is the wood the reading is a lower bound.
//
// One pair of adhesives is looked at, the probed pair. Each n is simulated twice:
// with the pair apart by the smallest ratio that matters, half of it (on the log
// scale) above and half below their expected middle, and with the pair alike, both
// at the middle. All others have the strengths the person expects. Where none are
// given all are taken to be equal: that is the design scenario.
//
// # How a trial is judged
//
// The engine, package answer, needs some tenths of a second for a trial. Here its
// model, with its priors, is approximated in about a thousandth:
//
//   - given the scatters, means and board shifts by expectation propagation, which is
//     exact where there are no bounds (Minka 2001; for Φ factors Rasmussen and
//     Williams 2006, section 3.6), with the third cumulants that bounds and learned
//     priors add;
//   - the adhesives' scatters by Laplace's approximation at each of a grid of spreads
//     between them, means above modes by third derivatives (Tierney and Kadane 1986);
//   - the boards' standard deviation by an average over five points;
//   - a comparison as a skewed Student t: its degrees of freedom are those at which a
//     scaled inverse χ² has the variance of log V, V the variance of the difference,
//     as in Satterthwaite (1946); a cell of bounds only on a grid, moved down by the
//     engine's bound against luck;
//   - the simultaneous factor from the studentized range or Dunnett's distribution for
//     equal numbers, or with all woods together from a product of such given the
//     scale, at the harmonic mean of the family's degrees of freedom.
//
// With one scatter, no bounds and no boards this is the classical analysis, to the
// accuracy of an interpolated table (1e-4 relative).
//
// # How well it agrees
//
// Measured against answer.Compare with 8,000 draws on 100 simulated trials a row, the last
// two rows 600, with boards except where it says otherwise (go test -run Agrees -v
// -measure 100 -draws 8000, go1.26.8 on linux/amd64). 6 adhesives on 2 woods where not stated; all pairs
// together. "Found" is the share of truly different pairs that are found the right
// way round, "width" the geometric mean of the simultaneous interval, upper end over
// lower.
//
//	                              bounds  verdicts   found  engine  width  engine
//	equal strengths, n 6             1 %    99.2 %  22.3 %  22.6 %  1.694   1.693
//	spread strengths, n 6           18 %    99.5 %  67.9 %  67.8 %  1.829   1.828
//	the same, bonds stronger        41 %    99.3 %  57.2 %  56.8 %  1.956   1.957
//	spread, n 4                     19 %    99.3 %  57.1 %  57.4 %  2.123   2.115
//	spread, n 3                     20 %    98.7 %  50.8 %  50.5 %  2.574   2.572
//	spread, n 2                     21 %    96.8 %  28.2 %  26.8 %  4.055   4.168
//	equal, n 12                      1 %    99.1 %  20.2 %  19.9 %  1.435   1.435
//	spread, with a control          18 %    99.3 %  86.0 %  85.5 %  1.652   1.662
//	spread, all woods together      18 %    99.4 %  63.9 %  64.1 %  1.941   1.941
//	spread, pooled scatter          18 %    99.3 %  69.9 %  69.6 %  1.786   1.791
//	spread, no boards               17 %    99.4 %  69.1 %  69.1 %  1.793   1.790
//	4 adhesives, 2 levels, n 4      13 %    99.2 %  80.8 %  80.2 %  1.766   1.769
//	3 adhesives, 1 wood, n 4        18 %    97.4 %  70.1 %  68.0 %  1.996   2.013
//	2 adhesives, 1 wood, n 6        18 %    99.2 %  85.0 %  84.8 %  1.461   1.475
//
// Two runs of the engine with 8,000 draws and different seeds give 0.6 % (spread) and
// 1.4 % (equal) of other verdicts themselves. So the chance is good to about a per
// cent point, but for two rows with little to go by, where it is too high: by a point
// and a half at n 2, by two points for 3 adhesives on one wood at n 4. Verdicts of
// "same" agree likewise (23.2 % and 23.2 % at n 12).
package howmany

import (
	"errors"
	"fmt"
	"math"
)

// Adhesive is what is expected of one adhesive.
type Adhesive struct {
	Name string

	// Relative is the expected typical strength over the trial's Level; 0 stands
	// for 1.
	Relative float64

	// SD is the standard deviation of log strength within a board; 0 stands for the
	// trial's.
	SD float64
}

// Wood is what is expected of one wood and what there is of it.
type Wood struct {
	Name     string
	Strength float64 // typical strength of the wood in the joint, MPa; +Inf: it never breaks
	SD       float64 // standard deviation of its log within a board; 0 stands for DefaultWoodSD

	// Boards is the number of boards, 0 where boards are not kept apart. PerBoard is
	// how many specimens one of them yields, 0 where that is no limit.
	Boards, PerBoard int
}

// Defaults, all common practice, no source.
const (
	DefaultSD      = 0.15 // scatter of a bond on the log scale
	DefaultWoodSD  = 0.15 // scatter of a wood on the log scale
	DefaultShare   = 0.6  // bond strength over that of the weakest wood where no level is given
	DefaultMargin  = 0.15 // answer's
	DefaultRatio   = 1.25
	DefaultTrials  = 2000
	DefaultMost    = 12
	DefaultLeast   = 2
	mostSpecimens  = 5000
	mostSimulation = 10_000_000
)

// Input is what a person expects and asks. Zero values stand for the defaults that
// the fields name.
type Input struct {
	Adhesives []Adhesive // two or more
	Woods     []Wood     // one or more

	// Combinations is the number of combinations of further factors' levels, each
	// with every adhesive on every wood; 0 stands for 1. Factors are taken to
	// change nothing.
	Combinations int

	// Level is the typical strength, MPa, of a bond with Relative 1, the same on
	// every wood. 0 stands for DefaultShare of the weakest wood's strength. It is
	// only needed where wood or rig can limit.
	Level float64

	SD       float64 // standard deviation of log strength within a board; 0 stands for DefaultSD
	BoardSD  float64 // standard deviation of the shift that pieces of a board share; of bonds and of the wood
	RigLimit float64 // strength at which the rig stops, MPa; 0: none

	Ratio  float64 // smallest ratio of typical strengths that matters, above 1; 0 stands for DefaultRatio
	Margin float64 // differences within ± this share count as the same; 0 stands for DefaultMargin

	// Pair names the probed pair. Empty: the first of the compared pairs whose
	// expected strengths are closest to each other.
	Pair [2]string

	Control       string // compare with this adhesive only; empty: all pairs
	AllWoods      bool   // intervals are simultaneous over all woods and combinations, not within each
	PooledScatter bool   // one scatter for all adhesives

	Least, Most int // specimens in each cell to try; 0 stands for DefaultLeast and DefaultMost
	Trials      int // simulated for each n, apart and alike each; 0 stands for DefaultTrials
	Seed        uint64

	// Progress, if set, is told how many of how many trials have been simulated. It
	// is called from one goroutine at a time.
	Progress func(done, of int) `json:"-"`
}

// filled returns the input with its defaults written out, or an error that names
// every fault.
func (in Input) filled() (Input, error) {
	or := func(x *float64, d float64) {
		if *x == 0 {
			*x = d
		}
	}
	orInt := func(x *int, d int) {
		if *x == 0 {
			*x = d
		}
	}
	in.Adhesives = append([]Adhesive(nil), in.Adhesives...)
	in.Woods = append([]Wood(nil), in.Woods...)
	or(&in.SD, DefaultSD)
	or(&in.Ratio, DefaultRatio)
	or(&in.Margin, DefaultMargin)
	orInt(&in.Combinations, 1)
	orInt(&in.Least, DefaultLeast)
	orInt(&in.Most, max(DefaultMost, in.Least))
	orInt(&in.Trials, DefaultTrials)
	for i := range in.Adhesives {
		or(&in.Adhesives[i].Relative, 1)
		or(&in.Adhesives[i].SD, in.SD)
	}
	weakest := math.Inf(1)
	for i := range in.Woods {
		or(&in.Woods[i].SD, DefaultWoodSD)
		weakest = min(weakest, in.Woods[i].Strength)
	}
	if in.Level == 0 {
		in.Level = DefaultShare * weakest
		if math.IsInf(weakest, 1) {
			in.Level = 1 // any will do
		}
	}
	if err := errors.Join(in.faults()...); err != nil {
		return in, fmt.Errorf("how many specimens: %w", err)
	}
	if in.Pair == [2]string{} {
		a, b := in.closest()
		in.Pair = [2]string{in.Adhesives[a].Name, in.Adhesives[b].Name}
	}
	return in, nil
}

func (in *Input) faults() (faults []error) {
	bad := func(format string, args ...any) { faults = append(faults, fmt.Errorf(format, args...)) }
	positive := func(x float64, what string, args ...any) {
		if !(x > 0) || math.IsInf(x, 1) {
			bad("%s is %g: give a number above 0", fmt.Sprintf(what, args...), x)
		}
	}
	scatter := func(x float64, what string, args ...any) {
		if !(x >= 0.005 && x <= 2) {
			bad("%s is %g: give a standard deviation of log strength from 0.005 to 2, such as 0.15 for some 15 %%", fmt.Sprintf(what, args...), x)
		}
	}
	if len(in.Adhesives) < 2 {
		bad("%d adhesives are too few to compare: name two or more", len(in.Adhesives))
	}
	if len(in.Woods) == 0 {
		bad("no wood is named: name one or more")
	}
	seen := make(map[string]bool)
	for _, a := range in.Adhesives {
		if a.Name == "" || seen[a.Name] {
			bad("adhesive %q is named twice or has no name: give each a name of its own", a.Name)
		}
		seen[a.Name] = true
		positive(a.Relative, "the relative strength of %s", a.Name)
		scatter(a.SD, "the scatter of %s", a.Name)
	}
	named := make(map[string]bool)
	for _, w := range in.Woods {
		if w.Name == "" || named[w.Name] {
			bad("wood %q is named twice or has no name: give each a name of its own", w.Name)
		}
		named[w.Name] = true
		if !(w.Strength > 0) {
			bad("the strength of %s in the joint is %g MPa: give it, or a handbook's shear strength", w.Name, w.Strength)
		}
		scatter(w.SD, "the scatter of %s", w.Name)
		if w.Boards < 0 || w.PerBoard < 0 {
			bad("%s has %d boards of %d specimens: give 0 or more", w.Name, w.Boards, w.PerBoard)
		}
	}
	positive(in.Level, "the strength level of the bonds")
	positive(in.Margin, "the margin")
	if !(in.Ratio > 1 && in.Ratio <= 10) {
		bad("the smallest ratio that matters is %g: give one above 1, such as 1.25, up to 10", in.Ratio)
	}
	if !(in.BoardSD >= 0 && in.BoardSD <= 2) {
		bad("the standard deviation between boards is %g: give one from 0 to 2", in.BoardSD)
	}
	if !(in.RigLimit >= 0) {
		bad("the rig's limit is %g MPa: give one above 0, or 0 for none", in.RigLimit)
	}
	faults = append(faults, in.sizeFaults()...)
	for _, name := range []string{in.Control, in.Pair[0], in.Pair[1]} {
		if name != "" && !seen[name] {
			bad("%q is not among the adhesives: correct the control or the pair", name)
		}
	}
	if in.Pair != [2]string{} && (in.Pair[0] == "" || in.Pair[1] == "" || in.Pair[0] == in.Pair[1] || in.Control != "" && in.Pair[0] != in.Control && in.Pair[1] != in.Control) {
		bad("%q and %q are not compared: name two adhesives, the control among them where there is one", in.Pair[0], in.Pair[1])
	}
	return faults
}

func (in *Input) sizeFaults() (faults []error) {
	bad := func(format string, args ...any) { faults = append(faults, fmt.Errorf(format, args...)) }
	if in.Combinations < 1 {
		bad("%d combinations of factor levels: give 1 or more", in.Combinations)
		return faults
	}
	if in.Least < 2 || in.Most < in.Least {
		bad("from %d to %d specimens in each cell: start at 2 or more and end no lower", in.Least, in.Most)
		return faults
	}
	if in.Trials < 10 || in.Trials > mostSimulation {
		bad("%d simulated trials: give 10 to %d", in.Trials, mostSimulation)
	}
	cells := len(in.Adhesives) * len(in.Woods) * in.Combinations
	if in.Most > mostSpecimens/max(cells, 1) {
		bad("%d specimens in each of %d cells are more than %d in all, by %d: try fewer", in.Most, cells, mostSpecimens, in.Most*cells-mostSpecimens)
	}
	return faults
}

// closest returns the compared pair whose expected strengths are closest.
func (in *Input) closest() (a, b int) {
	best := math.Inf(1)
	for i := range in.Adhesives {
		for j := i + 1; j < len(in.Adhesives); j++ {
			x, y := &in.Adhesives[i], &in.Adhesives[j]
			if in.Control != "" && x.Name != in.Control && y.Name != in.Control {
				continue
			}
			if d := math.Abs(math.Log(x.Relative / y.Relative)); d < best {
				best, a, b = d, i, j
			}
		}
	}
	return a, b
}

// index returns the place of an adhesive that is known to be there.
func (in *Input) index(name string) int {
	for i := range in.Adhesives {
		if in.Adhesives[i].Name == name {
			return i
		}
	}
	return -1
}
