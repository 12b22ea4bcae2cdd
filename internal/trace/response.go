package trace

import (
	"fmt"
	"math"

	"bondtrial"
)

// Response is a figure of a record that adhesives are compared by.
type Response int

const (
	EnergyToFailure Response = iota // J, to where the load has fallen to a fifth of the peak
	TravelAtPeak                    // mm, without the toe
	LoadKept                        // % of the peak left at 1.5 times the travel (or time) at the peak
)

// Responses lists them all.
func Responses() []Response { return []Response{EnergyToFailure, TravelAtPeak, LoadKept} }

// String returns the response in the words of the trade.
func (r Response) String() string {
	switch r {
	case EnergyToFailure:
		return "energy to failure"
	case TravelAtPeak:
		return "travel at the peak"
	case LoadKept:
		return "load kept after the peak"
	}
	return "unknown response"
}

// Unit returns the unit that its bounds are in.
func (r Response) Unit() string {
	switch r {
	case EnergyToFailure:
		return "J"
	case TravelAtPeak:
		return "mm"
	}
	return "%"
}

// Bound is an interval that a response lies in: a result where Lo equals Hi, "at
// least Lo" where Hi is +Inf, "at most Hi" where Lo is 0.
type Bound struct{ Lo, Hi float64 }

// Exact reports whether the bound is a single value.
func (b Bound) Exact() bool { return b.Lo == b.Hi }

// AtLeast reports whether the bound is only a lower one.
func (b Bound) AtLeast() bool { return math.IsInf(b.Hi, 1) }

// leastKept is the load kept, % of the peak, under which a record says no more than
// "at most"; three standard deviations of the noise where those are more. Common
// practice, no source.
const leastKept = 1.0

// Response returns what the record says of the bond, for the state of the reading.
// Where the wood or the rig gave out, or the record ended first, the bond would have
// taken at least as much energy and travel. What it would have kept after its own peak
// such a record does not say. ok is false, with the reason, where it says nothing.
func (g Figures) Response(r Response, state bondtrial.State) (b Bound, reason string, ok bool) {
	if state == bondtrial.SetAside {
		return Bound{}, "the reading is set aside", false
	}
	limited := state == bondtrial.WoodLimited || state == bondtrial.RigLimited || g.Clipped
	rising := g.Left > 0.95 // the load was still at its peak when the record ended
	at := func(n Number, least bool) (Bound, string, bool) {
		switch {
		case !n.Exists():
			return Bound{}, n.Reason, false
		case !(n.Value > 0):
			return Bound{}, fmt.Sprintf("%s is not above zero in this record", r), false
		case least:
			return Bound{n.Value, math.Inf(1)}, "", true
		}
		return Bound{n.Value, n.Value}, "", true
	}
	switch r {
	case EnergyToFailure:
		return at(g.EnergyTaken, limited || g.FailureAt < 0)
	case TravelAtPeak:
		return at(g.TravelAtPeak, limited || rising || g.letBack())
	case LoadKept:
		return g.kept(state, rising)
	}
	panic("trace: no such response")
}

// letBack reports whether the rig was let back before the bond gave way.
func (g Figures) letBack() bool { return g.Failing.Word == Unfinished && g.Unloaded }

func (g Figures) kept(state bondtrial.State, rising bool) (Bound, string, bool) {
	switch {
	case state == bondtrial.WoodLimited:
		return Bound{}, "the wood failed, so what the bond keeps after its peak is not known", false
	case state == bondtrial.RigLimited || g.Clipped:
		return Bound{}, "the rig was at its limit, so the peak was not reached", false
	case rising || g.letBack():
		return Bound{}, "the record ends before the load falls", false
	case !g.LoadKept.Exists():
		return Bound{}, g.LoadKept.Reason, false
	}
	if floor := max(leastKept, 300*g.Zero.Noise/g.Peak); g.LoadKept.Value < floor {
		return Bound{0, floor}, "", true
	}
	return Bound{g.LoadKept.Value, g.LoadKept.Value}, "", true
}
