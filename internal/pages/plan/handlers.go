package plan

import (
	"embed"
	"fmt"
	"net/http"
	"time"

	"bondtrial/internal/pages/ask"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

//go:embed templates
var templates embed.FS

var planPage = frame.Page(templates, "templates/plan.html", "templates/planned.html", "templates/key.html")

// Show shows the plan, or what is missing for one, or how far it is.
func (m *Maker) Show(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	v, err := m.view(d, r, t)
	if err != nil {
		return err
	}
	return d.Show(w, r, planPage, v)
}

// fast is how long a browser waits for a plan before it is shown how far it is.
const fast = 300 * time.Millisecond

// Make begins to plan.
func (m *Maker) Make(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	if err := mayMake(t); err != nil {
		v, verr := m.view(d, r, t)
		if verr != nil {
			return verr
		}
		return d.ShowAgain(w, r, planPage, v, err)
	}
	back := "/trials/" + t.ID + "/plan"
	who := d.Who(r)
	if who.Key != "" && t.Plan != nil && keyOf(t, t.PlanAt.Seq) == who.Key {
		return frame.Back(w, r, back) // this very form, sent again
	}
	run := m.start(d, t, who)
	select {
	case <-run.ended:
	case <-r.Context().Done():
	case <-time.After(fast):
	}
	return frame.Back(w, r, back)
}

// mayMake returns an error where a trial is not to be planned, or not any more.
func mayMake(t *record.Trial) error {
	switch n := t.CountGlued() + t.CountSpoiled() + t.CountBroken(); {
	case t.Asked.Table != "":
		return &frame.Problem{Status: http.StatusConflict, Words: "this trial was taken in from a table: it is over, and there is nothing to plan"}
	case t.Plan != nil && n > 0:
		return &frame.Problem{Status: http.StatusConflict,
			Words: fmt.Sprintf("%d specimens of the plan are glued or broken: another plan would take their labels away; begin another trial instead", n)}
	case t.File == nil:
		n := len(ask.MissingOf(t))
		words := fmt.Sprintf("there are %d things to fill in or mend at Ask before this can be planned", n)
		if n == 1 {
			words = "there is one thing to fill in or mend at Ask before this can be planned"
		}
		return &frame.Problem{Status: http.StatusUnprocessableEntity, Words: words}
	}
	return nil
}

func keyOf(t *record.Trial, seq int64) string {
	for _, e := range t.Entries {
		if e.Seq == seq {
			return e.Key
		}
	}
	return ""
}

// Stop ends the making of a plan.
func (m *Maker) Stop(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	if run := m.run(t.ID); run.working() {
		run.stop()
		select {
		case <-run.ended:
		case <-r.Context().Done():
		}
	}
	return frame.Back(w, r, "/trials/"+t.ID+"/plan")
}

// Progress tells a module how far a plan is.
func (m *Maker) Progress(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	w.Header().Set("Cache-Control", "no-store")
	return frame.JSON(w, http.StatusOK, m.state(t))
}
