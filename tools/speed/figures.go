package main

import "slices"

func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return s[len(s)/2]
}

func least(x []float64) float64 { return slices.Min(x) }
func most(x []float64) float64  { return slices.Max(x) }
