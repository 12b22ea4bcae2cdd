package handout

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"bondtrial"
	"bondtrial/internal/figure"
	"bondtrial/internal/plan"
	"bondtrial/internal/plan/schedule"
	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/publish"
	"bondtrial/internal/publish/paper"
)

// Names of the files.
const (
	PlanText  = "plan.txt"
	PlanTable = "plan.csv"
	PlanJSON  = "plan.json"
	Readings  = "readings.csv"
	CutList   = "cut-list.txt"
	GlueUp    = "glue-up.pdf"
	Breaks    = "break.pdf"
	Labels    = "labels.pdf"
	Calendar  = "calendar.ics"
	Chance    = "chance.svg"
	KeySealed = "key.sealed"
)

// File is one file of a handout.
type File struct {
	Name    string
	Content []byte
}

// Files returns the files of a plan in the order in which they are to be listed.
// Without blind names there is no key, and where nothing is cut no cut list.
func Files(p *plan.Plan) ([]File, error) {
	h := &handout{p}
	var files []File
	for _, f := range []struct {
		name   string
		wanted bool
		write  func(io.Writer) error
	}{
		{PlanText, true, h.text},
		{PlanTable, true, h.table},
		{PlanJSON, true, h.json},
		{Readings, true, h.readings},
		{CutList, len(p.Cuts) > 0, h.cutList},
		{Chance, true, h.chance},
		{GlueUp, true, h.glueUp},
		{Breaks, true, h.breaks},
		{Labels, true, h.labels},
		{Calendar, true, h.calendar},
		{KeySealed, p.Trial.Blind, h.seal},
	} {
		if !f.wanted {
			continue
		}
		var b bytes.Buffer
		if err := f.write(&b); err != nil {
			return nil, fmt.Errorf("writing %s: %w", f.name, err)
		}
		files = append(files, File{f.name, b.Bytes()})
	}
	return files, nil
}

type handout struct{ *plan.Plan }

// first is the first day of the trial, which stands for the date of the plan.
func (h *handout) first() time.Time { return h.Trial.Work.Start.At(0, h.Trial.Work.Location) }

func (h *handout) size() paper.Size {
	return paper.Size{Width: float64(h.Trial.Labels.PageWidth), Height: float64(h.Trial.Labels.PageHeight)}
}

func (h *handout) head() paper.Head {
	return paper.Head{Trial: h.Trial.Name, Date: h.first(), Cautions: publish.Cautions}
}

// adhesive is its name on paper.
func (h *handout) adhesive(s *plan.Specimen) string { return h.Names[s.Adhesive] }

// where is the wood and the levels of the factors.
func where(s *plan.Specimen) string {
	text := s.Wood
	for _, l := range s.Levels {
		text += ", " + l
	}
	return text
}

func (h *handout) glueUp(w io.Writer) error {
	g := paper.GlueUp{Paper: h.size(), Head: h.head(), Blind: h.Trial.Blind}
	parted := 0 // the batch that was parted by a long wait
	for k := range h.Specimens {
		s := &h.Specimens[k]
		at := h.Schedule.Times[k].Spread
		group := ""
		if s.Batch > 0 {
			group = fmt.Sprintf("batch %d", s.Batch)
		}
		if s.Batch != parted {
			parted = 0
		}
		if h.anew(k) {
			parted = s.Batch
		}
		if parted > 0 {
			group += ", opened or mixed anew"
		}
		g.Rows = append(g.Rows, paper.GlueUpRow{Number: k + 1, Code: s.Code, Adhesive: h.adhesive(s), Wood: where(s),
			Pieces: fmt.Sprintf("board %s: %d + %d", s.Board, s.Pieces[0], s.Pieces[1]), Planned: at,
			OpenLimit: limit(h.Trial.Adhesives[s.Adhesive]), ClampOff: h.clampOff(k), Group: group})
	}
	return paper.WriteGlueUp(w, g)
}

// limit is how long after spreading the joint must be under its clamp; 0 where the
// label says nothing of it.
func limit(a trialfile.Adhesive) time.Duration {
	if a.Clamp == 0 {
		return 0
	}
	return a.Open + a.Closed
}

// clampOff is when a clamp may come off; the zero time where there is none.
func (h *handout) clampOff(specimen int) (t time.Time) {
	if x := h.Schedule.Times[specimen]; x.Clamp > 0 {
		t = x.Release
	}
	return t
}

func (h *handout) breaks(w io.Writer) error {
	b := paper.Breaks{Paper: h.size(), Head: h.head(), Blind: h.Trial.Blind, Measured: "peak force, " + h.force(),
		Codes: []string{"SF wood", "CSF wood, close to the bond", "CF adhesive", "SCF adhesive, a thin layer left on one face", "AF interface", "ACFP interface and adhesive, peeled", "DF bond line opened"}}
	for turn, i := range h.BreakOrder {
		s, at := &h.Specimens[i], h.Schedule.Times[i]
		row := paper.BreakRow{Number: turn + 1, Code: s.Code, Adhesive: h.adhesive(s), Group: at.Break.Format("Monday 2006-01-02")}
		if !h.Trial.Blind { // how long it cures would tell the adhesive
			row.Earliest = at.Cured
		}
		b.Rows = append(b.Rows, row)
	}
	return paper.WriteBreaks(w, b)
}

// force is the unit in which forces are written down.
func (h *handout) force() string {
	if h.Trial.Units == bondtrial.US {
		return "lbf"
	}
	return "N"
}

func (h *handout) labels(w io.Writer) error {
	s := h.Trial.Labels
	l := paper.Labels{Trial: h.Trial.Name, Date: h.first(), Blind: h.Trial.Blind, Sheet: paper.LabelSheet{
		Paper: h.size(), Rows: s.Rows, Columns: s.Columns, Left: float64(s.Left), Right: float64(s.Right), Top: float64(s.Top), Bottom: float64(s.Bottom),
		GapX: float64(s.GapAcross), GapY: float64(s.GapDown)}}
	for k := range h.Specimens {
		x := &h.Specimens[k]
		l.Labels = append(l.Labels, paper.Label{Code: x.Code, Adhesive: h.adhesive(x), Wood: where(x), Board: x.Board,
			Pieces: []string{fmt.Sprint(x.Pieces[0]), fmt.Sprint(x.Pieces[1])}})
	}
	return paper.WriteLabels(w, l)
}

func (h *handout) calendar(w io.Writer) error {
	return schedule.WriteCalendar(w, h.Schedule, schedule.Calendar{Trial: h.Trial.Name, Stamp: h.first(), Blind: h.Trial.Blind})
}

// chance draws the chance to find the difference.
func (h *handout) chance(w io.Writer) error {
	c := figure.Plan{Difference: fmt.Sprintf("%.3g %%", float64(h.Trial.SmallestDifference)), Wanted: float64(h.Trial.Chance) / 100, Chosen: h.PerCell}
	for k := range h.Numbers.Points {
		point := &h.Numbers.Points[k]
		for i, x := range point.Woods {
			if k == 0 {
				c.Woods = append(c.Woods, figure.PlanWood{Wood: x.Wood})
			}
			f := &c.Woods[i]
			f.N, f.Found, f.Limited = append(f.N, point.N), append(f.Found, x.Found.Mean), append(f.Limited, x.WoodLimited)
		}
	}
	return figure.PlanChance(c, figure.Column()).WriteSVG(w)
}
