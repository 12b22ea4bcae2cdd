package cure

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"time"

	"bondtrial/internal/record"
)

// panel is the hardness of one adhesive against the time since its glue-up, as it is
// drawn. Lengths are in the units of the drawing.
type panel struct {
	Of     string
	N      int
	Unit   string // of the time: h or days
	Points []dot
	Line   string // through the points
	Ticks  []tick
	Levels []tick
	Hard   float64 // where hard begins
}

type dot struct {
	X, Y float64
	Says string
}

type tick struct {
	At   float64
	Text string
}

// The space of the axes within the drawing of 340 by 200; the template draws to it.
const (
	plotLeft, plotRight = 44, 326
	plotTop, plotBottom = 34, 154
)

// fewestLooks is how many looks make a figure; longestInHours the time up to which
// its axis counts hours, not days.
const (
	fewestLooks    = 2
	longestInHours = 72
)

// level is the height of a hardness in the drawing.
func level(hardness float64) float64 {
	return plotBottom - (hardness-1)/4*(plotBottom-plotTop)
}

// panelsOf returns a panel for each adhesive that was looked at, none where there are
// fewer than two looks with a hardness and a known glue-up.
func panelsOf(t *record.Trial) []panel {
	type seen struct {
		since    time.Duration
		hardness int
	}
	looks := make(map[string][]seen)
	var longest time.Duration
	n := 0
	for i := range t.Cures {
		l := &t.Cures[i]
		since, _ := gluedSince(t, l)
		if l.Cured.Hardness == 0 || since <= 0 {
			continue
		}
		n++
		looks[l.Adhesive] = append(looks[l.Adhesive], seen{since, l.Cured.Hardness})
		longest = max(longest, since)
	}
	if n < fewestLooks {
		return nil
	}
	unit, per := "h", time.Hour
	if longest > longestInHours*time.Hour {
		unit, per = "days", 24*time.Hour
	}
	step := niceStep(float64(longest) / float64(per))
	end := math.Ceil(float64(longest)/float64(per)/step) * step
	x := func(v float64) float64 { return round(plotLeft + v/end*(plotRight-plotLeft)) }
	var out []panel
	for _, a := range labelsOf(t) {
		if len(looks[a.Label]) == 0 {
			continue
		}
		p := panel{Of: a.Shown, N: len(looks[a.Label]), Unit: unit, Hard: level(hardEnough)}
		for v := 0.0; v <= end+step/2; v += step {
			p.Ticks = append(p.Ticks, tick{x(v), strconv.FormatFloat(v, 'g', 4, 64)})
		}
		for h := 1; h <= 5; h++ {
			p.Levels = append(p.Levels, tick{level(float64(h)), strconv.Itoa(h)})
		}
		for _, s := range looks[a.Label] {
			p.Points = append(p.Points, dot{x(float64(s.since) / float64(per)), level(float64(s.hardness)), "after " + Span(s.since) + ": " + hardness.words(s.hardness)})
		}
		p.join()
		out = append(out, p)
	}
	return out
}

// join draws a line through the points in the order of their times.
func (p *panel) join() {
	slices.SortStableFunc(p.Points, func(a, b dot) int { return cmp.Compare(a.X, b.X) })
	for i, d := range p.Points {
		if i > 0 {
			p.Line += " "
		}
		p.Line += strconv.FormatFloat(d.X, 'f', -1, 64) + "," + strconv.FormatFloat(d.Y, 'f', -1, 64)
	}
}

// niceStep is a step of 1, 2 or 5 times a power of ten, or of 6 or 12 where that
// suits hours, that divides a length into at most six.
func niceStep(length float64) float64 {
	for _, s := range []float64{0.1, 0.2, 0.5, 1, 2, 5, 6, 12, 24, 50} {
		if length/s <= 6 {
			return s
		}
	}
	return math.Pow(10, math.Ceil(math.Log10(length/6)))
}

func round(x float64) float64 { return math.Round(x*10) / 10 }
