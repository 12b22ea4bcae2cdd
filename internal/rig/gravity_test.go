package rig

import (
	"math"
	"testing"
)

// Expected: testdata/normal_gravity_1980.csv. Tolerance: half a unit of the last
// digit. The series beside it is another formula, good to 1e-6.
func TestNormalGravity(t *testing.T) {
	for _, r := range rows(t, "normal_gravity_1980.csv") {
		lat, height := number(t, r[0]), number(t, r[1])
		for _, l := range []float64{lat, -lat} {
			if got := NormalGravity(l, height); math.Abs(got-number(t, r[4])) > 0.5e-7*1.0001 {
				t.Errorf("at %v° and %v m: %.8f, want %s", l, height, got, r[4])
			}
			if got := NormalGravity(l, 0); math.Abs(got-number(t, r[3])) > 1e-6 {
				t.Errorf("at %v°: %.8f, the series gives %s", l, got, r[3])
			}
		}
	}
	// Published: Geodetic Reference System 1980, pole and equator.
	if got := NormalGravity(90, 0); math.Abs(got-9.8321863685) > 0.5e-10*1.0001 {
		t.Errorf("at the pole %.11f", got)
	}
	if got := NormalGravity(0, 0); got != 9.7803267715 {
		t.Errorf("at the equator %.11f", got)
	}
}

func TestLocalGravity(t *testing.T) {
	g := must[Gravity](t)(LocalGravity(-37, 250))
	if g.Value != NormalGravity(37, 250) || g.How != "normal gravity 1980 at latitude -37° and 250 m" || g.check() != nil {
		t.Errorf("got %+v", g)
	}
	_, err := LocalGravity(91, 0)
	checkFields(t, "latitude", err, "latitude")
	_, err = LocalGravity(math.NaN(), 0)
	checkFields(t, "no latitude", err, "latitude")
	_, err = LocalGravity(10, 20_000)
	checkFields(t, "height", err, "height")
	mustPanic(t, "latitude", func() { NormalGravity(91, 0) })
}

// Expected: m g (1 − 1.2/8000), by hand; the buoyancy is 0.015 %.
func TestDeadWeight(t *testing.T) {
	g := Gravity{Value: 9.81}
	if got := g.DeadWeight(10, Weights{}); !close12(got, 98.1*(1-0.00015)) {
		t.Errorf("10 kg weigh %v N", got)
	}
	if got := g.DeadWeight(10, Weights{Density: 2400}); !close12(got, 98.1*(1-0.0005)) {
		t.Errorf("10 kg of concrete weigh %v N", got)
	}
}

// Expected: √(0.01²/12 + 0.02²/3 + 0.03²/5), by hand.
func TestReadWith(t *testing.T) {
	m := ReadWith(20, 0.01, 0.02, 0.03, 5)
	scatter := 0.03 * 0.03 / 5
	u2 := 0.01*0.01/12 + 0.02*0.02/3 + scatter
	if !close12(m.U, math.Sqrt(u2)) || !close12(m.DF, 4*u2*u2/(scatter*scatter)) || m.Value != 20 {
		t.Errorf("got %+v", m)
	}
	if m := ReadWith(20, 0.01, 0, 0, 1); m.DF != 0 || !close12(m.U, 0.01/math.Sqrt(12)) {
		t.Errorf("one reading: %+v", m)
	}
	mustPanic(t, "no reading", func() { ReadWith(20, 0, 0, 0, 0) })
}
