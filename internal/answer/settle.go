package answer

import "math"

// settleMost is the largest number of further specimens that is still worth
// naming.
const settleMost = 200

// settle estimates how many more specimens of each adhesive would be expected to
// settle a pair: the variance of the difference is taken to shrink with the
// number of specimens, the difference to stay where it is, and the interval to be
// just short enough at the number returned.
func (f *fitted) settle(c *contrast, crit float64, set Settings) Settle {
	p := &c.pair
	switch p.Verdict {
	case Stronger, Weaker, Same:
		return Settle{}
	}
	a, b := &f.bench.cells[p.a], &f.bench.cells[p.b]
	if a.OnlyAtLeast || b.OnlyAtLeast {
		return Settle{Reason: "the wood gave way first every time: only a stronger wood, or a smaller bonded area, can show the difference"}
	}
	n := 2 / (1/float64(a.N) + 1/float64(b.N))
	margin := math.Log1p(set.Margin)
	d := math.Abs(c.mid)
	half := crit * 0.5 * (c.dn + c.up)
	sd := 0.5 * (c.dn + c.up) * math.Sqrt(math.Pi/2)
	// The interval excludes 1 when its half-length has shrunk to d; it lies within
	// the margin when 1.645 standard deviations fit between d and the margin.
	apart := needed(n, half, d)
	alike := needed(n, 1.645*sd, margin-d)
	toward := Stronger
	if c.mid < 0 {
		toward = Weaker
	}
	more := apart
	if alike < apart {
		more, toward = alike, Same
	}
	if more > settleMost {
		return Settle{Toward: toward, Reason: "the difference lies so close to the margin that no reasonable number of specimens would settle it"}
	}
	return Settle{More: more, Toward: toward}
}

// needed is how many specimens to add to n so that a half-length shrinks to want.
func needed(n, half, want float64) int {
	if want <= 0 {
		return math.MaxInt
	}
	r := half / want
	more := math.Ceil(n * (r*r - 1))
	if more > math.MaxInt32 {
		return math.MaxInt
	}
	return max(1, int(more))
}
