package cut

import "fmt"

// Used is a piece at hand.
type Used struct {
	Name                     string
	Length, Width, Thickness float64 // mm, as it lies there
	Fresh                    bool    // never glued yet: it need not be planed before its next use
}

// Reuse says how pieces are used again, mm.
type Reuse struct {
	Loss           float64 // thickness lost by planing the old adhesive off before each use
	LeastThickness float64 // a piece thinner than this after planing is retired
}

// Uses returns how many further uses a piece at hand has: a piece that has been
// glued is planed before each, a fresh one before each but the first. Where there are
// none, why says what is short and by how much. Errors are a piece, a loss or a least
// thickness that is not above 0 or is above 100 m.
func Uses(u Used, p Piece, r Reuse) (n int, why string, err error) {
	for _, l := range []struct {
		name string
		mm   float64
	}{
		{"length of a piece", p.Length}, {"width of a piece", p.Width},
		{"length of " + u.Name, u.Length}, {"width of " + u.Name, u.Width}, {"thickness of " + u.Name, u.Thickness},
		{"planing loss of each reuse", r.Loss}, {"least thickness of a reused piece", r.LeastThickness},
	} {
		if err := inRange(l.name, l.mm, 1); err != nil {
			return 0, "", err
		}
	}
	for _, d := range []struct {
		name      string
		has, need float64
	}{{"long", u.Length, p.Length}, {"wide", u.Width, p.Width}} {
		if short := micron(d.need) - micron(d.has); short > 0 {
			return 0, fmt.Sprintf("%s is %g mm %s and a piece is %g mm: %s short", u.Name, d.has, d.name, d.need, say(short)), nil
		}
	}
	spare := micron(u.Thickness) - micron(r.LeastThickness)
	if u.Fresh && spare >= 0 {
		return 1 + int(spare/micron(r.Loss)), "", nil
	}
	need := micron(r.LeastThickness)
	if !u.Fresh {
		need += micron(r.Loss)
	}
	if short := need - micron(u.Thickness); short > 0 {
		what := say(micron(r.LeastThickness))
		if !u.Fresh {
			what += " after planing off " + say(micron(r.Loss))
		}
		return 0, fmt.Sprintf("%s is %g mm thick and has to keep %s: %s short, retire it", u.Name, u.Thickness, what, say(short)), nil
	}
	return int(spare / micron(r.Loss)), "", nil
}
