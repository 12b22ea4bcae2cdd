package invent_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"bondtrial/internal/trace"
	"bondtrial/internal/trace/invent"
)

// A triangle of 2000 N over 1 mm is 1 J; a fall to nothing over 2 mm adds 2 J.
func TestJoint(t *testing.T) {
	s := invent.Shape{Peak: 2000, Elastic: 1}
	snap := invent.Sudden(s, 0, 0.1)
	if p, x := snap.Peak(); p != 2000 || x != 1 || snap.Word != trace.Snap {
		t.Errorf("peak %v at %v, %s", p, x, snap.Word)
	}
	for _, c := range []struct{ travel, want float64 }{{0, 0}, {0.5, 0.25}, {1, 1}, {5, 1}} {
		if got := snap.Energy(c.travel); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("to %v mm: %v J, want %v", c.travel, got, c.want)
		}
	}
	if got := invent.Yielding(s, 0, 2, 0, false).Energy(3); math.Abs(got-3) > 1e-12 {
		t.Errorf("straight fall: %v J, want 3", got)
	}
	// A toe of 0.4 mm moves the straight rise by 0.2 mm and takes k·toe²/6 itself, of
	// which 24 straight pieces make up to 1/(2·24²) more.
	s.Toe = 0.4
	toe := 2000 * 0.4 * 0.4 / 6 / 1000
	if got := invent.Sudden(s, 0, 0).Energy(0.4); got < toe || got > toe*(1+1.0/(2*24*24)+1e-9) {
		t.Errorf("toe: %v J, want %v", got, toe)
	}
	if _, x := invent.Sudden(s, 0, 0).Peak(); math.Abs(x-1.2) > 1e-12 {
		t.Errorf("peak at %v mm, want 1.2", x)
	}
	// A bend is steep where it begins and flat where it ends, and never falls.
	s.Bend = 0.3
	curve := invent.Yielding(s, 0.1, 2, 0.02, true).Curve
	for i := 1; i < len(curve); i++ {
		if curve[i].Travel < curve[i-1].Travel {
			t.Fatal("travel falls")
		}
	}
}

// What comes sample by sample is what comes at once, the same from the same source,
// and the true figures come out of a quiet rig.
func TestBreak(t *testing.T) {
	j := invent.Sudden(invent.Shape{Peak: 2000, Elastic: 1}, 0, 0)
	rig := invent.Rig{Rate: 100, Speed: 0.1, Quiet: 2, Tail: 1, Zero: -40, Noise: 1, Resolution: 0.5, Travel: true, Spikes: 0.3, SpikeSize: 900, Filter: 0.002, Ring: 0.1}
	whole := invent.Break(j, rig, rand.New(rand.NewPCG(1, 2)))
	run := invent.Start(j, rig, rand.New(rand.NewPCG(1, 2)))
	for i := 0; ; i++ {
		tm, f, x, ok := run.Next()
		if !ok {
			if i != whole.Len() {
				t.Fatalf("%d samples, want %d", i, whole.Len())
			}
			break
		}
		if tm != whole.Time[i] || f != whole.Force[i] || x != whole.Travel[i] {
			t.Fatalf("sample %d differs", i)
		}
	}
	// 2 s of quiet, 10 s to the peak, 1 s after it.
	if d := whole.Time[whole.Len()-1]; math.Abs(d-13) > 0.05 {
		t.Errorf("%v s, want 13", d)
	}
	g, err := trace.Analyse(whole, trace.Options{})
	if err != nil || math.Abs(g.Peak-2000) > 8 || math.Abs(g.EnergyToPeak.Value-1) > 0.01 || g.Failing.Word != trace.Snap {
		t.Errorf("peak %v, %v J, %s, %v", g.Peak, g.EnergyToPeak, g.Failing.Word, err)
	}
	// With a soft rig, the rig's travel subtracted, the joint's energy is the same.
	rig.Compliance = 1e-4
	g, err = trace.Analyse(invent.Break(j, rig, rand.New(rand.NewPCG(3, 2))), trace.Options{Rig: trace.ConstantCompliance(1e-4)})
	if err != nil || math.Abs(g.ToFailure.Value-1) > 0.015 || math.Abs(g.TravelAtPeak.Value-1) > 0.01 {
		t.Errorf("on a soft rig: %v J, %v mm, %v", g.ToFailure, g.TravelAtPeak, err)
	}
}

// What a seed gives stays: the demo's records are made anew each time. Values as they
// came on linux/amd64; they are rounded to the rig's resolution.
func TestFrozen(t *testing.T) {
	rng := rand.New(rand.NewPCG(42, 42))
	j := invent.Stepwise(invent.Shape{Peak: 1500, Elastic: 0.8, Toe: 0.1, Bend: 0.1}, 0, 0, []invent.Tooth{{Drop: 0.3, Rise: 0.1, Width: 0.2}, {Drop: 0.4, Rise: 0, Width: 0.2}})
	rec := invent.Break(j, invent.Rig{Rate: 10, Speed: 0.1, Quiet: 1, Tail: 0.5, Noise: 5, Resolution: 10}, rng)
	var got []float64
	for i := 0; i < rec.Len(); i += 12 {
		got = append(got, rec.Force[i])
	}
	want := frozen
	if len(got) != len(want) {
		t.Fatalf("%v", got)
	}
	for i := range got {
		if math.Abs(got[i]-want[i]) > 1e-9 {
			t.Fatalf("%v, want %v", got, want)
		}
	}
}

// Each kind of record is drawn, with the word it was made for.
func TestDraw(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	words := map[trace.Word]int{}
	for range 2000 {
		sp := invent.Draw(rng)
		words[sp.Word]++
		if sp.Kind == "" || sp.Rig.Rate < 10 || !(sp.Rig.Speed > 0) {
			t.Fatalf("%+v", sp)
		}
	}
	for _, w := range trace.Words() {
		if words[w] < 100 {
			t.Errorf("%d of 2000 are %s", words[w], w)
		}
	}
	defer func() {
		if s, _ := recover().(string); !strings.HasPrefix(s, "invent: ") {
			t.Errorf("a rig without a rate: %q", s)
		}
	}()
	invent.Start(invent.Joint{}, invent.Rig{Speed: 1}, rng)
}

var frozen = []float64{0, 10, 160, 390, 620, 840, 1070, 1260, 1430, 1070, 1160, 610, 610}
