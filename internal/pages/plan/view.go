package plan

import (
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"maps"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"bondtrial/internal/answer"
	"bondtrial/internal/figure"
	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/ask"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/plan/trialfile/form"
	"bondtrial/internal/publish/handout"
	"bondtrial/internal/record"
	"bondtrial/internal/show"
)

// page is the plan of a trial.
type page struct {
	Work    state
	Failed  []string // why the trial cannot be planned, line by line
	Taken   bool     // it was taken in from a table
	Missing []ask.Missing
	May     bool // a plan may be made
	Old     bool // the plan was made from another text
	Begun   int  // specimens that are glued or broken

	Summary   []string
	Short     string
	Wide      template.HTML // the chance to find the difference
	Narrow    template.HTML
	Numbers   []number
	Planned   int
	Scatter   string
	Simulated string // how many trials, and so how sure; empty: not stored
	Adhesives []adhesive
	Woods     []woodBoards
	Orders    []string
	Days      []day
	When      []string
	Left      []left
	LeftOut   int // of adhesives, while the letters are sealed
	CutList   string
	Papers    []paper
	Key       *keyView
}

// number is what a number of specimens would find on a wood.
type number struct {
	Wood                                   string
	N                                      int
	All                                    int
	Found, Error, Same, Limited, Intervals string
	Chosen                                 bool
}

type adhesive struct {
	Name, Family              string
	Control                   bool
	Open, Closed, Clamp, Cure string
	Specimens                 int
}

// paper is a file of the plan that is offered.
type paper struct{ Name, Words, Size string }

// view builds the page.
func (m *Maker) view(d *frame.Desk, r *http.Request, t *record.Trial) (*frame.View, error) {
	v := d.View(r, t, "plan")
	v.Scripts, v.Styles = []string{"plan.js"}, []string{"plan.css"}
	p := &page{Work: m.state(t), Taken: t.Asked.Table != "", Missing: ask.MissingOf(t), Key: keyOfTrial(t, d.Name(r)),
		Begun: t.CountGlued() + t.CountSpoiled() + t.CountBroken()}
	p.May = mayMake(t) == nil
	if p.Work.State == "failed" {
		p.Failed = strings.Split(strings.TrimSpace(p.Work.Error), "\n")
		for i := range p.Failed {
			p.Failed[i] = frame.Sentence(p.Failed[i])
		}
	}
	if t.Plan != nil {
		p.Old = !ask.SamePlan(t.Plan.File, t.Asked.File)
		if err := p.planned(d, r, t); err != nil {
			return nil, err
		}
	}
	v.Data = p
	return v, nil
}

// planned fills in what the page says of a plan.
func (p *page) planned(d *frame.Desk, r *http.Request, t *record.Trial) error {
	var n numbers
	var b beside
	for name, to := range map[string]any{handout.PlanJSON: &n, besideName: &b} {
		content, err := stored(d, r, t, name)
		var none *logbook.NoFile
		switch {
		case errors.As(err, &none): // a plan that came without papers
			continue
		case err != nil:
			return err
		}
		if err := json.Unmarshal(content, to); err != nil {
			return fmt.Errorf("reading %s of the plan: %w", name, err)
		}
	}
	cut, err := stored(d, r, t, handout.CutList)
	if err == nil {
		p.CutList = string(cut)
	}
	p.Planned = t.Plan.PerCell
	p.numbers(t, &n, &b)
	p.sentences(t, &n, &b)
	p.Adhesives = adhesives(t)
	p.Woods = woods(t, &n)
	p.Days = days(t, &b)
	p.beside(t, &b)
	p.Papers = papersOf(t)
	return nil
}

// conditions is the number of combinations of levels in a plan.
func conditions(plan *record.Planned) int { return 1 << len(plan.Factors) }

func woodNames(plan *record.Planned) []string {
	var out []string
	for _, s := range plan.Specimens {
		if !slices.Contains(out, s.Wood) {
			out = append(out, s.Wood)
		}
	}
	slices.Sort(out)
	return out
}

// sentences say the plan in short.
func (p *page) sentences(t *record.Trial, n *numbers, b *beside) {
	plan := t.Plan
	kinds := woodNames(plan)
	s := fmt.Sprintf("%d specimens: %d of each of %d adhesives", len(plan.Specimens), plan.PerCell, len(plan.Adhesives))
	if conditions(plan) > 1 {
		s += fmt.Sprintf(", in each of %d conditions", conditions(plan))
	}
	p.Summary = append(p.Summary, s+" on "+show.List(kinds)+".")
	p.Short = b.Shortened
	if b.Shortened == "" {
		least, on := 2.0, ""
		for _, x := range n.Numbers {
			if x.N == plan.PerCell && x.Found < least {
				least, on = x.Found, x.Wood
			}
		}
		if on != "" && b.Difference > 0 {
			where := ""
			if len(kinds) > 1 {
				where = " (on " + on + ", where it is least)"
			}
			sentence := fmt.Sprintf("If two adhesives differ by %.3g %%, that will be shown with a chance of %s%s", b.Difference, show.Chance(answer.Value(least)), where)
			if least < b.Wanted/100 {
				p.Short = sentence + fmt.Sprintf(". You want %.3g %%. ", b.Wanted) + n.remedy(plan.PerCell, b, p.Begun)
			} else {
				p.Summary = append(p.Summary, sentence+".")
			}
		}
	}
	first, last := plan.Specimens[0].GlueAt, plan.Ends
	p.Summary = append(p.Summary, fmt.Sprintf("Glued from %s, the last broken on %s.", first.In(t.Zone).Format("Mon 2 Jan 2006"), last.In(t.Zone).Format("Mon 2 Jan 2006")))
}

// remedy says what would reach the chance that is wanted where the planned number does
// not.
func (n *numbers) remedy(planned int, b *beside, begun int) string {
	if begun > 0 {
		return "Specimens are glued or broken already: what they leave open, a further trial can settle."
	}
	found := make(map[int]float64) // where it is least, by number
	for _, x := range n.Numbers {
		if f, ok := found[x.N]; !ok || x.Found < f {
			found[x.N] = x.Found
		}
	}
	tried := slices.Sorted(maps.Keys(found))
	for _, k := range tried {
		if k > planned && found[k] >= b.Wanted/100 {
			return fmt.Sprintf("With %d specimens of each it would be %s. A larger difference that matters, at Ask, is found more easily too.", k, show.Chance(answer.Value(found[k])))
		}
	}
	return fmt.Sprintf("No number that was simulated reaches that, up to %d of each: leave the number of specimens open at Ask, and enough is sought; or ask for a larger difference than %.3g %%.",
		tried[len(tried)-1], b.Difference)
}

// numbers fills in the table of numbers and the figure.
func (p *page) numbers(t *record.Trial, n *numbers, b *beside) {
	if len(n.Numbers) == 0 {
		return
	}
	chart := figure.Plan{Difference: fmt.Sprintf("%.3g %%", b.Difference), Wanted: b.Wanted / 100, Chosen: t.Plan.PerCell}
	cells := len(t.Plan.Adhesives) * conditions(t.Plan)
	at := make(map[string]int)
	for _, x := range n.Numbers {
		i, ok := at[x.Wood]
		if !ok {
			i = len(chart.Woods)
			at[x.Wood] = i
			chart.Woods = append(chart.Woods, figure.PlanWood{Wood: x.Wood})
		}
		f := &chart.Woods[i]
		f.N, f.Found, f.Limited = append(f.N, x.N), append(f.Found, x.Found), append(f.Limited, x.WoodLimit)
	}
	for _, w := range chart.Woods { // one wood after the other
		for _, x := range n.Numbers {
			if x.Wood != w.Wood {
				continue
			}
			row := number{Wood: x.Wood, N: x.N, All: x.N * cells * len(chart.Woods), Found: show.Chance(answer.Value(x.Found)), Error: fmt.Sprintf("± %.1f %%", 100*x.FoundSE),
				Same: show.Chance(answer.Value(x.Same)), Limited: show.Percent(x.WoodLimit), Intervals: show.None, Chosen: x.N == t.Plan.PerCell}
			if x.Interval != nil {
				row.Intervals = "× " + show.Ratio(answer.Value(*x.Interval))
			}
			p.Numbers = append(p.Numbers, row)
		}
	}
	p.Scatter = show.Trim(b.Scatter) + " %"
	if b.Simulated > 0 {
		// Two standard errors of a chance of one half, at the most.
		p.Simulated = fmt.Sprintf("Simulated %d times each; the chances are right to within about ±%.0f %%.", b.Simulated, 200*math.Sqrt(0.25/float64(b.Simulated)))
	}
	if b.Version == 0 {
		return // what the figure needs was not stored
	}
	for _, x := range []struct {
		to    *template.HTML
		style figure.Style
	}{{&p.Wide, figure.Column()}, {&p.Narrow, figure.Phone()}} {
		x.style.Untitled = true
		if f := figure.PlanChance(chart, x.style); f != nil {
			*x.to = template.HTML(f.InlineSVG()) // a figure's own: what was typed is escaped in it
		}
	}
}

// adhesives are those of the plan; nothing but the letters where they are sealed.
func adhesives(t *record.Trial) []adhesive {
	count := make([]int, len(t.Plan.Adhesives))
	for _, s := range t.Plan.Specimens {
		count[s.Adhesive]++
	}
	family := make(map[string]string) // in plain words
	for _, f := range form.Families() {
		family[f.Key] = f.Name
	}
	var out []adhesive
	for i, a := range t.Plan.Adhesives {
		if t.Sealed() { // its times would tell the adhesive
			out = append(out, adhesive{Name: a.Label, Specimens: count[i]})
			continue
		}
		x := adhesive{Name: a.Name, Family: a.Family, Control: a.Name == t.Plan.Control, Open: span(a.Open), Closed: span(a.Closed), Clamp: span(a.Clamp), Cure: span(a.Cure), Specimens: count[i]}
		if words, ok := family[a.Family]; ok {
			x.Family = words
		}
		if t.Plan.Blind {
			x.Name = a.Label + ": " + a.Name
		}
		out = append(out, x)
	}
	if t.Plan.Blind {
		slices.SortFunc(out, func(a, b adhesive) int { return strings.Compare(a.Name, b.Name) })
	}
	return out
}

// span writes a length of time in days, hours and minutes.
func span(d time.Duration) string {
	if d <= 0 {
		return show.None
	}
	var parts []string
	for _, u := range []struct {
		size time.Duration
		name string
	}{{24 * time.Hour, "d"}, {time.Hour, "h"}, {time.Minute, "min"}, {time.Second, "s"}} {
		if n := d / u.size; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, u.name))
			d -= n * u.size
		}
	}
	return strings.Join(parts, " ")
}

// beside fills in orders, ends and what was left open.
func (p *page) beside(t *record.Trial, b *beside) {
	sealed := t.Sealed()
	for _, o := range b.Orders {
		s := fmt.Sprintf("%s%s order: drawn by lot; no adhesive's mean place is more than %.1f %% off the middle, and none comes ever earlier or later (r at most %.2f).",
			strings.ToUpper(o.Order[:1]), o.Order[1:], o.Off, o.Trend)
		if fmt.Sprintf("%.1f", o.Off) == "0.0" {
			s = fmt.Sprintf("%s%s order: drawn by lot; all adhesives' mean places are in the middle, and none comes ever earlier or later (r at most %.2f).",
				strings.ToUpper(o.Order[:1]), o.Order[1:], o.Trend)
		}
		if !o.Kept {
			s += " That is as near as these numbers allow."
		}
		p.Orders = append(p.Orders, s)
	}
	batches := 0
	for _, s := range t.Plan.Specimens {
		batches = max(batches, s.Batch)
	}
	if batches > 0 {
		p.Orders = append(p.Orders, fmt.Sprintf("Glued in %d batches, one cartridge or mixing open at a time.", batches))
	}
	if b.Pairs != "" {
		p.Orders = append(p.Orders, fmt.Sprintf("The two levels of %s go to neighbouring pieces.", b.Pairs))
	}
	if !b.NotBefore.IsZero() {
		p.When = append(p.When, fmt.Sprintf("It cannot be over before %s: what binds is %s.", b.NotBefore.In(t.Zone).Format("Mon 2 Jan 2006"), b.Binding))
	}
	for _, n := range b.Notes {
		if sealed && n.Adhesive {
			p.LeftOut++
			continue
		}
		p.When = append(p.When, frame.Sentence(n.Text))
	}
	for _, l := range b.Left {
		if sealed && l.Adhesive {
			p.LeftOut++
			continue
		}
		p.Left = append(p.Left, l)
	}
}

// paperWords say what a file is.
var paperWords = map[string]string{
	handout.Labels:    "Labels, one for each specimen, in the order of glueing",
	handout.GlueUp:    "The sheet to glue by",
	handout.Breaks:    "The sheet to break by",
	handout.Calendar:  "Glue-ups, clamps, cure checks and breaks for a calendar",
	handout.Readings:  "An empty table of readings in the order of breaking",
	handout.CutList:   "Boards to strips to pieces",
	handout.PlanText:  "The whole plan to read",
	handout.PlanTable: "The plan as a table, one line for each specimen",
	handout.PlanJSON:  "The plan for programs",
	handout.Chance:    "The figure of how many",
	handout.KeySealed: "The key as it was sealed, for the command line",
	keyPaper:          "The key to the letters, to be printed and folded",
}

// papersOf lists the files of a plan, those for the bench first. The key is not
// among them while it is sealed.
func papersOf(t *record.Trial) []paper {
	var out []paper
	for _, name := range []string{handout.Labels, handout.GlueUp, handout.Breaks, handout.Calendar, handout.Readings, handout.CutList, handout.PlanText, handout.PlanTable, handout.PlanJSON, handout.Chance, handout.KeySealed} {
		if name == handout.KeySealed && t.Sealed() {
			continue
		}
		for _, f := range t.PlanAt.Files {
			if f.Name == name && f.Role == rolePaper {
				out = append(out, paper{name, paperWords[name], size(f.Size)})
			}
		}
	}
	if t.Plan.Blind && !t.Sealed() {
		out = append(out, paper{Name: keyPaper, Words: paperWords[keyPaper]})
	}
	return out
}

func size(bytes int64) string {
	if bytes < 1000 {
		return fmt.Sprintf("%d bytes", bytes)
	}
	return fmt.Sprintf("%d kB", (bytes+500)/1000)
}
