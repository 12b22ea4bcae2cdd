package trace

import "math"

// Column is what one column of pixels shows of a curve.
type Column struct {
	At          int     // the column, from 0
	Lo, Hi      float64 // least and largest value in it
	First, Last float64 // value where the curve enters and leaves it
	Samples     int
}

// Decimate brings the forces of a record over an axis down to at most width columns of
// pixels, from the least of the axis to its largest, in order, each with its least and
// largest force: a drawing of them shows every peak that a drawing of all samples would.
// Columns without samples are left out. from and to are the ends of the axis. A record
// without samples gives none. It panics where width is below 1, or the axis is travel
// and the record has none.
func Decimate(r Record, over Axis, width int) (columns []Column, from, to float64) {
	if width < 1 {
		panic("trace: a drawing has a width of 1 at least")
	}
	s := r.Time
	if over == OverTravel {
		if !r.HasTravel() {
			panic("trace: the record has no travel")
		}
		s = r.Travel
	}
	if len(s) == 0 {
		return nil, 0, 0
	}
	from, to = math.Inf(1), math.Inf(-1)
	for _, v := range s {
		from, to = min(from, v), max(to, v)
	}
	all := make([]Column, width)
	scale := float64(width) / (to - from)
	for i, v := range s {
		k := 0
		if to > from {
			k = min(int((v-from)*scale), width-1)
		}
		c, f := &all[k], r.Force[i]
		if c.Samples == 0 {
			*c = Column{At: k, Lo: f, Hi: f, First: f}
		}
		c.Samples++
		c.Lo, c.Hi, c.Last = min(c.Lo, f), max(c.Hi, f), f
	}
	for _, c := range all {
		if c.Samples > 0 {
			columns = append(columns, c)
		}
	}
	return columns, from, to
}
