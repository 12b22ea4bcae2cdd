package schedule_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bondtrial/internal/plan/schedule"
)

// tiny is a trial in whole minutes from Monday 0:00, with the same hours every day
// of the week, small enough to try every schedule.
type tiny struct {
	from, to                  int // working hours, minutes since midnight
	clamps                    int
	glue, press, cure         []int // by specimen in glue-up order; glue-up work: its last third is clamping
	releaseWork, breakingWork int
	order                     []int // break order
}

// fit returns the earliest start from t on that does not straddle closing time.
func (y *tiny) fit(t, work int) int {
	for {
		if at := t % 1440; at < y.from {
			t += y.from - at
		} else if at+work > y.to {
			t += 1440 - at
		} else {
			return t
		}
	}
}

// shortest tries every order in which the hands can do things and returns the
// minute at which the best of them ends. Each thing is begun as early as its place
// in that order allows, which no schedule with the same order can beat.
func (y *tiny) shortest(now, glued, broken int, clamped, off []int, best int) int {
	if broken == len(y.order) {
		return min(now, best)
	}
	if now >= best {
		return best
	}
	if pressed := inClamp(y, glued, off); glued < len(y.glue) && (y.press[glued] == 0 || pressed < y.clamps) {
		end := y.fit(now, y.glue[glued]) + y.glue[glued]
		clamped[glued] = end
		if y.press[glued] == 0 {
			off[glued] = end
		}
		best = y.shortest(end, glued+1, broken, clamped, off, best)
		off[glued] = -1
	}
	for i := range glued {
		if off[i] < 0 {
			off[i] = y.fit(max(now, clamped[i]+y.press[i]), y.releaseWork) + y.releaseWork
			best = y.shortest(off[i], glued, broken, clamped, off, best)
			off[i] = -1
		}
	}
	if i := y.order[broken]; i < glued && off[i] >= 0 {
		end := y.fit(max(now, clamped[i]+y.cure[i]), y.breakingWork) + y.breakingWork
		best = y.shortest(end, glued, broken+1, clamped, off, best)
	}
	return best
}

func inClamp(y *tiny, glued int, off []int) (n int) {
	for i := range glued {
		if off[i] < 0 {
			n++
		}
	}
	return n
}

// request says the same to the package.
func (y *tiny) request() schedule.Request {
	r := schedule.Request{Clamps: y.clamps, Release: time.Duration(y.releaseWork) * time.Minute, Break: time.Duration(y.breakingWork) * time.Minute,
		Hours: schedule.Hours{Location: time.UTC}, Start: schedule.Date{Year: 2027, Month: 3, Day: 1}}
	for d := range r.Hours.Week {
		r.Hours.Week[d] = schedule.Span{From: time.Duration(y.from) * time.Minute, To: time.Duration(y.to) * time.Minute}
	}
	for i := range y.glue {
		third := time.Duration(y.glue[i]) * time.Minute / 3
		r.Adhesives = append(r.Adhesives, schedule.Adhesive{Name: fmt.Sprint("a", i), ClampTime: time.Duration(y.press[i]) * time.Minute,
			FullCure: time.Duration(y.cure[i]) * time.Minute, Hands: schedule.Hands{Spread: third, Join: third, Clamp: third}})
		r.Specimens = append(r.Specimens, schedule.Specimen{Code: fmt.Sprint("s", i), Adhesive: i})
	}
	for _, i := range y.order {
		r.BreakOrder = append(r.BreakOrder, r.Specimens[i].Code)
	}
	return r
}

// On trials small enough to try every schedule, the bound is never later than the
// best of them and the plan never earlier; and the plan is mostly the best.
func TestAgainstEverySchedule(t *testing.T) {
	tried, best := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 4).Draw(t, "specimens")
		y := &tiny{clamps: rapid.IntRange(1, 3).Draw(t, "clamps"), releaseWork: rapid.IntRange(1, 10).Draw(t, "release"), breakingWork: rapid.IntRange(1, 60).Draw(t, "break")}
		y.from = rapid.IntRange(0, 1200).Draw(t, "from")
		y.to = rapid.IntRange(y.from+90, 1440).Draw(t, "to")
		clamped, off := make([]int, n), make([]int, n)
		for i := range n {
			y.glue = append(y.glue, 3*rapid.IntRange(1, 30).Draw(t, "glue-up"))
			y.press = append(y.press, rapid.IntRange(0, 4).Draw(t, "press")*rapid.IntRange(5, 300).Draw(t, "unit"))
			y.cure = append(y.cure, y.press[i]+rapid.IntRange(1, 3000).Draw(t, "cure"))
			y.order = append(y.order, i)
			off[i] = -1
		}
		y.order = rapid.Permutation(y.order).Draw(t, "break order")
		p, err := schedule.Make(y.request())
		if err != nil {
			t.Fatal(err)
		}
		monday := time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)
		shortest := monday.Add(time.Duration(y.shortest(0, 0, 0, clamped, off, math.MaxInt)) * time.Minute)
		if p.Bound.End().After(shortest) || p.End.Before(shortest) {
			t.Fatalf("bound %v, shortest %v, plan %v", p.Bound.End(), shortest, p.End)
		}
		tried++
		if p.End.Equal(shortest) {
			best++
		}
	})
	t.Logf("%d of %d plans are the shortest there is", best, tried)
}
