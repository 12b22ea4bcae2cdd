package pages

import (
	"bondtrial/internal/pages/ask"
	"bondtrial/internal/pages/beside"
	"bondtrial/internal/pages/breaking"
	"bondtrial/internal/pages/cure"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/glue"
	"bondtrial/internal/pages/home"
	"bondtrial/internal/pages/plan"
)

// route is an address and what answers there. GETs have no effects.
type route struct {
	pattern string
	handler frame.Handler
}

// routes lists every address of the pages but the static files and the pairing page.
func (s *Site) routes() []route {
	return []route{
		{"GET /{$}", home.Trials},
		{"GET /new", home.New},
		{"POST /trials", home.Begin},
		{"GET /take-in", home.TakeInForm},
		{"POST /take-in", home.TakeIn},
		{"POST /demo", s.demo},
		{"GET /events", frame.Events},
		{"GET /files/{sum}", home.File},

		{"GET /trials/{trial}", home.Overview},
		{"GET /trials/{trial}/history", home.History},
		{"POST /trials/{trial}/undo", home.Undo},
		{"POST /trials/{trial}/put-away", home.PutAway},

		{"GET /trials/{trial}/ask", ask.Show},
		{"POST /trials/{trial}/ask", ask.Save},
		{"GET /trials/{trial}/trial.toml", ask.File},
		{"POST /trials/{trial}/trial.toml", ask.Take},

		{"GET /trials/{trial}/plan", s.plans.Show},
		{"POST /trials/{trial}/plan/make", s.plans.Make},
		{"POST /trials/{trial}/plan/stop", s.plans.Stop},
		{"GET /trials/{trial}/plan/progress", s.plans.Progress},
		{"POST /trials/{trial}/plan/key", s.plans.Key},
		{"GET /trials/{trial}/plan/files/{name}", plan.File},

		{"GET /trials/{trial}/glue", glue.Show},
		{"POST /trials/{trial}/glue", glue.Done},
		{"POST /trials/{trial}/glue/add", glue.Add},
		{"POST /trials/{trial}/glue/marks", glue.Marks},
		{"POST /trials/{trial}/glue/climate", glue.Climate},

		{"GET /trials/{trial}/cure", cure.Show},
		{"POST /trials/{trial}/cure", cure.Save},

		{"GET /trials/{trial}/break", breaking.Show},
		{"POST /trials/{trial}/break", breaking.Save},
		{"GET /trials/{trial}/break/{seq}", breaking.Entry},
		{"POST /trials/{trial}/break/{seq}", breaking.Correct},
		{"POST /trials/{trial}/specimens", breaking.Add},

		{"GET /trials/{trial}/answer", s.answers.Show},
		{"POST /trials/{trial}/answer/run", s.answers.Run},
		{"POST /trials/{trial}/answer/stop", s.answers.Stop},
		{"GET /trials/{trial}/answer/progress", s.answers.Progress},
		{"GET /trials/{trial}/readings", s.answers.Readings},
		{"GET /trials/{trial}/readings.csv", s.answers.Table},
		{"GET /trials/{trial}/answer.json", s.answers.JSON},
		{"GET /trials/{trial}/report.html", s.answers.Report},

		{"GET /trials/{trial}/publish", s.publishing.Show},
		{"GET /trials/{trial}/publish/table", s.publishing.TakenIn},
		{"GET /trials/{trial}/publish/plan/{name}", s.publishing.PlanFile},
		{"GET /trials/{trial}/figures/{file}", s.publishing.Figure},

		{"GET /shelf", beside.Shelf},
		{"POST /shelf", beside.PutOnShelf},
		{"GET /rack", beside.Rack},
		{"POST /rack", beside.PutOnRack},
		{"GET /rig", beside.Rig},
		{"POST /rig", beside.PutRig},
		{"POST /rig/checks", beside.PutRigCheck},
		{"POST /rig/calibrations", beside.PutCalibration},
		{"GET /rig/calibrations/{calibration}/certificate.txt", beside.Certificate},
		{"GET /rig/calibrations/{calibration}/table.csv", beside.CalibrationTable},
		{"POST /undo", beside.Undo},

		{"GET /logbook", s.sharing.Logbook},
		{"POST /logbook/name", beside.PutName},
		{"POST /logbook/settings", beside.PutSettings},
		{"GET /logbook/copy", beside.Backup},
		{"POST /logbook/check", beside.Check},
		{"POST /logbook/code", s.sharing.NewCode},
		{"POST /logbook/forget", s.sharing.ForgetDevice},
	}
}
