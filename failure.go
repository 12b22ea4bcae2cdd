package bondtrial

import (
	"fmt"
	"strings"
)

// Failure is a designation of the way a bonded joint failed, by the letter codes
// of ISO 10365. The meanings given here are from memory, unconfirmed: the
// standard itself was not at hand.
type Failure string

const (
	NoFailureCode         Failure = ""     // not recorded
	SubstrateFailure      Failure = "SF"   // the wood failed, away from the bond
	CohesiveSubstrate     Failure = "CSF"  // the wood failed close to the bond
	CohesionFailure       Failure = "CF"   // inside the adhesive
	SpecialCohesion       Failure = "SCF"  // inside the adhesive, a thin layer left on one face
	AdhesionFailure       Failure = "AF"   // at the interface
	AdhesionCohesionPeel  Failure = "ACFP" // interface and adhesive, by peeling
	DelaminationFailure   Failure = "DF"   // the joint opened along the bond line
	knownFailureCodesText         = "SF, CSF, CF, SCF, AF, ACFP, DF"
)

// ParseFailure reads an ISO 10365 code in any case. An empty string is
// NoFailureCode; anything else unknown is an error that lists the codes.
func ParseFailure(s string) (Failure, error) {
	f := Failure(strings.ToUpper(strings.TrimSpace(s)))
	switch f {
	case NoFailureCode, SubstrateFailure, CohesiveSubstrate, CohesionFailure, SpecialCohesion,
		AdhesionFailure, AdhesionCohesionPeel, DelaminationFailure:
		return f, nil
	}
	return NoFailureCode, fmt.Errorf("unknown failure code; the ISO 10365 codes are %s", knownFailureCodesText)
}

// InWood reports whether the code says that the wood failed and not the bond.
func (f Failure) InWood() bool { return f == SubstrateFailure || f == CohesiveSubstrate }
