package bondtrial_test

import (
	"fmt"
	"math"
	"testing"

	"bondtrial"
)

var (
	notRecorded = bondtrial.Percent(math.NaN())
	unlimited   = bondtrial.Megapascal(math.Inf(1))
)

// The life of one specimen, from the boards to what its break says of the bond
// and of the wood.
func Example() {
	// Two pieces of ash, cut from board 3, are joined with the adhesive Tarn,
	// and break on a Monday.
	s := bondtrial.Specimen{Code: "A7", Adhesive: "Tarn", Wood: "ash", Board: "3", Session: "monday"}

	// The rig reads 4.2 kN at the peak over 20 by 25 mm, and 80 % of the broken
	// area is wood.
	r := bondtrial.Reading{Specimen: s, Strength: bondtrial.Stress(4200, 20*25), WoodFailure: 80}

	state := r.State(bondtrial.DefaultThreshold)
	bond, _ := r.BondBound(bondtrial.DefaultThreshold)
	wood, _ := r.WoodBound(bondtrial.DefaultThreshold)
	fmt.Printf("%s: %.1f MPa, %s\n", r.Code, float64(r.Strength), state)
	fmt.Printf("the bond: %.1f to %.1f MPa, a result: %v\n", float64(bond.Lo), float64(bond.Hi), bond.Exact())
	fmt.Printf("the wood: %.1f to %.1f MPa, a result: %v\n", float64(wood.Lo), float64(wood.Hi), wood.Exact())

	// It turns out that the specimen slipped in the grips.
	r.SetAside = "slipped in the grips"
	_, ok := r.BondBound(bondtrial.DefaultThreshold)
	fmt.Printf("%s, used: %v\n", r.State(bondtrial.DefaultThreshold), ok)
	// Output:
	// A7: 8.4 MPa, wood-limited
	// the bond: 8.4 to +Inf MPa, a result: false
	// the wood: 8.4 to 8.4 MPa, a result: true
	// set aside, used: false
}

// The rules are those of the table "A reading" in the description of the method:
// what a reading is, and what it says of the bond and of the wood.
func TestStateOfAReading(t *testing.T) {
	const s = 8.4
	result, atLeast := bondtrial.Bound{Lo: s, Hi: s}, bondtrial.Bound{Lo: s, Hi: unlimited}
	reading := func(share bondtrial.Percent, code bondtrial.Failure) bondtrial.Reading {
		return bondtrial.Reading{Strength: s, WoodFailure: share, Failure: code}
	}
	rig := func(r bondtrial.Reading) bondtrial.Reading { r.RigLimited = true; return r }
	aside := func(r bondtrial.Reading) bondtrial.Reading { r.SetAside = "slipped"; return r }
	for _, c := range []struct {
		name       string
		r          bondtrial.Reading
		threshold  bondtrial.Percent
		want       bondtrial.State
		bond, wood bondtrial.Bound
	}{
		{"no wood on the faces", reading(0, ""), 75, bondtrial.BondBroke, result, atLeast},
		{"just below the threshold", reading(74.9, ""), 75, bondtrial.BondBroke, result, atLeast},
		{"at the threshold", reading(75, ""), 75, bondtrial.WoodLimited, atLeast, result},
		{"nothing but wood", reading(100, ""), 75, bondtrial.WoodLimited, atLeast, result},
		{"another threshold", reading(75, ""), 90, bondtrial.BondBroke, result, atLeast},
		{"nothing recorded", reading(notRecorded, ""), 75, bondtrial.BondBroke, result, atLeast},
		{"nothing recorded, threshold 0", reading(notRecorded, ""), 0, bondtrial.BondBroke, result, atLeast},
		{"code of the bond", reading(notRecorded, bondtrial.CohesionFailure), 75, bondtrial.BondBroke, result, atLeast},
		{"code of the bond, much wood", reading(80, bondtrial.AdhesionFailure), 75, bondtrial.WoodLimited, atLeast, result},
		{"code of the wood", reading(notRecorded, bondtrial.SubstrateFailure), 75, bondtrial.WoodLimited, atLeast, result},
		{"code of the wood, little wood", reading(10, bondtrial.CohesiveSubstrate), 75, bondtrial.WoodLimited, atLeast, result},
		{"the rig's limit", rig(reading(notRecorded, "")), 75, bondtrial.RigLimited, atLeast, atLeast},
		{"the rig's limit goes before the wood", rig(reading(100, "SF")), 75, bondtrial.RigLimited, atLeast, atLeast},
		{"set aside goes before all", aside(rig(reading(100, "SF"))), 75, bondtrial.SetAside, bondtrial.Bound{}, bondtrial.Bound{}},
	} {
		used := c.want != bondtrial.SetAside
		bond, bondOK := c.r.BondBound(c.threshold)
		wood, woodOK := c.r.WoodBound(c.threshold)
		if got := c.r.State(c.threshold); got != c.want || bond != c.bond || wood != c.wood || bondOK != used || woodOK != used {
			t.Errorf("%s: %v, bond %v (%v), wood %v (%v); want %v, %v, %v (%v)", c.name, got, bond, bondOK, wood, woodOK, c.want, c.bond, c.wood, used)
		}
	}
}

// Every reading is in one state, and a higher threshold only turns wood-limited
// readings into broken bonds.
func TestThresholdOnlyMovesReadingsToTheBond(t *testing.T) {
	for _, code := range []bondtrial.Failure{"", "SF", "CF"} {
		for _, share := range []bondtrial.Percent{notRecorded, 0, 50, 75, 90, 100} {
			r := bondtrial.Reading{Strength: 8, WoodFailure: share, Failure: code}
			last := bondtrial.WoodLimited
			for _, threshold := range []bondtrial.Percent{0, 50, 75, 90, 100} {
				state := r.State(threshold)
				if state != bondtrial.WoodLimited && state != bondtrial.BondBroke || threshold > 0 && state == bondtrial.WoodLimited && last == bondtrial.BondBroke {
					t.Errorf("code %q, %v %%: %v at threshold %v after %v", code, share, state, threshold, last)
				}
				last = state
			}
		}
	}
}

func TestBounds(t *testing.T) {
	if b := bondtrial.Exactly(8); !b.Exact() || b.Lo != 8 || b.Hi != 8 {
		t.Errorf("Exactly(8) is %v", b)
	}
	if b := bondtrial.AtLeast(8); b.Exact() || b.Lo != 8 || b.Hi != unlimited {
		t.Errorf("AtLeast(8) is %v", b)
	}
}

func TestWordsOfStates(t *testing.T) {
	for state, want := range map[bondtrial.State]string{
		bondtrial.BondBroke: "bond broke", bondtrial.WoodLimited: "wood-limited", bondtrial.RigLimited: "rig-limited",
		bondtrial.SetAside: "set aside", bondtrial.State(9): "unknown state",
	} {
		if got := state.String(); got != want {
			t.Errorf("state %d is %q, want %q", int(state), got, want)
		}
	}
	// A reading that was not filled in must not look like one that is kept out.
	if r := (bondtrial.Reading{}); r.State(bondtrial.DefaultThreshold) != bondtrial.BondBroke {
		t.Errorf("an empty reading is %v", r.State(bondtrial.DefaultThreshold))
	}
}
