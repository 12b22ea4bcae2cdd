package plan

import (
	"fmt"

	"bondtrial/internal/plan/schedule"
	"bondtrial/internal/plan/trialfile"
)

// mostExcess is by which share of its bound's span a schedule may be longer.
const mostExcess = 0.1

// when schedules the plan: with all breaks together, so that the rig is set up once,
// unless that slips far past what it could be at the earliest; then one by one.
func (p *Plan) when() (*schedule.Plan, error) {
	s, err := schedule.Make(p.request(true))
	if err != nil || s.Excess() <= mostExcess {
		return s, err
	}
	return schedule.Make(p.request(false))
}

// request is the plan as package schedule sees it.
func (p *Plan) request(together bool) schedule.Request {
	w := p.Trial.Work
	r := schedule.Request{
		Clamps: w.Clamps, Hands: schedule.SplitHands(w.GlueUp), Break: w.Break, Together: together, Start: date(w.Start),
		Hours: schedule.Hours{Location: w.Location},
	}
	for day, spans := range w.Hours {
		for _, s := range spans {
			r.Hours.Week[day] = append(r.Hours.Week[day], schedule.Span{From: s.From, To: s.To})
		}
	}
	for _, d := range w.DaysOff {
		r.Hours.DaysOff = append(r.Hours.DaysOff, date(d))
	}
	for _, a := range p.Trial.Adhesives {
		r.Adhesives = append(r.Adhesives, schedule.Adhesive{Name: a.Name, OpenAssembly: a.Open, ClosedAssembly: a.Closed,
			ClampTime: a.Clamp, FullCure: a.Cure, LowestC: float64(a.Lowest)})
	}
	for _, s := range p.Specimens {
		batch := ""
		if s.Batch > 0 {
			batch = fmt.Sprint(s.Batch)
		}
		r.Specimens = append(r.Specimens, schedule.Specimen{Code: s.Code, Adhesive: s.Adhesive, Batch: batch})
	}
	for _, i := range p.BreakOrder {
		r.BreakOrder = append(r.BreakOrder, p.Specimens[i].Code)
	}
	return r
}

func date(d trialfile.Date) schedule.Date {
	return schedule.Date{Year: d.Year, Month: d.Month, Day: d.Day}
}
