package schedule

import "time"

// Request is what is to be scheduled.
type Request struct {
	Specimens  []Specimen // in glue-up order
	Adhesives  []Adhesive
	BreakOrder []string // the code of every specimen, once
	Clamps     int      // how many specimens can be under pressure at once
	Hands      Hands    // work on one glue-up, where the adhesive does not say its own
	Release    time.Duration
	Together   bool          // breaks begin when every specimen is cured, not one by one as they are
	Break      time.Duration // work on one break: mounting, breaking, noting the faces
	Hours      Hours
	Start      Date // the first day on which work may be done
}

// DefaultRelease is the work of taking one clamp off where Request.Release is 0
// (common practice, no source).
const DefaultRelease = time.Minute

// Specimen is one joint to be made and broken.
type Specimen struct {
	Code     string
	Adhesive int    // index into Request.Adhesives
	Batch    string // cartridge or mix of that adhesive; empty: none is named
}

// Adhesive is what the label says of one adhesive, and the work it makes.
type Adhesive struct {
	Name           string
	OpenAssembly   time.Duration // longest from the first adhesive on the wood to joining; 0: not stated
	ClosedAssembly time.Duration // longest from joining to full clamp pressure; 0: not stated
	ClampTime      time.Duration // 0: no clamp is taken
	FullCure       time.Duration // from full pressure until it may be broken; required
	CureSource     string        // where FullCure comes from; empty: the label
	LowestC        float64       // lowest temperature of application, °C; NaN: not stated. Carried along only.
	Hands          Hands         // the zero value: those of the request
}

// Hands is the work on one glue-up, in the order it is done. Adhesive that has to
// be mixed beforehand, or to dry before the faces meet, lengthens Spread.
type Hands struct {
	Spread time.Duration // adhesive onto the faces
	Join   time.Duration // faces together, in position
	Clamp  time.Duration // up to full pressure
}

// Total returns the work on one glue-up.
func (h Hands) Total() time.Duration { return h.Spread + h.Join + h.Clamp }

// SplitHands divides the work on one glue-up, where only its total is known: half
// for spreading, a quarter each for joining and clamping (a choice, without a
// source). The three add up to the total exactly.
func SplitHands(total time.Duration) Hands {
	quarter := total / 4
	return Hands{Spread: total - 2*quarter, Join: quarter, Clamp: quarter}
}

// Hours says when there is work.
type Hours struct {
	Location *time.Location
	Week     [7][]Span // by time.Weekday: Week[time.Monday]; ascending, none overlapping another; empty: no work
	DaysOff  []Date
}

// Span is from when until when there is work without a break, by the clock on the
// wall: time since midnight, such as 8*time.Hour, at most 24 h. From is before To.
// Where the next span begins at once there is a pause without length, which no piece
// of work straddles either.
type Span struct{ From, To time.Duration }

// Date is a day of the calendar.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// String returns the date as in 2027-03-01.
func (d Date) String() string { return d.noon().Format(time.DateOnly) }

// Weekday returns the day of the week.
func (d Date) Weekday() time.Weekday { return d.noon().Weekday() }

func (d Date) noon() time.Time { return time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, time.UTC) }

// add returns the date so many days later.
func (d Date) add(days int) Date {
	return dateOf(time.Date(d.Year, d.Month, d.Day+days, 12, 0, 0, 0, time.UTC))
}

func (d Date) before(e Date) bool { return d.noon().Before(e.noon()) }

// dateOf returns the day that t falls on where t is told.
func dateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{y, m, d}
}
