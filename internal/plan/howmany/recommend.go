package howmany

import (
	"context"
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Targets are the chances that advice is given for (common practice, no source).
var Targets = []float64{0.80, 0.90}

// Reason says why no n that was tried reaches a target.
type Reason string

const (
	Reached       Reason = ""
	WoodLimits    Reason = "wood-limits"    // it would be reached if nothing but bonds broke
	ScatterLimits Reason = "scatter-limits" // bonds scatter too much for the ratio
	BothLimit     Reason = "both-limit"     // not reached without the wood's limit either, which takes a good part
	TooFewTried   Reason = "too-few-tried"  // a few more specimens would be expected to do
)

const (
	costsMuch = 0.05 // a part of the chance that is worth naming
	fewMore   = 3    // times the largest n that was tried: a few more
)

// WoodAdvice is the least n for one wood, 0 where none that was tried reaches the
// target.
type WoodAdvice struct {
	Wood string
	N    int
}

// Advice is what to do for one target. The chance is that of the wood where it is
// least, at N, or where that is 0 at the largest n that was tried.
type Advice struct {
	Target    float64
	N         int // least n tried that reaches the target on every wood; 0: none
	Specimens int // in all at N; 0: none
	Wood      string
	Chance    Estimate
	Woods     []WoodAdvice

	// Sure is false where the chance at N, or at the n before it, is within two
	// standard errors of the target: more simulated trials could move N.
	Sure bool

	Reason Reason

	// Unlimited is the chance at the largest n if nothing but bonds broke; NaN where
	// it was not needed.
	Unlimited Estimate

	// RoughN and RoughRatio are what would about do where none that was tried does:
	// so many specimens, or so large a ratio with the largest n that was tried,
	// extrapolated by the noncentral t. 0 where the wood is in the way or the chance
	// too small to tell.
	RoughN     int
	RoughRatio float64

	// Short has a line for each wood of which boards are missing at N, or at the
	// largest n.
	Short []string

	Text string // one or more sentences
}

// advise finds the least n for each target. Where there is none the largest is
// simulated once more with a wood that does not break.
func (in *Input) advise(ctx context.Context, points []Point) ([]Advice, error) {
	last := &points[len(points)-1]
	var unlimited *Point
	var out []Advice
	for _, target := range Targets {
		a := Advice{Target: target, Unlimited: Estimate{math.NaN(), math.NaN()}}
		for w := range in.Woods {
			wa := WoodAdvice{Wood: in.Woods[w].Name}
			for i := range points {
				if points[i].Woods[w].Found.Mean >= target {
					wa.N = points[i].N
					break
				}
			}
			a.Woods = append(a.Woods, wa)
		}
		at := last
		for i := range points {
			if points[i].Found().Found.Mean >= target {
				at = &points[i]
				a.N, a.Specimens = at.N, at.Specimens
				a.Sure = !a.near(at) && (i == 0 || !a.near(&points[i-1]))
				break
			}
		}
		worst := at.Found()
		a.Wood, a.Chance = worst.Wood, worst.Found
		a.Short = in.short(at)
		if a.N == 0 {
			if unlimited == nil {
				var err error
				if unlimited, err = in.withoutLimit(ctx, last.N); err != nil {
					return nil, err
				}
			}
			a.explain(in, last.N, unlimited.Found().Found)
		}
		a.Text = a.text(in, at)
		out = append(out, a)
	}
	return out, nil
}

func (a *Advice) near(p *Point) bool {
	f := p.Found().Found
	return math.Abs(f.Mean-a.Target) < 2*f.SE
}

// withoutLimit simulates n again with woods and a rig that nothing breaks.
func (in *Input) withoutLimit(ctx context.Context, n int) (*Point, error) {
	free := *in
	free.Woods = append([]Wood(nil), in.Woods...)
	for w := range free.Woods {
		free.Woods[w].Strength = math.Inf(1)
	}
	free.RigLimit = 0
	return free.point(ctx, n, nil)
}

// explain says why the largest n does not reach the target.
func (a *Advice) explain(in *Input, n int, unlimited Estimate) {
	a.Unlimited = unlimited
	a.Sure = math.Abs(a.Chance.Mean-a.Target) >= 2*a.Chance.SE
	costs := unlimited.Mean-a.Chance.Mean > costsMuch
	switch {
	case costs && unlimited.Mean >= a.Target:
		a.Reason = WoodLimits
		return
	case costs:
		a.Reason = BothLimit
		return
	}
	a.Reason = ScatterLimits
	if a.Chance.Mean < 0.05 {
		return
	}
	last := in.reach(a.Chance.Mean, n)
	a.RoughN = n + 1
	for a.RoughN < mostSpecimens && math.Sqrt(float64(a.RoughN)/float64(n))*last < in.reach(a.Target, a.RoughN) {
		a.RoughN++
	}
	a.RoughRatio = math.Pow(in.Ratio, in.reach(a.Target, n)/last)
	if a.RoughN <= fewMore*n {
		a.Reason = TooFewTried
	}
}

// reach is about how many standard errors a difference must measure to be found with
// a chance at n. The chance that a noncentral t with df degrees of freedom exceeds c
// is about Φ((δ − c)/√(1 + c²/(2df))) (after Johnson and Welch 1940). The scatters of
// two adhesives have so many degrees of freedom, and half as many again for what
// they borrow from the others; the common one has them all.
func (in *Input) reach(chance float64, n int) float64 {
	families, cells := 1, len(in.Woods)*in.Combinations
	if in.AllWoods {
		families = cells
	}
	df := float64(2 * cells * (n - 1))
	switch {
	case in.PooledScatter:
		df *= 0.5 * float64(len(in.Adhesives))
	case len(in.Adhesives) > 2:
		df *= 1.5
	}
	c := factorOf(shape{len(in.Adhesives), in.Control != "", families, 0.95}).at(df)
	return c + distuv.UnitNormal.Quantile(min(chance, 0.999))*math.Sqrt(1+c*c/(2*df))
}

// short names the boards that are missing.
func (in *Input) short(p *Point) (lines []string) {
	for w, x := range p.Woods {
		if x.BoardsShort > 0 {
			wood := &in.Woods[w]
			lines = append(lines, fmt.Sprintf("%d specimens in each cell need %d boards of %s of %d specimens each; there are %d: %d short",
				p.N, x.Boards, wood.Name, wood.PerBoard, wood.Boards, x.BoardsShort))
		}
	}
	return lines
}

// text puts the advice into sentences.
func (a *Advice) text(in *Input, at *Point) string {
	var b strings.Builder
	percent := func(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) }
	ratio := fmt.Sprintf("%.3g", in.Ratio)
	worst := at.Found()
	if a.N > 0 {
		fmt.Fprintf(&b, "%d specimens in each cell, %d in all, find a true ratio of %s with a chance of %s (%s, where it is least).",
			a.N, a.Specimens, ratio, percent(a.Chance.Mean), a.Wood)
		if !a.Sure {
			fmt.Fprintf(&b, " That is close to %s: simulate more trials to be sure of the number.", percent(a.Target))
		}
	} else {
		fmt.Fprintf(&b, "No number up to %d in each cell finds a true ratio of %s with a chance of %s: at %d it is %s (%s).",
			at.N, ratio, percent(a.Target), at.N, percent(a.Chance.Mean), a.Wood)
		limit, remedy := "The wood limits it", "Use a stronger wood or a smaller bonded area"
		if in.RigLimit > 0 {
			limit, remedy = "The wood or the rig limits it", remedy+", and look at the rig's limit"
		}
		share := percent(worst.WoodLimitedPair + worst.RigLimitedPair)
		switch a.Reason {
		case WoodLimits:
			fmt.Fprintf(&b, " %s: %s of these specimens would end before the bond breaks, and without that the chance would be %s. %s.", limit, share, percent(a.Unlimited.Mean), remedy)
		case BothLimit:
			fmt.Fprintf(&b, " %s: without that the chance would be %s, and bonds scatter too much for more. %s, and make more specimens or look for a larger ratio.", limit, percent(a.Unlimited.Mean), remedy)
		case TooFewTried:
			fmt.Fprintf(&b, " About %d would do; with %d a ratio of about %.3g is found.", a.RoughN, at.N, a.RoughRatio)
		case ScatterLimits:
			fmt.Fprintf(&b, " Bonds scatter too much for so small a ratio.")
			if a.RoughN > 0 {
				fmt.Fprintf(&b, " It would take about %d; with %d a ratio of about %.3g is found.", a.RoughN, at.N, a.RoughRatio)
			}
		}
	}
	for _, line := range a.Short {
		fmt.Fprintf(&b, " %s.", line)
	}
	return b.String()
}
