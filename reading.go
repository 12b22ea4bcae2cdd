package bondtrial

import "math"

// Specimen is one glued joint and where it comes from. Empty strings mean that
// the trial does not name the thing.
type Specimen struct {
	Code     string
	Adhesive string
	Wood     string
	Board    string // numbered within its wood: board 1 of ash is not board 1 of larch
	Batch    string // the cartridge or mixing of its adhesive that it was glued with
	Session  string // the day or sitting of the break
	Trial    string
	Factors  map[string]string // further conditions the trial declares, by column name
}

// Reading is what one break gave.
type Reading struct {
	Specimen
	Strength    Megapascal // nominal, at the peak; 0 only where SetAside gives a reason
	WoodFailure Percent    // share of the broken area that is wood; NaN where not recorded
	Failure     Failure
	RigLimited  bool   // the rig or its sensor reached its limit before anything broke
	SetAside    string // why the reading is not used; empty when it is
	Note        string
	GlueOrder   int     // position in the glue-up order, from 1; 0 when not recorded
	BreakOrder  int     // position in the breaking order, from 1; 0 when not recorded
	MoisturePct Percent // moisture content of the wood at the break; NaN where not recorded
	Line        int     // line in the file it was read from
}

// State is what a reading means. Every reading is in exactly one.
type State int

const (
	BondBroke   State = iota // the strength of the bond
	WoodLimited              // the wood failed first: a lower bound of the bond's strength
	RigLimited               // nothing broke: a lower bound of the bond's and of the wood's strength
	SetAside                 // not used
)

// String returns the state in the words of the trade.
func (s State) String() string {
	switch s {
	case BondBroke:
		return "bond broke"
	case WoodLimited:
		return "wood-limited"
	case RigLimited:
		return "rig-limited"
	case SetAside:
		return "set aside"
	}
	return "unknown state"
}

// DefaultThreshold is the share of wood failure from which a reading counts as
// wood-limited. 75 % is the share that ASTM D2559 asks for in dry block shear
// (from memory, unconfirmed); a trial may set its own.
const DefaultThreshold Percent = 75

// State returns what the reading means when wood failure counts from the given
// threshold. A reason to set the reading aside goes before everything else, then
// the rig's limit, then the wood's.
func (r Reading) State(threshold Percent) State {
	switch {
	case r.SetAside != "":
		return SetAside
	case r.RigLimited:
		return RigLimited
	case r.Failure.InWood(), !math.IsNaN(float64(r.WoodFailure)) && r.WoodFailure >= threshold:
		return WoodLimited
	}
	return BondBroke
}

// Bound is an interval that a strength lies in, MPa: a result where Lo equals
// Hi, "at least Lo" where Hi is +Inf.
type Bound struct{ Lo, Hi Megapascal }

// Exact reports whether the bound is a single value.
func (b Bound) Exact() bool { return b.Lo == b.Hi }

// Exactly is the bound of a result.
func Exactly(s Megapascal) Bound { return Bound{s, s} }

// AtLeast is the bound of a strength that was not reached.
func AtLeast(s Megapascal) Bound { return Bound{s, Megapascal(math.Inf(1))} }

// BondBound returns what the reading says of the bond's strength; ok is false
// when it says nothing because it is set aside.
func (r Reading) BondBound(threshold Percent) (b Bound, ok bool) {
	switch r.State(threshold) {
	case BondBroke:
		return Exactly(r.Strength), true
	case WoodLimited, RigLimited:
		return AtLeast(r.Strength), true
	}
	return Bound{}, false
}

// WoodBound returns what the reading says of the wood's own strength: the
// strength where the wood failed, a lower bound where something else did. ok is
// false when the reading is set aside.
func (r Reading) WoodBound(threshold Percent) (b Bound, ok bool) {
	switch r.State(threshold) {
	case WoodLimited:
		return Exactly(r.Strength), true
	case BondBroke, RigLimited:
		return AtLeast(r.Strength), true
	}
	return Bound{}, false
}
