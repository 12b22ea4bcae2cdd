package bondtrial_test

import (
	"math"
	"testing"

	"bondtrial"
)

// NIST SP 811 (2008), appendix B.8: pound-force per square inch to pascal
// 6.894 757 E+03, pound-force to newton 4.448 222 E+00, kilogram-force to newton
// 9.806 65 E+00 (exact); from memory, unconfirmed.
func TestConversionFactors(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"psi in MPa", bondtrial.MegapascalPerPSI, 6.894757e-3},
		{"lbf in N", bondtrial.NewtonPerPoundForce, 4.448222},
		{"kgf in N", bondtrial.NewtonPerKilogramForce, 9.80665},
		// By definition: the international pound times standard gravity.
		{"lbf in N, from the pound", bondtrial.NewtonPerPoundForce, 0.45359237 * 9.80665},
	} {
		// Seven digits are printed: half of the last of 4.448222 is 1.1e-7.
		if math.Abs(c.got-c.want) > 1.2e-7*c.want {
			t.Errorf("%s: %.10g, want %.10g", c.name, c.got, c.want)
		}
	}
	if bondtrial.NewtonPerPoundForce != 0.45359237*9.80665 {
		t.Error("the pound-force is exact by definition")
	}
}

func TestStress(t *testing.T) {
	// 1 N/mm² is 1 MPa, by definition.
	if got := bondtrial.Stress(4000, 400); got != 10 {
		t.Errorf("4000 N over 400 mm² is %v MPa, want 10", got)
	}
	// One pound-force over one square inch is one psi.
	if got := bondtrial.Stress(bondtrial.NewtonPerPoundForce, 25.4*25.4); math.Abs(float64(got)-bondtrial.MegapascalPerPSI) > 1e-17 {
		t.Errorf("1 lbf over 1 in² is %v MPa, want %v", got, bondtrial.MegapascalPerPSI)
	}
}

func TestUnits(t *testing.T) {
	for _, c := range []struct {
		text, unit string
		units      bondtrial.Units
		shown      float64 // of 6.894757 MPa
	}{
		{"si", "MPa", bondtrial.SI, 6.894757},
		{"us", "psi", bondtrial.US, 1000},
		{" PSI", "psi", bondtrial.US, 1000},
		{"MPa", "MPa", bondtrial.SI, 6.894757},
	} {
		u, err := bondtrial.ParseUnits(c.text)
		if err != nil || u != c.units || u.StressUnit() != c.unit {
			t.Errorf("%q: %v, %v", c.text, u, err)
		}
		// The factor has seven digits.
		if got := u.Stress(6.894757); math.Abs(got-c.shown) > 1e-7*c.shown {
			t.Errorf("6.894757 MPa are shown as %v %s, want %v", got, u.StressUnit(), c.shown)
		}
		if !math.IsInf(u.Stress(math.Inf(1)), 1) || !math.IsNaN(u.Stress(math.NaN())) {
			t.Errorf("%s: what is no number does not stay so", c.text)
		}
	}
	for _, text := range []string{"", "S I", "metric", "bar"} {
		want := `unknown units "` + text + `": write si (MPa) or us (psi)`
		if _, err := bondtrial.ParseUnits(text); err == nil || err.Error() != want {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}
