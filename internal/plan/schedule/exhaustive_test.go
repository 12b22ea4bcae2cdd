package schedule_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bondtrial/internal/plan/schedule"
)

// tiny is a trial in whole minutes from Monday 0:00, with the same spans every day
// of the week, small enough to try every schedule.
type tiny struct {
	hours                     [][2]int // spans of work, minutes since midnight
	clamps                    int
	glue, press, cure         []int // by specimen in glue-up order; glue-up work: its last third is clamping
	releaseWork, breakingWork int
	order                     []int // break order
}

// fit returns the earliest start from t on of what must lie within one span.
func (y *tiny) fit(t, work int) int {
	for midnight := t - t%1440; ; midnight += 1440 {
		for _, s := range y.hours {
			if start := max(t, midnight+s[0]); start+work <= midnight+s[1] {
				return start
			}
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
		for _, s := range y.hours {
			r.Hours.Week[d] = append(r.Hours.Week[d], schedule.Span{From: time.Duration(s[0]) * time.Minute, To: time.Duration(s[1]) * time.Minute})
		}
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
		from := rapid.IntRange(0, 1200).Draw(t, "from")
		to := rapid.IntRange(from+90, 1440).Draw(t, "to") // room for any piece of work
		y.hours = [][2]int{{from, to}}
		if from > 1 && rapid.Bool().Draw(t, "a span before") {
			end := rapid.IntRange(1, from).Draw(t, "its end")
			y.hours = [][2]int{{rapid.IntRange(max(0, end-200), end-1).Draw(t, "its begin"), end}, {from, to}}
		}
		if to < 1440 && rapid.Bool().Draw(t, "a span after") {
			begin := rapid.IntRange(to, 1439).Draw(t, "its begin")
			y.hours = append(y.hours, [2]int{begin, rapid.IntRange(begin+1, 1440).Draw(t, "its end")})
		}
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
