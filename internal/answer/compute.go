package answer

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"bondtrial"
	"bondtrial/stat/gibbs"
)

// otherThresholds are the shares of wood failure at which every answer is
// repeated.
var otherThresholds = []bondtrial.Percent{50, 90}

// Compute answers from readings. The error is a *TooLittle where the readings do
// not allow an answer, and ctx's error where ctx ends first. The answer does not
// depend on the order of the readings, nor on how many processors there are.
func Compute(ctx context.Context, readings []bondtrial.Reading, set Settings) (*Answer, error) {
	a := &Answer{Settings: set, Readings: readings, Counts: count(readings, set.Threshold)}
	f, warnings, err := a.sample(ctx, set)
	if err != nil {
		return nil, err
	}
	b := f.bench
	a.Draws = f.post.Draws
	a.Best = f.best()
	a.Spread = f.spread()
	a.Outliers = f.outliers(set)
	a.Fit.LognormalLogLik, a.Fit.WeibullLogLik = b.likelihoods(set)
	b.medians(set)
	a.Cells = b.cells
	a.Drifts = b.drifts(set)
	if err := a.woodLimits(ctx, b, set); err != nil {
		return nil, err
	}
	if err := a.repeatElsewhere(ctx); err != nil {
		return nil, err
	}
	a.Warnings = append(warnings, a.warn()...)
	for k := range a.Cells {
		a.Cells[k].draws = nil // they are many, and whoever keeps an answer has no use for them
	}
	return a, nil
}

// mostDoublings is how often the number of draws is doubled where they are worth
// too little.
const mostDoublings = 3

// sample judges by the bonds, with more draws than asked for where the effective
// size of some would be below leastESS; where fewer than the default are asked for,
// speed is, and it is left at that.
func (a *Answer) sample(ctx context.Context, set Settings) (f *fitted, warnings []string, err error) {
	enough := set.Draws < DefaultSettings().Draws
	for doubled := 0; ; doubled++ {
		if f, warnings, err = judge(ctx, a, a.Readings, set, "the bonds"); err != nil {
			return nil, nil, err
		}
		a.Fit.MaxRHat, a.Fit.MinESS = diagnose(f.post, slices.Concat(f.post.Mean, f.post.Sigma, f.post.TermSD))
		if enough || a.Fit.MinESS >= leastESS || doubled == mostDoublings {
			return f, warnings, nil
		}
		set.Draws *= 2
	}
}

// Compare returns an Answer with cells, pairs and effects only: the part of
// Compute that another threshold or another planned trial asks for. Errors are
// those of Compute.
func Compare(ctx context.Context, readings []bondtrial.Reading, set Settings) (*Answer, error) {
	a := &Answer{Settings: set, Readings: readings, Counts: count(readings, set.Threshold)}
	_, warnings, err := judge(ctx, a, readings, set, "the bonds")
	if err != nil {
		return nil, err
	}
	a.Warnings = warnings
	return a, nil
}

// judge samples the model and fills in what a threshold can change: cells, pairs
// and effects.
func judge(ctx context.Context, a *Answer, readings []bondtrial.Reading, set Settings, stage string) (*fitted, []string, error) {
	b := arrange(readings, set)
	if err := b.checkEnough(set); err != nil {
		return nil, nil, err
	}
	f, warnings, err := b.fit(ctx, set, stage)
	if err != nil {
		switch {
		case errors.Is(err, gibbs.ErrNoScatter):
			err = &TooLittle{"no adhesive has two different bond breaks on the same wood, so the scatter cannot be told"}
		case errors.Is(err, gibbs.ErrRange):
			err = &TooLittle{"the readings lie too far apart to be strengths of one kind of joint; check their units"}
		}
		return nil, nil, err
	}
	f.describe(set)
	a.Cells = b.cells
	if a.Pairs, err = f.pairs(ctx, set); err != nil {
		return nil, nil, err
	}
	var more []string
	a.Effects, more = f.effects(ctx, set)
	return f, append(warnings, more...), nil
}

// repeatElsewhere lists the verdicts that another threshold on wood failure
// would change. Where it changes no reading's state it changes nothing.
func (a *Answer) repeatElsewhere(ctx context.Context) error {
	for _, t := range otherThresholds {
		s := Sensitivity{Threshold: t}
		if a.anyStateChanges(t) {
			set := a.Settings
			set.Threshold = t
			set.Draws = max(set.Draws/2, 4000) // for verdicts only
			other := &Answer{}
			_, _, err := judge(ctx, other, a.Readings, set, fmt.Sprintf("again with wood failure from %.0f %%", float64(t)))
			var little *TooLittle
			switch {
			case errors.As(err, &little):
				s.Failed = little.Missing
			case err != nil:
				return err
			default:
				s.Changes = changes(a, other)
			}
		}
		a.Sensitivity = append(a.Sensitivity, s)
	}
	return nil
}

func (a *Answer) anyStateChanges(t bondtrial.Percent) bool {
	for _, r := range a.Readings {
		if r.State(t) != r.State(a.Settings.Threshold) {
			return true
		}
	}
	return false
}

// changes lists the pairs and effects that have another verdict in b. A pair may
// come the other way round there.
func changes(a, b *Answer) []Change {
	verdict := func(p *Pair) Verdict {
		for k := range b.Pairs {
			q := &b.Pairs[k]
			switch {
			case !q.Same(p.Condition):
			case q.A == p.A && q.B == p.B:
				return q.Verdict
			case q.A == p.B && q.B == p.A:
				return q.Verdict.reversed()
			}
		}
		return NotSettled
	}
	var out []Change
	for k := range a.Pairs {
		p := &a.Pairs[k]
		if v := verdict(p); v != p.Verdict {
			out = append(out, Change{Condition: p.Condition, A: p.A, B: p.B, Was: p.Verdict, Is: v})
		}
	}
	for k := range a.Effects {
		e := &a.Effects[k]
		if k < len(b.Effects) && b.Effects[k].Verdict == e.Verdict {
			continue
		}
		c := Change{Factor: e.Factor, A: e.A, B: e.B, Was: e.Verdict, Is: NotSettled}
		if k < len(b.Effects) {
			c.Is = b.Effects[k].Verdict
		}
		out = append(out, c)
	}
	return out
}

func (v Verdict) reversed() Verdict {
	switch v {
	case Stronger:
		return Weaker
	case Weaker:
		return Stronger
	}
	return v
}

// spread summarises the standard deviations. The residual one is the middle of
// the adhesives' own, weighted by their readings.
func (f *fitted) spread() Spread {
	s := Spread{Residual: None, Board: None, Batch: None, Session: None, Trial: None}
	b := f.bench
	weight := make([]float64, len(f.post.Sigma))
	for _, c := range b.cell {
		weight[f.group[c]]++
	}
	variance := make([]float64, f.post.Draws)
	for g, w := range weight {
		for i, sd := range f.post.Sigma[g] {
			variance[i] += w * sd * sd / float64(len(b.used))
		}
	}
	s.Residual = Value(math.Sqrt(quantile(variance, 0.5)))
	if f.closed != nil {
		s.Residual = f.closed.sd()
	}
	for name, to := range map[string]*Value{"board": &s.Board, "batch": &s.Batch, "session": &s.Session, "trial": &s.Trial} {
		if d := f.termDraws(name); d != nil {
			*to = Value(quantile(d, 0.5))
		}
	}
	return s
}
