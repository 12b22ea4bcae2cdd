package answers

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/publish"
	"bondtrial/internal/record"
	"bondtrial/internal/show"
)

// page is the page of the station.
type page struct {
	Form    typed
	Query   string // the settings as they stand in an address
	Changed bool   // a setting is not the usual one

	How     How
	Missing []string // why there is no answer
	Little  bool     // it is that readings are missing
	Since   string   // what changed since the answer that is shown
	Work    bool     // the panel that computes is shown
	There   there    // what there is to answer from
	Shown   *shown   // nil: no answer
	Interim string   // said on top where specimens of the plan are unbroken
	Left    string   // the same, said of how many more would settle something
	kept    *Kept
}

// fill looks what there is for an order.
func (p *page) fill(k *Keeper, o *order) error {
	p.There = whatIsThere(o)
	p.How = k.how(o.key)
	kept := k.look(o.key)
	switch {
	case kept != nil && kept.Err == nil:
		p.kept = kept
	case kept != nil && p.How.State == Failed:
		p.Missing, p.Little = missing(kept.Err)
		return nil
	default:
		if err := o.enough(); err != nil {
			p.Missing, p.Little = missing(err)
			return nil
		}
		p.Work = true
		if p.kept = k.earlier(o); p.kept == nil {
			return nil
		}
		p.Since = since(p.kept, o.trial)
		p.Work = p.How.State == Waiting || p.How.State == Working
	}
	p.Shown = p.kept.show(o)
	p.Interim = interim(o.trial)
	if left, _ := unbroken(o.trial); left > 0 {
		p.Left = fmt.Sprintf("The %s not broken yet count toward these numbers.", count(left, "specimen of the plan that is", "specimens of the plan that are"))
	}
	return nil
}

// unbroken counts the specimens of the plan, spoiled ones left out, and those of them
// that are not broken.
func unbroken(t *record.Trial) (left, of int) {
	for _, s := range t.Specimens {
		if s.Planned == nil || s.Glued != nil && s.Glued.Spoiled != "" {
			continue
		}
		of++
		if s.Broken == nil {
			left++
		}
	}
	return left, of
}

// interim is what is said of an answer before all of the plan is broken; empty where
// it is, or there is no plan.
func interim(t *record.Trial) string {
	left, of := unbroken(t)
	if left == 0 {
		return ""
	}
	return fmt.Sprintf("Interim: %d of %d %s not broken yet. Looking early and stopping when it looks good misleads; the plan's chance holds for all of them.",
		left, of, verb(left))
}

func verb(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// since says what changed in the readings since an answer.
func since(k *Kept, t *record.Trial) string {
	fresh, corrected, now := 0, 0, 0
	for _, s := range t.Specimens {
		if s.Broken == nil {
			continue
		}
		now++
		switch {
		case s.Broken.Seq <= k.last:
		case s.Broken.First > k.last:
			fresh++
		default:
			corrected++
		}
	}
	back := len(k.Answer.Readings) + fresh - now
	var parts []string
	if fresh > 0 {
		parts = append(parts, fmt.Sprintf("%d more %s", fresh, plural(fresh, "reading")))
	}
	if corrected > 0 {
		parts = append(parts, fmt.Sprintf("%d corrected", corrected))
	}
	if back > 0 {
		parts = append(parts, fmt.Sprintf("%d taken back", back))
	}
	if len(parts) == 0 {
		return "What the readings go with has changed since."
	}
	return show.List(parts) + " since."
}

func plural(n int, one string) string {
	if n == 1 {
		return one
	}
	return one + "s"
}

// there is what there is to answer from.
type there struct {
	Words   string // "96 readings of 6 adhesives on 2 woods"
	States  []stateCount
	Where   []cellCount
	Factors []string
	All     string // address of all readings
}

type stateCount struct {
	N           int
	Words, Link string
}

// cellCount is how many readings there are of an adhesive in a condition.
type cellCount struct {
	Where, Adhesive     string
	Link                string
	N                   int // not set aside
	Bond, Wood, Rig, No int // No: set aside
	name                publish.About
}

func whatIsThere(o *order) there {
	readings := o.trial.Readings()
	factors := o.trial.Factors()
	out := there{Factors: factors, All: readingsPath(o.trial, o.asked, choice{})}
	var adhesives, woods []string
	states := make(map[bondtrial.State]int)
	for i := range readings {
		r := &readings[i]
		if !slices.Contains(adhesives, r.Adhesive) {
			adhesives = append(adhesives, r.Adhesive)
		}
		if r.Wood != "" && !slices.Contains(woods, r.Wood) {
			woods = append(woods, r.Wood)
		}
		state := r.State(o.asked.Threshold)
		states[state]++
		out.cell(r, factors).count(state)
	}
	out.Words = count(len(readings), "reading", "readings") + " of " + count(len(adhesives), "adhesive", "adhesives")
	if len(woods) > 0 {
		out.Words += " on " + count(len(woods), "wood", "woods")
	}
	for _, s := range []bondtrial.State{bondtrial.BondBroke, bondtrial.WoodLimited, bondtrial.RigLimited, bondtrial.SetAside} {
		if n := states[s]; n > 0 {
			out.States = append(out.States, stateCount{n, stateWords(s), readingsPath(o.trial, o.asked, choice{State: stateName(s)})})
		}
	}
	for i := range out.Where {
		c := &out.Where[i]
		c.Link = readingsPath(o.trial, o.asked, behind(c.name))
	}
	slices.SortStableFunc(out.Where, func(a, b cellCount) int {
		return cmp.Or(strings.Compare(a.Where, b.Where), strings.Compare(a.Adhesive, b.Adhesive))
	})
	return out
}

// cell returns the count of a reading's cell, a new one where there is none yet.
func (t *there) cell(r *bondtrial.Reading, factors []string) *cellCount {
	levels := make(map[string]string)
	for _, f := range factors {
		levels[f] = r.Factors[f]
	}
	for i := range t.Where {
		if n := t.Where[i].name; n.Wood == r.Wood && n.Adhesives[0] == r.Adhesive && maps.Equal(n.Factors, levels) {
			return &t.Where[i]
		}
	}
	where := answer.Condition{Wood: r.Wood, Factors: levels}
	t.Where = append(t.Where, cellCount{Where: where.String(), Adhesive: r.Adhesive, name: publish.About{Wood: r.Wood, Factors: levels, Adhesives: []string{r.Adhesive}}})
	return &t.Where[len(t.Where)-1]
}

func (c *cellCount) count(s bondtrial.State) {
	switch s {
	case bondtrial.BondBroke:
		c.Bond++
	case bondtrial.WoodLimited:
		c.Wood++
	case bondtrial.RigLimited:
		c.Rig++
	default:
		c.No++
		return
	}
	c.N++
}

// shown is an answer as the page shows it.
type shown struct {
	Headline []string
	Counts   string
	Strength *picture
	Cells    linked
	Pairs    []pairs
	Chance   *picture
	Drifts   []*picture
	Effects  linked
	Wood     linked
	Scatter  publish.Sheet
	Settle   []settle
	Checks   []string
	Outliers []outlier
	Warnings []string
	Made     []string
}

// linked is a sheet whose rows lead to the readings behind them.
type linked struct {
	publish.Sheet
	At    int      // column whose cells are the links
	Links []string // of each row
}

// pairs are the comparisons of a condition.
type pairs struct {
	Title  string
	Figure *picture
	Table  linked
}

// settle is a comparison that is not settled and what would settle it.
type settle struct{ Where, Pair, Words, Link string }

// outlier is a reading far from those of its cell.
type outlier struct{ Code, Words, Link string }

// show makes ready what the page shows. Addresses are those of an order, whose
// trial and settings are the answer's.
func (k *Kept) show(o *order) *shown {
	a, u := k.Answer, o.asked.Units
	w := publish.NewWords(a, u)
	drawn := k.pictures(u)
	s := &shown{Headline: publish.AllGlued(w.Headline()), Counts: w.Counts(), Strength: drawn.Strength, Chance: drawn.Chance, Scatter: glued(w.SpreadSheet()),
		Checks: publish.AllGlued(w.Checks()), Warnings: publish.AllGlued(a.Warnings), Made: w.Made(k.Source(FileName(o.trial, "readings", "csv")))}
	s.Cells = o.link(w.StrengthSheet(), 1)
	s.Wood = o.link(w.WoodSheet(), 0)
	s.Effects = o.effects(a, w)
	for i, c := range a.Conditions() {
		sheet := w.PairSheet(c)
		if len(sheet.Rows) == 0 {
			continue
		}
		title := c.String()
		s.Pairs = append(s.Pairs, pairs{upperFirst(title), drawn.Pairs[i], o.link(sheet, 0)})
		for _, p := range a.PairsIn(c) {
			if words := w.Settle(p); words != "" && (p.Verdict == answer.NotSettled || p.Verdict == answer.AtLeast) {
				link := readingsPath(o.trial, o.asked, behind(publish.About{Wood: p.Wood, Factors: p.Factors, Adhesives: []string{p.A, p.B}}))
				s.Settle = append(s.Settle, settle{title, p.A + " / " + p.B, words, link})
			}
		}
	}
	for _, p := range drawn.Drifts {
		if p != nil {
			s.Drifts = append(s.Drifts, p)
		}
	}
	for _, x := range a.Outliers {
		code := a.Readings[x.Reading].Code
		words := fmt.Sprintf("%s times the middle of the others", show.Ratio(answer.Value(x.Ratio)))
		s.Outliers = append(s.Outliers, outlier{code, words, readingsPath(o.trial, o.asked, choice{Specimens: []string{code}})})
	}
	return s
}

// glued puts spaces that do not break between numbers and units into a sheet.
func glued(s publish.Sheet) publish.Sheet {
	s.Head, s.Note, s.Rows = publish.AllGlued(s.Head), publish.Glued(s.Note), slices.Clone(s.Rows)
	for i, row := range s.Rows {
		s.Rows[i] = publish.AllGlued(row)
	}
	return s
}

// link joins the rows of a sheet with the readings behind them.
func (o *order) link(s publish.Sheet, at int) linked {
	l := linked{Sheet: glued(s), At: at}
	for _, about := range s.About {
		l.Links = append(l.Links, readingsPath(o.trial, o.asked, behind(about)))
	}
	return l
}

// effects lists what the levels of the factors do.
func (o *order) effects(a *answer.Answer, w *publish.Words) linked {
	l := linked{Sheet: publish.Sheet{
		ID: "effects", Title: "What the conditions do", Note: "Over all adhesives and woods that were broken at both.",
		Head: []string{"Condition", "Ratio of strengths", "95 % interval", "Verdict"}, Numbers: []bool{false, true, true, false}}}
	for _, e := range a.Effects {
		l.Rows = append(l.Rows, []string{e.Factor + ": " + e.A + " / " + e.B, show.Ratio(e.Ratio), show.Ends(e.Low, e.High),
			w.VerdictWords(answer.Pair{Verdict: e.Verdict, Low90: e.Low90, High90: e.High90})})
		l.Links = append(l.Links, readingsPath(o.trial, o.asked, choice{}))
	}
	l.Sheet = glued(l.Sheet)
	return l
}
