package trace_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"bondtrial/internal/trace"
	"bondtrial/internal/trace/invent"
)

// million is a record of a million samples.
func million(j invent.Joint) trace.Record {
	p, x := j.Peak()
	rec := invent.Break(j, invent.Rig{Rate: 20_000, Speed: x / 20, Quiet: 5, Tail: 100, Noise: 0.002 * p, Drift: 1, Ring: 0.1, Spikes: 0.5, SpikeSize: p, Travel: true, TravelNoise: 1e-4}, rand.New(rand.NewPCG(1, 1)))
	return rec.Slice(0, min(rec.Len(), 1_000_000))
}

// BenchmarkAnalyse shows the time for a million samples, and how many times that of
// adding them up.
func BenchmarkAnalyse(b *testing.B) {
	s := invent.Shape{Peak: 5000, Elastic: 1, Toe: 0.2, Bend: 0.1}
	for _, c := range []struct {
		name  string
		joint invent.Joint
	}{
		{"snap", invent.Sudden(s, 0, 0)},
		{"slow", invent.Yielding(s, 0.2, 2, 0.02, true)},
		{"step", invent.Stepwise(s, 0, 0, []invent.Tooth{{Drop: 0.3, Rise: 0.1, Width: 0.3}, {Drop: 0.3, Rise: 0.1, Width: 0.3}})},
	} {
		b.Run(c.name, func(b *testing.B) {
			rec := million(c.joint)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := trace.Analyse(rec, trace.Options{}); err != nil {
					b.Fatal(err)
				}
			}
			sum, start := 0.0, time.Now()
			const passes = 20
			for range passes {
				for _, v := range rec.Force {
					sum += v
				}
			}
			pass := time.Since(start) / passes
			if sum == 0 {
				b.Fatal("no force")
			}
			b.ReportMetric(float64(rec.Len()), "samples")
			b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(pass), "times-a-pass")
		})
	}
}

func BenchmarkWatcher(b *testing.B) {
	rec := million(invent.Sudden(invent.Shape{Peak: 5000, Elastic: 1}, 0, 0))
	w := trace.NewWatcher(trace.WatchOptions{})
	i := 0
	b.ReportAllocs()
	for b.Loop() {
		w.Add(rec.Time[i], rec.Force[i], 0)
		if i++; i == rec.Len() {
			i = 0
		}
	}
}

func BenchmarkDecimate(b *testing.B) {
	rec := million(invent.Sudden(invent.Shape{Peak: 5000, Elastic: 1}, 0, 0))
	for b.Loop() {
		trace.Decimate(rec, trace.OverTravel, 800)
	}
}
