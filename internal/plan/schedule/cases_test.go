package schedule_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"bondtrial/internal/plan/schedule"
)

const (
	hour   = time.Hour
	minute = time.Minute
	day    = 24 * time.Hour
)

// The adhesives of the realistic cases. Times are common practice, no source; names
// are made up.
var (
	white   = schedule.Adhesive{Name: "Pemmet white", OpenAssembly: 5 * minute, ClosedAssembly: 10 * minute, ClampTime: hour, FullCure: day, LowestC: 10}
	yellow  = schedule.Adhesive{Name: "Osker yellow", OpenAssembly: 5 * minute, ClosedAssembly: 5 * minute, ClampTime: 30 * minute, FullCure: day, LowestC: 10}
	foam    = schedule.Adhesive{Name: "Quavik foam", OpenAssembly: 15 * minute, ClosedAssembly: 15 * minute, ClampTime: 4 * hour, FullCure: 14 * day, LowestC: 10}
	slow    = schedule.Adhesive{Name: "Ombrin two-part", OpenAssembly: 30 * minute, ClosedAssembly: 30 * minute, ClampTime: 12 * hour, FullCure: 7 * day, LowestC: 15}
	powder  = schedule.Adhesive{Name: "Sundrel powder", OpenAssembly: 20 * minute, ClosedAssembly: 20 * minute, ClampTime: 12 * hour, FullCure: day, LowestC: 21}
	flex    = schedule.Adhesive{Name: "Rastel flex", OpenAssembly: 15 * minute, ClosedAssembly: 15 * minute, ClampTime: day, FullCure: 14 * day, LowestC: -5}
	liquid  = schedule.Adhesive{Name: "Tolmar liquid", OpenAssembly: 10 * minute, ClosedAssembly: 10 * minute, ClampTime: 12 * hour, FullCure: day, LowestC: 15}
	contact = schedule.Adhesive{Name: "Ludvar contact", ClampTime: 0, FullCure: day, LowestC: 18}
)

// trial makes a request of so many specimens of each adhesive, both orders
// shuffled.
func trial(t testing.TB, each, clamps int, hands, breaking time.Duration, hours schedule.Hours, seed uint64, adhesives ...schedule.Adhesive) schedule.Request {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 1))
	r := schedule.Request{Adhesives: adhesives, Clamps: clamps, Hands: schedule.SplitHands(hands), Break: breaking, Hours: hours, Start: schedule.Date{Year: 2027, Month: 3, Day: 1}}
	for a := range adhesives {
		for range each {
			r.Specimens = append(r.Specimens, schedule.Specimen{Adhesive: a})
		}
	}
	rng.Shuffle(len(r.Specimens), func(i, j int) { r.Specimens[i], r.Specimens[j] = r.Specimens[j], r.Specimens[i] })
	for i := range r.Specimens {
		r.Specimens[i].Code = fmt.Sprintf("K%03d", i+1)
		r.BreakOrder = append(r.BreakOrder, r.Specimens[i].Code)
	}
	rng.Shuffle(len(r.BreakOrder), func(i, j int) { r.BreakOrder[i], r.BreakOrder[j] = r.BreakOrder[j], r.BreakOrder[i] })
	return r
}

// On the stated realistic cases a plan takes at most a tenth longer than no plan
// can beat (the demand made of this package). Each case runs with 20 pairs of orders.
func TestSpanIsNearItsBound(t *testing.T) {
	berlin := zone(t, "Europe/Berlin")
	weekdays := schedule.Hours{Location: berlin, Week: workweek(8*hour, 17*hour)}
	lunch := schedule.Hours{Location: berlin, Week: workweek(8*hour, 12*hour, 13*hour, 17*hour)}
	breaks := schedule.Hours{Location: berlin, Week: workweek(7*hour, 9*hour, 9*hour+20*minute, 12*hour, 12*hour+45*minute, 16*hour)}
	evenings := schedule.Hours{Location: berlin, Week: workweek(18*hour, 21*hour)}
	evenings.Week[time.Saturday] = spans(9*hour, 16*hour)
	saturdays := schedule.Hours{Location: berlin}
	saturdays.Week[time.Saturday] = spans(9*hour, 17*hour)
	short := schedule.Hours{Location: berlin, Week: workweek(9*hour, 13*hour), DaysOff: []schedule.Date{{Year: 2027, Month: 3, Day: 26}, {Year: 2027, Month: 3, Day: 29}}}
	for _, c := range []struct {
		name            string
		each, clamps    int
		hands, breaking time.Duration
		hours           schedule.Hours
		adhesives       []schedule.Adhesive
	}{
		{"two white glues, a day's work, clamps to spare", 6, 12, 5 * minute, 5 * minute, weekdays, []schedule.Adhesive{white, yellow}},
		{"two white glues, four clamps", 15, 4, 5 * minute, 6 * minute, weekdays, []schedule.Adhesive{white, yellow}},
		{"two white glues, two clamps, many", 40, 2, 5 * minute, 8 * minute, weekdays, []schedule.Adhesive{white, yellow}},
		{"six kinds, eight clamps", 8, 8, 5 * minute, 10 * minute, weekdays, []schedule.Adhesive{white, yellow, foam, slow, flex, contact}},
		{"six kinds, forty clamps", 10, 40, 5 * minute, 10 * minute, weekdays, []schedule.Adhesive{white, yellow, foam, slow, flex, powder}},
		{"evenings and Saturdays", 6, 6, 5 * minute, 10 * minute, evenings, []schedule.Adhesive{white, foam, slow, liquid}},
		{"Saturdays only", 5, 10, 5 * minute, 10 * minute, saturdays, []schedule.Adhesive{white, powder, liquid}},
		{"mornings, days off, a change to summer time", 12, 10, 5 * minute, 12 * minute, short, []schedule.Adhesive{white, yellow, foam, flex}},
		{"clamped overnight", 10, 6, 5 * minute, 10 * minute, weekdays, []schedule.Adhesive{powder, liquid, slow}},
		{"no clamps needed", 20, 0, 5 * minute, 10 * minute, weekdays, []schedule.Adhesive{contact}},
		{"quick cure, hands the limit", 60, 20, 5 * minute, 10 * minute, weekdays, []schedule.Adhesive{white, yellow}},
		{"two white glues, four clamps, a lunch break", 15, 4, 5 * minute, 6 * minute, lunch, []schedule.Adhesive{white, yellow}},
		{"six kinds, eight clamps, a lunch break", 8, 8, 5 * minute, 10 * minute, lunch, []schedule.Adhesive{white, yellow, foam, slow, flex, contact}},
		{"hands the limit, two breaks a day", 60, 20, 5 * minute, 10 * minute, breaks, []schedule.Adhesive{white, yellow}},
		{"one clamp", 8, 1, 5 * minute, 5 * minute, weekdays, []schedule.Adhesive{white, yellow, foam}},
	} {
		t.Run(c.name, func(t *testing.T) {
			worst, sum, together := 0.0, 0.0, 0.0
			const runs = 20
			for seed := range uint64(runs) {
				r := trial(t, c.each, c.clamps, c.hands, c.breaking, c.hours, seed, c.adhesives...)
				p, err := schedule.Make(r)
				if err != nil {
					t.Fatal(err)
				}
				for _, f := range append(feasible(r, p), checksRight(r, p)...) {
					t.Error(f)
				}
				worst = max(worst, p.Excess())
				sum += p.Excess()
				r.Together = true
				if p, err = schedule.Make(r); err != nil {
					t.Fatal(err)
				}
				for _, f := range append(feasible(r, p), checksRight(r, p)...) {
					t.Error(f)
				}
				together += p.Excess()
			}
			t.Logf("longer than the bound by %.2f %% at worst, %.2f %% on average", 100*worst, 100*sum/runs)
			if worst > 0.10 {
				t.Errorf("a plan takes %.1f %% longer than its bound", 100*worst)
			}
			// With all breaks together a plan can slip past a weekend that its bound does
			// not see, and then takes half as long again: so the demand is made of the mean.
			t.Logf("breaking together longer by %.2f %% on average", 100*together/runs)
			if together/runs > 0.10 {
				t.Errorf("breaking together takes %.1f %% longer than the bound on average", 100*together/runs)
			}
		})
	}
}
