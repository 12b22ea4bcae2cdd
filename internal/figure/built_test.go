package figure

import (
	"math"

	"bondtrial"
	"bondtrial/internal/answer"
)

// built is an answer put together by hand, with everything that a picture can
// meet: every state and verdict, a range far beyond the specimens, a cell of many
// equal specimens, labels of wood and handbook at one place, a wood without an
// estimate of its strength, a drift. All numbers are invented.
func built() *answer.Answer {
	a := &answer.Answer{Settings: answer.DefaultSettings()}
	order := 0
	cell := func(wood, adhesive string, c answer.Cell, rs ...bondtrial.Reading) {
		c.Wood, c.Adhesive = wood, adhesive
		for _, r := range rs {
			order++
			r.Wood, r.Adhesive, r.GlueOrder, r.BreakOrder = wood, adhesive, order, 1+(order*23)%61
			switch r.State(a.Settings.Threshold) {
			case bondtrial.WoodLimited:
				c.WoodLimited++
			case bondtrial.RigLimited:
				c.RigLimited++
			}
			c.N++
			c.Readings = append(c.Readings, len(a.Readings))
			a.Readings = append(a.Readings, r)
		}
		a.Cells = append(a.Cells, c)
	}
	broke := func(s bondtrial.Megapascal) bondtrial.Reading { return bondtrial.Reading{Strength: s} }
	wood := func(s bondtrial.Megapascal) bondtrial.Reading {
		return bondtrial.Reading{Strength: s, Failure: bondtrial.SubstrateFailure}
	}
	rig := func(s bondtrial.Megapascal) bondtrial.Reading {
		return bondtrial.Reading{Strength: s, RigLimited: true}
	}
	cell("ash", "Fell", known(7.2, 6.1, 40), broke(7.9), broke(6.8), wood(8.4))
	cell("ash", "Ghyll", known(5.1, 4.6, 5.7), forty()...)
	cell("ash", "Skerry", bound(9.1), wood(9.9), wood(9.4), wood(10.2), rig(11.2))
	cell("ash", "Tarn", known(9.8, 8.9, 10.9), broke(9.1), wood(10.4), broke(9.6), broke(10.1), broke(9.65))
	cell("larch", "Beck", known(6.6, 5.7, 7.6), broke(6.1), broke(6.5), broke(7.2))
	cell("larch", "Skerry", bound(6.9), wood(7.8), wood(8.3))
	cell("larch", "Tarn", bound(7.4), wood(8.1), wood(8.6), wood(8.8))
	a.Readings = append(a.Readings, bondtrial.Reading{Strength: 1, SetAside: "slipped"})
	a.Counts = answer.Counts{Used: order, WoodLimited: 10, RigLimited: 1, SetAside: 1}

	none := answer.None
	a.Pairs = []answer.Pair{
		pair("ash", "Fell", "Ghyll", 1.41, 1.02, 7.9, answer.Stronger),
		pair("ash", "Skerry", "Fell", none, 0.61, none, answer.AtLeast),
		pair("ash", "Tarn", "Fell", 1.36, 0.22, 1.93, answer.NotSettled),
		pair("ash", "Skerry", "Ghyll", none, 1.55, none, answer.Stronger),
		pair("ash", "Tarn", "Ghyll", 1.92, 1.64, 2.25, answer.Stronger),
		pair("ash", "Tarn", "Skerry", none, none, 1.19, answer.AtLeast),
		pair("larch", "Skerry", "Beck", none, 0.91, none, answer.AtLeast),
		pair("larch", "Tarn", "Beck", none, 1.01, none, answer.Stronger),
		pair("larch", "Tarn", "Skerry", none, none, none, answer.NotSettled),
	}
	for _, b := range []struct {
		wood, adhesive string
		p              float64
	}{
		{"ash", "Fell", 0.29}, {"ash", "Ghyll", 0}, {"ash", "Skerry", 0.42}, {"ash", "Tarn", 0.29},
		{"larch", "Beck", 0.002}, {"larch", "Skerry", 0.002}, {"larch", "Tarn", 0.996},
	} {
		a.Best = append(a.Best, answer.Chance{Condition: answer.Condition{Wood: b.wood}, Adhesive: b.adhesive, PBest: b.p, Leans: true})
	}
	a.WoodLimits = []answer.WoodLimit{
		{Wood: "ash", N: 52, Broke: 5, Typical: 9.6, Low: 9, High: 10.3, Handbook: 9.7},
		{Wood: "larch", N: 8, Broke: 1, Typical: none, Low: none, High: none, Handbook: 9.4},
	}
	a.Drifts = []answer.Drift{
		{Order: "glueing", N: 51, First: 1, Last: 55, Ratio: 1.32, Low: 1.05, High: 1.66, Flag: true},
		{Order: "breaking", N: 51, First: 1, Last: 60, Ratio: 0.97, Low: none, High: none},
	}
	return a
}

func known(typical, low, high answer.Value) answer.Cell {
	return answer.Cell{Typical: typical, Low: low, High: high, AtLeast: answer.None}
}

func bound(atLeast answer.Value) answer.Cell {
	return answer.Cell{Typical: answer.None, Low: 0.97 * atLeast, High: answer.None, AtLeast: atLeast, OnlyAtLeast: true}
}

func pair(wood, a, b string, ratio, low, high answer.Value, v answer.Verdict) answer.Pair {
	return answer.Pair{Condition: answer.Condition{Wood: wood}, A: a, B: b, Ratio: ratio, Low: low, High: high,
		LowSim: low, HighSim: high, Low90: low, High90: high, PAStronger: 0.5, Verdict: v}
}

// forty are specimens of which the first thirty have one strength.
func forty() []bondtrial.Reading {
	var rs []bondtrial.Reading
	for k := range 40 {
		rs = append(rs, bondtrial.Reading{Strength: bondtrial.Megapascal(5.1 * math.Exp(0.02*float64(max(0, k-30))))})
	}
	return rs
}
