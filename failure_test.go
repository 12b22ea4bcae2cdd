package bondtrial_test

import (
	"testing"

	"bondtrial"
)

// The letter codes of ISO 10365, from memory, unconfirmed; which of them say that
// the wood failed is the rule in the description of the method: SF and CSF.
func TestParseFailure(t *testing.T) {
	for _, c := range []struct {
		text   string
		want   bondtrial.Failure
		inWood bool
	}{
		{"", bondtrial.NoFailureCode, false},
		{"  ", bondtrial.NoFailureCode, false},
		{"SF", bondtrial.SubstrateFailure, true},
		{"CSF", bondtrial.CohesiveSubstrate, true},
		{"CF", bondtrial.CohesionFailure, false},
		{"SCF", bondtrial.SpecialCohesion, false},
		{"AF", bondtrial.AdhesionFailure, false},
		{"ACFP", bondtrial.AdhesionCohesionPeel, false},
		{"DF", bondtrial.DelaminationFailure, false},
		{" csf ", bondtrial.CohesiveSubstrate, true},
		{"Scf", bondtrial.SpecialCohesion, false},
	} {
		got, err := bondtrial.ParseFailure(c.text)
		if err != nil || got != c.want || got.InWood() != c.inWood {
			t.Errorf("%q: %q, in the wood %v, %v; want %q, %v", c.text, got, got.InWood(), err, c.want, c.inWood)
		}
	}
}

func TestParseFailureRefuses(t *testing.T) {
	const want = "unknown failure code; the ISO 10365 codes are SF, CSF, CF, SCF, AF, ACFP, DF"
	for _, text := range []string{"X", "S F", "SF CF", "SF,CF", "SFX", "wood", "0", "ＳＦ"} {
		got, err := bondtrial.ParseFailure(text)
		if err == nil || err.Error() != want || got != bondtrial.NoFailureCode {
			t.Errorf("%q: %q, %v; want the error %q", text, got, err, want)
		}
	}
}
