package plan

import (
	"encoding/json"
	"path"
	"strings"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/plan"
	"bondtrial/internal/plan/schedule"
	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/publish/handout"
)

// Roles of the files of a plan.
const (
	rolePaper  = "plan"      // for people: offered for download
	roleBeside = "plan page" // what the page says and no paper has for programs
)

// besideName is the name of that file.
const besideName = "page.json"

// mediaType of a paper, by how its name ends.
func mediaType(name string) string {
	switch path.Ext(name) {
	case ".txt":
		return "text/plain; charset=utf-8"
	case ".csv":
		return "text/csv; charset=utf-8"
	case ".json", ".sealed":
		return "application/json"
	case ".svg":
		return "image/svg+xml"
	case ".pdf":
		return "application/pdf"
	case ".ics":
		return "text/calendar; charset=utf-8"
	}
	return "application/octet-stream"
}

// Papers are the files that are kept with a plan: those of its handout, and what the
// page says beside.
func Papers(p *plan.Plan) ([]logbook.File, error) {
	files, err := handout.Files(p)
	if err != nil {
		return nil, err
	}
	var out []logbook.File
	for _, f := range files {
		out = append(out, logbook.File{Role: rolePaper, Name: f.Name, MediaType: mediaType(f.Name), Content: f.Content})
	}
	content, err := json.Marshal(besideOf(p))
	if err != nil {
		return nil, err
	}
	return append(out, logbook.File{Role: roleBeside, Name: besideName, MediaType: "application/json", Content: content}), nil
}

// beside is what the page says of a plan beside what is planned and plan.json.
type beside struct {
	Version    int
	Difference float64 // smallest that matters, %
	Wanted     float64 // chance of finding it, %
	Scatter    float64 // %
	Simulated  int     // trials for each number of specimens; 0: not stored
	Shortened  string  // why there are fewer specimens than would be needed; empty: there are not
	Pairs      string  // factor whose levels go to neighbours
	Orders     []ordered
	Left       []left         // what the trial file left open
	Notes      []note         // of the schedule
	ClampsOff  map[string]int // by day
	NotBefore  time.Time
	Binding    string // what keeps the trial from ending sooner
}

// ordered says how well an order meets the adhesives.
type ordered struct {
	Order      string  // "glue-up" or "breaking"
	Off, Trend float64 // the farthest mean place from the middle, %; the largest correlation with an adhesive
	Kept       bool
}

// left is something that was left open; Adhesive says that it names one.
type left struct {
	What, Value, Source string
	Adhesive            bool
}

type note struct {
	Text     string
	Adhesive bool
}

func besideOf(p *plan.Plan) beside {
	t := p.Trial
	b := beside{Version: 1, Simulated: p.Numbers.Input.Trials, Difference: float64(t.SmallestDifference), Wanted: float64(t.Chance), Scatter: float64(t.Scatter), Shortened: p.Shortened, Pairs: t.Pairs,
		ClampsOff: make(map[string]int), NotBefore: p.Schedule.Bound.End(), Binding: p.Schedule.Bound.Binding()}
	for _, o := range p.Balance {
		x := ordered{Order: o.Order, Kept: o.Kept}
		for _, f := range o.Figures {
			x.Off, x.Trend = max(x.Off, f.Off, -f.Off), max(x.Trend, f.R, -f.R)
		}
		b.Orders = append(b.Orders, x)
	}
	for _, list := range [][]trialfile.Assumption{t.Assumed, p.Expected} {
		for _, a := range list {
			b.Left = append(b.Left, left{a.What, a.Value, a.Source, names(t, a.What+" "+a.Value+" "+a.Source)})
		}
	}
	for _, n := range p.Schedule.Notes {
		b.Notes = append(b.Notes, note{n, names(t, n)})
	}
	for _, day := range p.Schedule.Days {
		for _, s := range day.Steps {
			if s.Kind == schedule.Release {
				b.ClampsOff[s.Start.Format(time.DateOnly)]++
			}
		}
	}
	return b
}

// names reports whether a text names an adhesive of a trial.
func names(t *trialfile.Trial, text string) bool {
	for _, a := range t.Adhesives {
		if strings.Contains(text, a.Name) {
			return true
		}
	}
	return false
}

// numbers is what the page takes from plan.json, see docs/plan.md.
type numbers struct {
	Seed    uint64 `json:"seed"`
	Units   string `json:"units"`
	Numbers []struct {
		N         int      `json:"n"`
		Wood      string   `json:"wood"`
		Found     float64  `json:"found"`
		FoundSE   float64  `json:"found_se"`
		Same      float64  `json:"same"`
		WoodLimit float64  `json:"wood_limited"`
		Interval  *float64 `json:"interval_ratio"`
	} `json:"numbers"`
	Deals []struct {
		Wood       string   `json:"wood"`
		Efficiency float64  `json:"efficiency"`
		Bound      float64  `json:"bound"`
		Places     int      `json:"places"`
		Used       int      `json:"used"`
		Boards     int      `json:"boards"`
		Spare      []string `json:"spare"`
	} `json:"deals"`
}
