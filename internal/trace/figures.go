package trace

// Options say how a record is analysed. The zero value is right for most.
type Options struct {
	Zero       *float64    // N as recorded; nil: taken from the quiet start
	Rig        *Compliance // the rig's own travel; nil: not known, nothing is subtracted
	KeepSpikes bool        // leave spikes in
	KeepDrift  bool        // leave a drift of zero in
	KeepToe    bool        // count travel from where the load begins to rise, toe included
	Thresholds Thresholds  // of the way of failing; the zero value: [Defaults]
}

// Axis is what a curve of forces stands over.
type Axis string

const (
	OverTravel Axis = "travel" // mm
	OverTime   Axis = "time"   // s
)

// Drop is one sudden loss of load: at least the share [Thresholds.Partial] of the peak
// within the short time.
type Drop struct {
	At, End  int     // samples of its beginning and its end
	From, To float64 // N, the load at its beginning, and what it came to rest at: a swing of the cell is no part of it
	Within   float64 // N, the most that went within the short time and stayed gone
	Jump     bool    // the load jumps there and back: a spike that the filter left in, and no drop
}

// Size returns the load that the drop took, N.
func (d Drop) Size() float64 { return d.From - d.To }

// Figures are what a record says. Places are samples, counted from 0.
type Figures struct {
	Sampling Sampling
	Zero     Zero
	Spikes   int  // samples taken out of the force and replaced
	Jumps    int  // the same in the travel
	Turned   bool // the load was recorded as negative and turned round
	Unloaded bool // the rig was let back before the load was gone
	Clipped  bool // the force stood at one largest value: the sensor was at its limit
	Over     Axis // what FallRatio, LoadKept and Spread are counted over

	Peak         float64 // N, the largest force after spikes were taken out; never smoothed
	PeakAt       int
	TimeToPeak   Number  // s from where the load begins to rise; without travel from the origin
	TravelAtPeak Number  // mm from the origin: where the load begins, without its toe
	Stiffness    Number  // N/mm, of the steepest line fitted between 10 and 60 % of the peak
	LoadingRate  Number  // N/s, the same over time
	Toe          Number  // of the axis, from the quiet start to the origin: mm or s
	YieldLoad    Number  // N, where the slope falls below half the stiffness for good before the peak; the peak where it never does
	YieldRatio   Number  // travel where the load begins to fall at once over Peak/Stiffness; 1 for a straight rise
	EnergyToPeak Number  // J
	ToFailure    Number  // J, to where the load has fallen to [Thresholds.Gone] of the peak
	EnergyTaken  Number  // J, the same where the record reaches there, else to its end
	FailureAt    int     // that sample; −1 where the record ends first
	FallRatio    Number  // travel at 80 % of the peak after the peak, over travel at the peak
	Spread       Number  // travel from the peak to half of it after the peak, over travel at the peak
	LoadKept     Number  // % of the peak left at 1.5 times the travel at the peak
	Left         float64 // share of the peak, 0 to 1: the least load after the peak
	LargestDrop  float64 // N, the largest fall within ShortTime
	DropAt       int     // where it begins
	ShortTime    float64 // s
	Drops        []Drop  // in the order of the record
	Failing      Failing
	Notes        []string // what was done to the copy of the record, and what to look at
}

// Word is the way of failing in one word.
type Word string

const (
	Snap       Word = "snap"       // most of the load went at once
	Step       Word = "step"       // several partial drops
	SlowYield  Word = "slow yield" // the load fell gradually
	Unfinished Word = "unfinished" // the record ends, or the rig unloads, before the load is gone
	Unclear    Word = "unclear"    // none of these plainly, or the record does not show it
)

// Words lists them all.
func Words() []Word { return []Word{Snap, Step, SlowYield, Unfinished, Unclear} }

// Thresholds are the limits that the word rests on. Loads are shares of the peak, 0
// to 1. All are common practice, no source, and were settled on simulated breaks.
type Thresholds struct {
	AtOnce      float64 // snap: a drop within the short time takes at least this
	Full        float64 // snap: the load at the beginning of that drop is at least this
	Promptly    float64 // snap: the travel there is at most this many times that at the peak
	Straight    float64 // snap: the yield ratio is at most this
	Plateau     float64 // snap without travel: of the time to the peak, at most this share is above 90 % of it
	Partial     float64 // a drop takes at least this
	Sudden      float64 // and at least this share of it within the short time
	Shed        float64 // step: all partial drops together take at least this share of what is lost in all
	Quicker     float64 // and within the short time this many times what the load rose by in as long a time on its way to the peak
	Gradual     float64 // slow yield: no drop within the short time takes more than this
	GradualFall float64 // slow yield: from the peak to half of it the travel grows by at least this share
	Yielded     float64 // slow yield, then gone at once: the drop begins at this many times the travel at the peak
	YieldedLoad float64 // and the load there is at most this
	Unloaded    float64 // unfinished: the load never fell below this
	Gone        float64 // the load counts as gone at this
	ShortTime   float64 // s, the short time is at most this
	ShortShare  float64 // and at most this share of the time to the peak, but two samples at least
	Coarse      float64 // unclear: the short time is more than this share of the time to the peak
	Risen       float64 // unclear: the peak is less than this many standard deviations of the noise
}

// Defaults returns the thresholds that are used where none are given.
func Defaults() Thresholds {
	return Thresholds{
		AtOnce: 0.70, Full: 0.90, Promptly: 1.15, Straight: 1.6, Plateau: 0.45,
		Partial: 0.10, Quicker: 2, Sudden: 0.75, Shed: 0.75, Gradual: 0.20, GradualFall: 0.10, Yielded: 1.3, YieldedLoad: 0.85,
		Unloaded: 0.50, Gone: 0.20,
		ShortTime: 0.1, ShortShare: 0.02, Coarse: 0.10, Risen: 12,
	}
}

// Failing is the word for a way of failing and what it rests on.
type Failing struct {
	Word       Word
	Reason     string     // one sentence
	Evidence   []Evidence // the figures beside their limits, those that decided first
	Thresholds Thresholds
}

// Evidence is one figure that a word rests on, to be shown beside it.
type Evidence struct {
	Name  string
	Value Number
	Unit  string // "%", "times", "s", "" for a count
	Limit string // the limits it was held against, in words
}
