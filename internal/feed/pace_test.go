package feed

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
)

// arrivals reads a source to its end and returns when lines arrived, in ms after the
// start.
func arrivals(t *testing.T, s Source) (ms []float64, texts []string) {
	t.Helper()
	began := time.Now()
	if err := s.Open(); err != nil {
		t.Fatal(err)
	}
	for {
		l, err := s.Read()
		if errors.Is(err, io.EOF) {
			return ms, texts
		}
		if err != nil {
			t.Fatal(err)
		}
		ms = append(ms, math.Round(l.At.Sub(began).Seconds()*1e3))
		texts = append(texts, string(l.Text))
	}
}

// In a bubble time stands still but where everyone waits, so arrivals are exact.
func TestReplayPaces(t *testing.T) {
	journal := bytes.NewBuffer(encodeHeader(Header{Source: "pipe", Started: start}))
	for _, l := range numbered(arriving(4, "5", "6", "7")) {
		journal.Write(encodeLine(nil, l, start))
	}
	for name, c := range map[string]struct {
		text string
		o    ReplayOptions
		want []float64
	}{
		"a header says the unit": {"time_ms,counts\n500,1\n600,2\n1100,3\n", ReplayOptions{OwnPace: true}, []float64{0, 0, 100, 600}},
		"a pattern says it":      {"7;1\n8;2\nwhat\n8.5;3\n", ReplayOptions{OwnPace: true, Pattern: mustPattern(t, "{time_s};{counts}")}, []float64{0, 1000, 1000, 1500}},
		"the clock goes back":    {"7;1\n8;2\n1;4\n2;3\n", ReplayOptions{OwnPace: true, Pattern: mustPattern(t, "{time_s};{counts}")}, []float64{0, 1000, 1000, 2000}},
		"lines a second":         {"7\n8\n9\n", ReplayOptions{OwnPace: true, Rate: 10}, []float64{0, 100, 200}},
		"a journal":              {journal.String(), ReplayOptions{OwnPace: true}, []float64{0, 250, 500}},
		"as fast as it goes":     {"time_ms,counts\n500,1\n", ReplayOptions{}, []float64{0, 0}},
	} {
		synctest.Test(t, func(t *testing.T) {
			got, _ := arrivals(t, NewReplay(name, strings.NewReader(c.text), c.o, SystemClock{}))
			if d := cmp.Diff(c.want, got); d != "" {
				t.Errorf("%s:\n%s", name, d)
			}
		})
	}
}

// A journal given as fast as it goes keeps its times.
func TestReplayKeepsRecordedTimes(t *testing.T) {
	text := string(encodeHeader(Header{Source: "pipe", Started: start}))
	for _, l := range numbered(arriving(4, "5", "6", "7")) {
		text += string(encodeLine(nil, l, start))
	}
	r := NewReplay("run.journal", strings.NewReader(text), ReplayOptions{}, SystemClock{})
	if err := r.Open(); err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		l, err := r.Read()
		if want := start.Add(time.Duration(i) * 250 * time.Millisecond); err != nil || !l.At.Equal(want) {
			t.Errorf("line %d arrived %v, %v; want %v", i+1, l.At, err, want)
		}
	}
}

func TestSimulatorPaces(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ms, texts := arrivals(t, NewSimulator(Simulation{Seed: 3, Rate: 10, Breaks: 1}, SystemClock{}))
		b := Simulation{Seed: 3}.Break(0)
		if want := int(b.End * 10); len(ms) != want {
			t.Errorf("%d lines, want %d in %v s", len(ms), want, b.End)
		}
		for i := range ms {
			if want := float64(100 * (i + 1)); ms[i] != want || !strings.HasPrefix(texts[i], fmt.Sprintf("%.0f,", want)) {
				t.Fatalf("line %d arrived at %v ms with %q", i+1, ms[i], texts[i])
			}
		}
	})
}

// simulated reads a simulation as fast as it goes.
func simulated(t *testing.T, o Simulation) (*Batch, *Parser) {
	t.Helper()
	o.FullPace = true
	s := NewSimulator(o, SystemClock{})
	if err := s.Open(); err != nil {
		t.Fatal(err)
	}
	var b Batch
	parser := NewParser(nil, 0)
	for n := int64(1); ; n++ {
		l, err := s.Read()
		if err != nil {
			parser.Finish(&b)
			return &b, parser
		}
		l.Number = n
		parser.Add(l, &b)
	}
}

// The curve is found again in the lines: its peak within half a count and the noise of
// none, at the time it was made for.
func TestSimulatedBreaks(t *testing.T) {
	o := Simulation{Seed: 11, Rate: 1000, Breaks: 12, Travel: true}
	b, p := simulated(t, o)
	if want := "{time_ms},{counts},{travel}"; p.Pattern().String() != want {
		t.Fatalf("pattern %s, want %s", p.Pattern(), want)
	}
	ways := make(map[string]int)
	for i := range o.Breaks {
		truth := o.Break(i)
		ways[truth.Way]++
		peak, at := 0.0, 0.0
		var after float64 // the greatest force 0.05 s after the peak
		for _, s := range b.Samples {
			n := (s.Force - ZeroCounts) / CountsPerNewton
			if s.Device < truth.Start || s.Device > truth.End {
				continue
			}
			if n > peak {
				peak, at = n, s.Device
			}
			if s.Device > truth.PeakAt+0.05 {
				after = max(after, n)
			}
		}
		// A line comes each ms, in which the force changes by less than 1 N near the peak.
		if math.Abs(peak-truth.Peak) > 1 || math.Abs(at-truth.PeakAt) > 0.002 {
			t.Errorf("joint %d: peak %.2f N at %.3f s, want %.2f at %.3f", i, peak, at, truth.Peak, truth.PeakAt)
		}
		if snap := after < 0.05*truth.Peak; snap != (truth.Way == "snap") {
			t.Errorf("joint %d goes by %s, and keeps %.0f of %.0f N", i, truth.Way, after, truth.Peak)
		}
	}
	if len(ways) != 3 {
		t.Errorf("ways of failing: %v, want all three", ways)
	}
}

func TestSimulatedFlaws(t *testing.T) {
	clean, _ := simulated(t, Simulation{Seed: 5, Breaks: 3})
	o := Simulation{Seed: 5, Breaks: 3, Noise: 2, Drift: 60, Spikes: 0.01, Garbage: 0.05, Halves: 0.02}
	dirty, p := simulated(t, o)
	again, _ := simulated(t, o)
	if d := cmp.Diff(forces(dirty), forces(again)); d != "" {
		t.Errorf("one seed, two answers:\n%s", d)
	}
	c := p.Counts()
	share := float64(c.Garbage) / float64(c.Lines)
	// 5 of 100 lines and most of the 2 that are joined; 4 standard deviations of some
	// 2,000 lines are 2 in 100.
	if share < 0.04 || share > 0.09 {
		t.Errorf("%d of %d lines are no readings", c.Garbage, c.Lines)
	}
	first, last := dirty.Samples[0], dirty.Samples[len(dirty.Samples)-1]
	drift := (last.Force - first.Force) / CountsPerNewton
	if want := o.Drift / 60 * (last.Device - first.Device); math.Abs(drift-want) > 15 {
		t.Errorf("the zero drifts by %.1f N, want %.1f within the noise", drift, want)
	}
	if len(clean.Samples) < len(dirty.Samples) {
		t.Errorf("%d clean samples, %d others", len(clean.Samples), len(dirty.Samples))
	}
}

// Frozen: what a seed gives. Computed by this program when it was written.
func TestSimulationStaysTheSame(t *testing.T) {
	b, _ := simulated(t, Simulation{Seed: 1, Breaks: 1, Noise: 1})
	truth := Simulation{Seed: 1}.Break(0)
	got := fmt.Sprintf("%s %.6f %.6f %d %.0f", truth.Way, truth.Peak, truth.PeakAt, len(b.Samples), b.Samples[100].Force)
	if want := "snap 1180.623505 7.175604 694 84163"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}
