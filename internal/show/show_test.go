package show

import (
	"testing"

	"bondtrial"
	"bondtrial/internal/answer"
)

// 1 MPa is 145.0377 psi (NIST SP 811, appendix B.8).
func TestStrength(t *testing.T) {
	for _, c := range []struct {
		v      answer.Value
		si, us string
	}{
		{8.123, "8.1 MPa", "1180 psi"}, {0.0524, "0.05 MPa", "7.6 psi"}, {123.4, "123 MPa", "17900 psi"}, {99.97, "100 MPa", "14500 psi"},
		{0.997, "1.0 MPa", "140 psi"}, {0.688, "0.69 MPa", "100 psi"}, {answer.None, "–", "–"},
	} {
		if got := WithUnit(bondtrial.SI, c.v); got != c.si {
			t.Errorf("%v: %s, want %s", c.v, got, c.si)
		}
		if got := WithUnit(bondtrial.US, c.v); got != c.us {
			t.Errorf("%v: %s, want %s", c.v, got, c.us)
		}
	}
}

func TestRatiosAndChances(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{Ratio(1.006), "1.01"}, {Ratio(9.996), "10.0"}, {Ratio(150.4), "150"}, {Ratio(0.0234), "0.023"}, {Ratio(answer.None), "–"},
		{Ends(1.04, 1.65), "1.04–1.65"}, {Ends(answer.None, 1.65), "to 1.65"}, {Ends(1.04, answer.None), "from 1.04"}, {Ends(answer.None, answer.None), "–"},
		{Chance(0.9951), ">99 %"}, {Chance(0.9949), "99 %"}, {Chance(0.0049), "<1 %"}, {Chance(0.0051), "1 %"}, {Chance(0.005), "1 %"}, {Chance(0.994999), "99 %"}, {Chance(answer.None), "–"},
		{Trim(15), "15"}, {Trim(12.5), "12.5"}, {Count(4), "four"}, {Count(12), "12"},
		{List(nil), ""}, {List([]string{"a"}), "a"}, {List([]string{"a", "b"}), "a and b"}, {List([]string{"a", "b", "c"}), "a, b and c"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}
