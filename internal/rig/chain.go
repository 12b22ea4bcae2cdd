package rig

import "bondtrial/internal/rig/budget"

// chain is a result with the inputs it was computed from so far, its derivatives by
// them, and the computation itself, so that it can be done again with other values.
type chain struct {
	value  float64
	inputs []budget.Input
	by     []float64 // derivative of value by each input
	eval   func(x []float64) float64
}

// then puts the result through f, which takes it with further inputs; ∂f by the
// result is dv, by the further inputs dp. An input that the chain has already, by
// name, is one and the same.
func (c chain) then(f func(v float64, p []float64) float64, dv float64, more []budget.Input, dp []float64) chain {
	before := len(c.inputs)
	next := chain{inputs: append([]budget.Input(nil), c.inputs...)}
	for _, d := range c.by {
		next.by = append(next.by, d*dv)
	}
	at := make([]int, len(more))
	for i, in := range more {
		at[i] = -1
		for j, had := range next.inputs {
			if had.Name == in.Name {
				at[i] = j
			}
		}
		if at[i] < 0 {
			at[i] = len(next.inputs)
			next.inputs, next.by = append(next.inputs, in), append(next.by, 0)
		}
		next.by[at[i]] += dp[i]
	}
	eval := c.eval
	next.eval = func(x []float64) float64 {
		p := make([]float64, len(at))
		for i, j := range at {
			p[i] = x[j]
		}
		return f(eval(x[:before]), p)
	}
	values := make([]float64, len(more))
	for i, in := range more {
		values[i] = in.Value
	}
	next.value = f(c.value, values)
	return next
}

// times is the chain in another unit.
func (c chain) times(factor float64) chain {
	if factor == 1 {
		return c
	}
	return c.then(func(v float64, _ []float64) float64 { return factor * v }, factor, nil, nil)
}

func (c chain) budget(name, unit string) budget.Budget {
	return budget.Combine(name, unit, c.value, c.inputs, c.by, budget.Coverage)
}
