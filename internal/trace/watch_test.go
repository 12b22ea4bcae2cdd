package trace_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"bondtrial/internal/trace"
	"bondtrial/internal/trace/invent"
)

// session is a long record of several breaks at one rate, with what is true of each.
type session struct {
	trace.Record
	onset, gone []int // samples where each is loaded by 10 N, and where by 5 % of its peak for the last time
	peak        []float64
}

// sit records breaks one after the other on one rig: quiet, a touch by hand now and
// then, drift, spikes, samples that are no numbers.
func sit(rng *rand.Rand, n int, hz float64) session {
	var s session
	drift := 0.0
	add := func(f float64) {
		drift += 0.02 * rng.NormFloat64() / math.Sqrt(hz)
		f += 120 + drift + 2*rng.NormFloat64()
		switch r := rng.Float64(); {
		case r < 0.0005:
			f += 4000 * rng.NormFloat64()
		case r < 0.001:
			f = math.NaN()
		}
		s.Time = append(s.Time, float64(s.Len())/hz)
		s.Force = append(s.Force, f)
	}
	rest := func(seconds float64) {
		for range int(seconds * hz) {
			add(0)
		}
	}
	for k := range n {
		rest(3 + 4*rng.Float64())
		if k%3 == 0 { // somebody touches the rig
			for i := range int(hz) {
				add(40 * math.Sin(math.Pi*float64(i)/hz))
			}
			rest(3)
		}
		j := invent.Sudden(invent.Shape{Peak: 800 + 3000*rng.Float64(), Elastic: 1, Toe: 0.2, Bend: 0.1}, 0, 0)
		if k%2 == 1 {
			j = invent.Yielding(invent.Shape{Peak: 800 + 3000*rng.Float64(), Elastic: 1, Toe: 0.1, Bend: 0.2}, 0.2, 2, 0.02, true)
		}
		p, x := j.Peak()
		s.peak = append(s.peak, p)
		s.onset, s.gone = append(s.onset, -1), append(s.gone, 0)
		run := invent.Start(j, invent.Rig{Rate: hz, Speed: x / (3 + 20*rng.Float64()), Tail: 0.1}, rng)
		for {
			_, f, _, ok := run.Next()
			if !ok {
				break
			}
			if f > 10 && s.onset[k] < 0 {
				s.onset[k] = s.Len()
			}
			if f > 0.05*p {
				s.gone[k] = s.Len()
			}
			add(f)
		}
	}
	rest(4)
	return s
}

func TestWatcher(t *testing.T) {
	for _, hz := range []float64{10, 80, 1000} {
		for set := range uint64(5) {
			s := sit(rand.New(rand.NewPCG(1000+set, uint64(hz))), 12, hz)
			w := trace.NewWatcher(trace.WatchOptions{Least: 200})
			var ended []trace.Event
			began := -1
			for i := range s.Force {
				for _, e := range w.Add(s.Time[i], s.Force[i], 0) {
					switch e.Kind {
					case trace.Began:
						if began >= 0 {
							t.Fatal("a break begins in a break")
						}
						began = e.First
					case trace.Ended:
						ended = append(ended, e)
						fallthrough
					default:
						if e.First != began {
							t.Fatalf("%+v, begun at %d", e, began)
						}
						began = -1
					}
				}
			}
			if len(ended) != len(s.peak) {
				t.Fatalf("at %g Hz: %d breaks, want %d", hz, len(ended), len(s.peak))
			}
			for i, e := range ended {
				// The lead reaches back before the load rises; after it is gone comes at
				// most the second that it must rest, and the blocks are of half a second
				// at 10 Hz.
				if e.First > s.onset[i] || e.First < s.onset[i]-int(7*hz) || e.Last < s.gone[i] || e.Last > s.gone[i]+int(3*hz) {
					t.Errorf("at %g Hz, break %d: samples %d to %d, true %d to %d", hz, i, e.First, e.Last, s.onset[i], s.gone[i])
				}
				if math.Abs(e.Peak-s.peak[i]) > (0.03+0.7/hz)*s.peak[i] { // medians of five samples cut a sharp peak
					t.Errorf("at %g Hz, break %d: peak %v, true %v", hz, i, e.Peak, s.peak[i])
				}
			}
		}
	}
}

func TestSegment(t *testing.T) {
	s := sit(rand.New(rand.NewPCG(22, 1)), 6, 100)
	for i, f := range s.Force {
		if f-f != 0 {
			s.Force[i] = s.Force[i-1]
		}
	}
	parts := trace.Segment(s.Record, trace.WatchOptions{Least: 200})
	if len(parts) != 6 {
		t.Fatalf("%d breaks, want 6", len(parts))
	}
	for i, p := range parts {
		g, err := trace.Analyse(p, trace.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if want := []trace.Word{trace.Snap, trace.SlowYield}[i%2]; g.Failing.Word != want || math.Abs(g.Peak-s.peak[i]) > 0.02*s.peak[i] {
			t.Errorf("break %d: %s at %v N, want %s at %v: %s", i, g.Failing.Word, g.Peak, want, s.peak[i], g.Failing.Reason)
		}
	}
}

// events feeds forces at 100 Hz and lists the kinds of what comes.
func events(opt trace.WatchOptions, end bool, force func(i int) (float64, bool)) (kinds []trace.EventKind, all []trace.Event) {
	w := trace.NewWatcher(opt)
	for i := 0; ; i++ {
		f, ok := force(i)
		if !ok {
			break
		}
		all = append(all, w.Add(float64(i)/100, f, 0)...)
	}
	if end {
		all = append(all, w.Close()...)
	}
	for _, e := range all {
		kinds = append(kinds, e.Kind)
	}
	return kinds, all
}

func TestWatcherKinds(t *testing.T) {
	rng := rand.New(rand.NewPCG(23, 1))
	noise := func() float64 { return rng.NormFloat64() }
	same := func(what string, got []trace.EventKind, want ...trace.EventKind) {
		t.Helper()
		ok := len(got) == len(want)
		for i := range got {
			ok = ok && got[i] == want[i]
		}
		if !ok {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	k, _ := events(trace.WatchOptions{}, true, func(i int) (float64, bool) { return noise() + float64(i)/1000, i < 60_000 })
	same("ten minutes of noise and drift", k)
	// A rise over five minutes is no drift.
	k, _ = events(trace.WatchOptions{Least: 100}, true, func(i int) (float64, bool) {
		if i < 1000 || i > 31_000 {
			return noise(), i < 31_500
		}
		return noise() + float64(i-1000)/10, true
	})
	same("a slow rise", k, trace.Began, trace.Ended)
	k, _ = events(trace.WatchOptions{Least: 100}, true, func(i int) (float64, bool) {
		if i < 500 {
			return noise(), true
		}
		return noise() - float64(i-500), i < 1500
	})
	same("a record that ends under load, to the other side", k, trace.Began, trace.CutOff)
	k, _ = events(trace.WatchOptions{Least: 100}, true, func(i int) (float64, bool) {
		if i > 500 && i < 600 {
			return 60 + noise(), true
		}
		return noise(), i < 1200
	})
	same("a touch", k, trace.Began, trace.Dismissed)
	// Some friction stays: the break ends all the same, and the next is found from there.
	k, all := events(trace.WatchOptions{Least: 100}, true, func(i int) (float64, bool) {
		switch j := i % 2000; {
		case j < 800:
			return noise() + 80*float64(min(i/2000, 1)), i < 4000
		case j < 1200:
			return noise() + 80*float64(min(i/2000, 1)) + float64(j-800)*3, true
		}
		return noise() + 80, true
	})
	same("friction", k, trace.Began, trace.Ended, trace.Began, trace.Ended)
	if len(all) == 4 && math.Abs(all[3].Peak-1197) > 25 {
		t.Errorf("the second peak is %v over its zero", all[3].Peak)
	}
	w := trace.NewWatcher(trace.WatchOptions{})
	var got []trace.EventKind
	for i := range 1000 {
		f, now := noise(), float64(i)/100
		if i >= 500 {
			f += float64(i)
		}
		if i >= 800 {
			now += 60 // unplugged for a minute
			f = noise()
		}
		for _, e := range w.Add(now, f, 0) {
			got = append(got, e.Kind)
		}
	}
	same("a gap", got, trace.Began, trace.CutOff)
}

// A watcher holds what it holds: adding allocates nothing once it is warm.
func TestWatcherMemory(t *testing.T) {
	rng := rand.New(rand.NewPCG(24, 1))
	w := trace.NewWatcher(trace.WatchOptions{Least: 100})
	i := 0
	add := func() {
		for range 1000 {
			w.Add(float64(i)/1000, rng.NormFloat64(), 0)
			i++
		}
	}
	for range 50 {
		add()
	}
	if n := testing.AllocsPerRun(20, add); n > 0 {
		t.Errorf("%v allocations for a thousand samples", n)
	}
}

// FuzzWatcher checks that beginnings and ends take turns and lie within the record.
func FuzzWatcher(f *testing.F) {
	f.Add([]byte("hello, world, this is a load"), byte(0))
	f.Add(append(make([]byte, 60), 100, 200, 250, 250, 0, 0, 0, 0, 0, 0, 0, 0), byte(3))
	f.Fuzz(func(t *testing.T, data []byte, how byte) {
		w := trace.NewWatcher(trace.WatchOptions{Least: float64(how)})
		on := false
		check := func(events []trace.Event, count int) {
			for _, e := range events {
				if (e.Kind == trace.Began) == on || e.First < 0 || e.Last < e.First || e.Last >= count || !(e.Peak >= 0) {
					t.Fatalf("%+v after %d samples, on: %v", e, count, on)
				}
				on = e.Kind == trace.Began
			}
		}
		for i, b := range data {
			v, now := float64(b), float64(i)/10
			switch {
			case b == 255:
				v = math.NaN()
			case b == 254:
				v = math.Inf(1)
			case how&1 != 0 && b%5 == 0:
				now = -now
			case how&2 != 0 && b%31 == 0:
				now += 1000
			}
			check(w.Add(now, v, 0), i+1)
			if w.Loaded() != on {
				t.Fatal("loaded or not")
			}
		}
		check(w.Close(), len(data))
	})
}
