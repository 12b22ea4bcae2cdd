package trace

import (
	"fmt"
	"math"
	"slices"
)

// Limits of an even clock; common practice, no source.
const (
	unevenShare = 0.2 // a step is uneven where it is off the typical one by more than this share of it
	gapSteps    = 5   // a gap is longer than this many typical steps
)

// Sampling says how evenly a record was taken.
type Sampling struct {
	Samples    int
	Seconds    float64 // from the first sample to the last, with a clock that never goes back
	Step       float64 // s, the typical (median) step; 0 with fewer than two samples
	Uneven     float64 // share of the steps, 0 to 1, that are off the typical one by more than 20 %
	Gaps       int     // steps longer than five typical ones
	LongestGap float64 // s; 0 without a gap
	GapAt      int     // the sample before the longest gap; −1 without one
	Repeated   int     // samples with the time of the one before
	Back       int     // samples with a time before that of the one before
	BackAt     int     // the first of them; −1 without one
}

// CheckSampling looks at the clock of a record, in seconds.
func CheckSampling(time []float64) Sampling {
	s := Sampling{Samples: len(time), GapAt: -1, BackAt: -1}
	if len(time) < 2 {
		return s
	}
	s.Step = typicalStep(time)
	uneven := 0
	lo, hi, gap := s.Step*(1-unevenShare), s.Step*(1+unevenShare), s.Step*gapSteps
	for i := 1; i < len(time); i++ {
		d := time[i] - time[i-1]
		if d >= lo && d <= hi {
			s.Seconds += d
			continue
		}
		uneven++
		switch {
		case d == 0:
			s.Repeated++
		case d < 0:
			if s.Back == 0 {
				s.BackAt = i
			}
			s.Back++
			s.Seconds += s.Step
		default:
			s.Seconds += d
		}
		if d > gap {
			s.Gaps++
			if d > s.LongestGap {
				s.LongestGap, s.GapAt = d, i-1
			}
		}
	}
	s.Uneven = float64(uneven) / float64(len(time)-1)
	return s
}

// mostSteps is how many steps the typical one is taken from, spread over the record.
const mostSteps = 50_000

// typicalStep returns the median step of a clock; where most times repeat, the mean.
func typicalStep(time []float64) float64 {
	stride := max(1, (len(time)-1)/mostSteps)
	steps := make([]float64, 0, min(len(time), 2*mostSteps))
	for i := 1; i < len(time); i += stride {
		steps = append(steps, time[i]-time[i-1])
	}
	if m := median(steps); m > 0 {
		return m
	}
	total := 0.0
	for i := 1; i < len(time); i++ {
		total += max(0, time[i]-time[i-1])
	}
	return total / float64(len(time)-1)
}

// median returns the middle of values, the mean of the two in the middle of an even
// number, and orders them on the way; 0 where there are none.
func median(values []float64) float64 {
	n := len(values)
	if n == 0 {
		return 0
	}
	slices.Sort(values)
	if n%2 == 1 {
		return values[n/2]
	}
	return values[n/2-1] + (values[n/2]-values[n/2-1])/2
}

// Even reports whether the clock needs no caution.
func (s Sampling) Even() bool {
	return s.Uneven < 0.01 && s.Gaps == 0 && s.Repeated == 0 && s.Back == 0
}

// Notes says what is uncommon about the clock, a sentence each.
func (s Sampling) Notes() []string {
	var notes []string
	note := func(format string, args ...any) { notes = append(notes, fmt.Sprintf(format, args...)) }
	if s.Back > 0 {
		note("the clock goes back %s, first at sample %d: time goes on one step later there", times(s.Back), s.BackAt+1)
	}
	if s.Repeated > 0 {
		note("%s the time of the one before: they are spread evenly until the next time", have(s.Repeated))
	}
	if s.Gaps > 0 {
		note("%s in the record, the longest of %.3g s after sample %d", gaps(s.Gaps), s.LongestGap, s.GapAt+1)
	}
	if s.Uneven >= 0.01 && s.Repeated == 0 {
		note("%.2g %% of the steps are off the typical one of %.3g s by more than 20 %%", 100*s.Uneven, s.Step)
	}
	return notes
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func have(n int) string {
	if n == 1 {
		return "1 sample has"
	}
	return fmt.Sprintf("%d samples have", n)
}

func gaps(n int) string {
	if n == 1 {
		return "a gap"
	}
	return fmt.Sprintf("%d gaps", n)
}

// forwardClock returns times that never go back and never repeat. It is time itself
// where that already holds.
func forwardClock(time []float64, s Sampling) []float64 {
	if s.Repeated == 0 && s.Back == 0 {
		return time
	}
	out := slices.Clone(time)
	step, shift := s.Step, 0.0
	if !(step > 0) {
		step = 1
	}
	for i := 1; i < len(time); i++ {
		if time[i] < time[i-1] {
			shift += time[i-1] - time[i] + step
		}
		out[i] = time[i] + shift
	}
	for i := 0; i < len(out); {
		j := i + 1
		for j < len(out) && out[j] <= out[i] {
			j++
		}
		if j > i+1 {
			span := step * float64(j-i)
			if j < len(out) {
				span = out[j] - out[i]
			}
			start := out[i]
			for k := i; k < j; k++ {
				out[k] = start + span*float64(k-i)/float64(j-i)
			}
		}
		i = j
	}
	for i := 1; i < len(out); i++ {
		if !(out[i] > out[i-1]) {
			out[i] = math.Nextafter(out[i-1], math.Inf(1))
		}
	}
	return out
}
