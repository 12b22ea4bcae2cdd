package packed

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// sameBits reports whether two columns are the same to the last bit.
func sameBits(a, b []float64) bool {
	if len(a) != len(b) || (a == nil) != (b == nil) {
		return false
	}
	for i := range a {
		if math.Float64bits(a[i]) != math.Float64bits(b[i]) {
			return false
		}
	}
	return true
}

func sameTrace(a, b Trace) bool {
	return sameBits(a.Time, b.Time) && sameBits(a.Force, b.Force) && sameBits(a.Travel, b.Travel)
}

// simulated is a break as a bench device would send it: 80 readings a second for 40
// seconds, force to 0.1 N with noise of 0.4 N, travel to 0.001 mm with 0.001 mm.
func simulated() Trace {
	r := rand.New(rand.NewPCG(1, 1))
	round := func(v float64, d int) float64 {
		s := math.Pow10(d)
		return math.Round(v*s) / s
	}
	var t Trace
	for i := range 3200 {
		s := float64(i) / 80
		travel := 0.05 * s
		force := 3600 * (1 - math.Exp(-travel)) // bends as a bond line gives way
		if s > 35 {
			force = 12
		}
		t.Time = append(t.Time, round(s, 4))
		t.Force = append(t.Force, round(force+0.4*r.NormFloat64(), 1))
		t.Travel = append(t.Travel, round(travel+0.001*r.NormFloat64(), 3))
	}
	return t
}

func TestBytesAPoint(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Trace)
		most   float64 // bytes a point
	}{
		// The noise alone of 0.4 N in steps of 0.1 N takes log2(4·sqrt(2πe)) = 4.05 bits
		// a reading, that of 0.001 mm in steps of 0.001 mm 2.1; differences of two such
		// add half a bit each (Shannon's entropy of a normal, by hand): 0.9 bytes. Half
		// as much again and the time are allowed for.
		{"force and travel", func(*Trace) {}, 1.6},
		{"force alone", func(t *Trace) { t.Travel = nil }, 0.9},
		// A device that writes -0.0 must not lose the short form.
		{"with -0", func(t *Trace) {
			for i := 0; i < 300; i += 3 {
				t.Force[i] = math.Copysign(0, -1)
			}
		}, 1.7},
		// 8 bytes a value in memory; full floats of noise hardly shrink.
		{"force in pounds, unrounded", func(t *Trace) {
			for i := range t.Force {
				t.Force[i] /= 4.4482216152605
			}
		}, 9},
	} {
		trace := simulated()
		c.change(&trace)
		b := Pack(trace)
		got, err := Unpack(b)
		if err != nil || !sameTrace(got, trace) {
			t.Errorf("%s: not the same after packing and unpacking, %v", c.name, err)
		}
		perPoint := float64(len(b)) / float64(len(trace.Time))
		t.Logf("%s: %d points, %d bytes, %.2f bytes a point", c.name, len(trace.Time), len(b), perPoint)
		if perPoint > c.most {
			t.Errorf("%s: %.2f bytes a point, want at most %.2f", c.name, perPoint, c.most)
		}
	}
}

func TestPackAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 50).Draw(t, "points")
		column := func(name string) []float64 {
			odd := rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), math.Copysign(0, -1), 5e-324,
				math.MaxFloat64, 1 << 53, 1<<53 - 1, 0.1, math.Float64frombits(0x7ff8000000000001)})
			whole := rapid.Map(rapid.Int64Range(-1e6, 1e6), func(k int64) float64 { return float64(k) / 1000 })
			values := rapid.SampledFrom([]*rapid.Generator[float64]{
				rapid.Float64(), whole, rapid.OneOf(whole, odd), rapid.OneOf(whole, rapid.Just(math.Copysign(0, -1)))}).Draw(t, name+" kind")
			return rapid.SliceOfN(values, n, n).Draw(t, name)
		}
		trace := Trace{Time: column("time"), Force: column("force")}
		if rapid.Bool().Draw(t, "travel") {
			trace.Travel = column("travel")
		}
		got, err := Unpack(Pack(trace))
		if err != nil {
			t.Fatal(err)
		}
		if !sameTrace(got, trace) {
			t.Fatalf("packed and unpacked: %v, want %v", got, trace)
		}
	})
}

func TestUnpackRefuses(t *testing.T) {
	whole := Pack(simulated())
	for n := range len(whole) {
		if _, err := Unpack(whole[:n]); err == nil {
			t.Fatalf("the first %d of %d bytes were taken for a trace", n, len(whole))
		}
	}
	for name, b := range map[string][]byte{
		"one byte too many":            append(Pack(Trace{Time: []float64{1}, Force: []float64{2}}), 0),
		"another form":                 {2, 0, 0, 0, 0},
		"an unknown flag":              {1, 4, 0, 0, 0},
		"more points than bytes":       {1, 0, 0xff, 0xff, 0x03, 0, 0},
		"a column's unknown form":      {1, 0, 1, 0x0a, 2, 0, 2},
		"a value above 2 to the 53":    {1, 0, 1, 0, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x80, 0x01, 0, 2},
		"a -0 where there is a 1":      {1, 0, 1, 0x20, 2, 1, 1, 0, 2},
		"a -0 behind the last value":   {1, 0, 1, 0x20, 0, 1, 2, 0, 2},
		"a -0 twice at the same place": {1, 0, 1, 0x20, 0, 2, 1, 0, 0, 2},
	} {
		_, err := Unpack(b)
		if err == nil || !strings.Contains(err.Error(), "from a backup") {
			t.Errorf("%s: error %v, want one that says where to get it from", name, err)
		}
	}
}

// A few bytes that unpack to more than any trace has must not fill the memory.
func TestUnpackTooMuch(t *testing.T) {
	b := append([]byte{form, isZstd}, coder.EncodeAll(make([]byte, maxPlain+1), nil)...)
	if len(b) > 1<<20 {
		t.Fatalf("%d bytes, not a few", len(b))
	}
	if _, err := Unpack(b); err == nil {
		t.Error("taken for a trace")
	}
	// And what Pack makes of the worst column must fit into that.
	worst := make([]float64, 1000)
	for i := range worst {
		worst[i] = float64(1<<53-1) * float64(1-2*(i%2))
		if i%3 == 2 {
			worst[i] = math.Copysign(0, -1)
		}
	}
	most := maxPlain - binary.MaxVarintLen64 - 3*(1+binary.MaxVarintLen64)
	if n := len(appendColumn(nil, worst)); n-1-binary.MaxVarintLen64 > len(worst)*most/3/MaxPoints {
		t.Errorf("%d values take %d bytes", len(worst), n)
	}
	if got, err := Unpack(Pack(Trace{Time: worst, Force: worst})); err != nil || !sameBits(got.Force, worst) {
		t.Errorf("the worst trace is not the same after packing and unpacking, %v", err)
	}
}

func TestPackPanics(t *testing.T) {
	for name, trace := range map[string]Trace{
		"force shorter":  {Time: []float64{1}},
		"travel shorter": {Time: []float64{1}, Force: []float64{1}, Travel: []float64{}},
		"too many":       {Time: make([]float64, MaxPoints+1), Force: make([]float64, MaxPoints+1)},
	} {
		func() {
			defer func() {
				if s, ok := recover().(string); !ok || !strings.HasPrefix(s, "packed: ") {
					t.Errorf("%s: no panic that names the package", name)
				}
			}()
			Pack(trace)
		}()
	}
}

func FuzzUnpack(f *testing.F) {
	short := simulated()
	f.Add(Pack(Trace{Time: short.Time[:20], Force: short.Force[:20], Travel: short.Travel[:20]}))
	f.Add(Pack(Trace{Time: []float64{0, 0.1}, Force: []float64{math.NaN(), 1}, Travel: []float64{math.Copysign(0, -1), 2}}))
	f.Add([]byte{1, 0, 1, 0x20, 0, 1, 1, 0, 2})
	f.Fuzz(func(t *testing.T, b []byte) {
		trace, err := Unpack(b)
		if err != nil {
			return
		}
		again, err := Unpack(Pack(trace))
		if err != nil || !sameTrace(again, trace) {
			t.Errorf("%v after packing anew, %v", trace, err)
		}
	})
}
