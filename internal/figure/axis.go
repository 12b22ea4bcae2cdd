package figure

import (
	"math"
	"slices"
	"strconv"
)

// tick is a labelled place on an axis.
type tick struct {
	at    float64
	label string
}

// linearTicks returns ticks from 0 to high at steps of 1, 2 or 5 times a power of
// ten, most of them at most.
func linearTicks(high float64, most int) []tick {
	if !(high > 0) || math.IsInf(high, 0) {
		return []tick{{0, "0"}}
	}
	step := math.Pow(10, math.Floor(math.Log10(high))-1)
	for k := 0; math.Floor(high/step*(1+1e-9)) > float64(max(most, 2)-1); k++ {
		step *= [3]float64{2, 2.5, 2}[k%3]
	}
	places := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	var ticks []tick
	for k := 0.0; k*step <= high*(1+1e-9); k++ {
		ticks = append(ticks, tick{k * step, strconv.FormatFloat(k*step, 'f', places, 64)})
	}
	return ticks
}

// ratioLadders are places for ticks on an axis of ratios, finest first.
var ratioLadders = [][]float64{
	{0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6},
	{0.6, 0.8, 1, 1.2, 1.4, 1.6},
	{0.25, 0.5, 0.75, 1, 1.5, 2, 3, 4, 6},
	{0.1, 0.2, 0.5, 1, 2, 3, 5, 10},
	{0.1, 0.2, 0.5, 1, 2, 5, 10},
	{0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100},
	{0.001, 0.01, 0.1, 1, 10, 100, 1000},
}

// ratioTicks returns ticks within low to high of a logarithmic axis of the given
// length, at least gap px apart.
func ratioTicks(low, high, length, gap float64) []tick {
	scale := length / math.Log(high/low)
	for k, ladder := range ratioLadders {
		if last := len(ladder) - 1; k < len(ratioLadders)-1 && (low < ladder[0]*0.9 || high > ladder[last]*1.1) {
			continue
		}
		var ticks []tick
		fits := true
		for _, v := range ladder {
			if v < low*(1-1e-9) || v > high*(1+1e-9) {
				continue
			}
			if n := len(ticks); n > 0 && math.Log(v/ticks[n-1].at)*scale < gap {
				fits = false
				break
			}
			ticks = append(ticks, tick{v, strconv.FormatFloat(v, 'f', -1, 64)})
		}
		if fits {
			return ticks
		}
	}
	return []tick{{1, "1"}}
}

// spots are things to place in lanes so that none covers another.
type spot struct{ from, to float64 }

// lanes gives each spot, in order of where it begins, the first lane in which it
// is free.
func lanes(spots []spot) (lane []int, used int) {
	var end []float64
	lane = make([]int, len(spots))
	for i, s := range spots {
		pick := slices.IndexFunc(end, func(e float64) bool { return e <= s.from })
		if pick < 0 {
			pick = len(end)
			end = append(end, s.to)
		}
		end[pick] = s.to
		lane[i] = pick
	}
	return lane, len(end)
}

// aside is where lane k lies, in steps from the middle: 0, −1, 1, −2, 2, …
func aside(k int) float64 {
	steps := float64((k + 1) / 2)
	if k%2 == 1 {
		return -steps
	}
	return steps
}
