package handout

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"bondtrial/internal/answer"
	"bondtrial/internal/plan/cut"
	"bondtrial/internal/plan/schedule"
	"bondtrial/internal/publish"
	"bondtrial/internal/show"
)

// width of a line of text.
const width = 96

// text writes the plan to be read.
func (h *handout) text(w io.Writer) error {
	var b strings.Builder
	for _, part := range []func(*strings.Builder){h.opening, h.numbers, h.boards, h.orders, h.days, h.assumed, h.cautions} {
		part(&b)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// summary is the plan in a few sentences.
func (h *handout) summary() []string {
	t := h.Trial
	s := []string{fmt.Sprintf("%d specimens: %d of each of %d adhesives in each condition (%d conditions on %d woods).",
		len(h.Specimens), h.PerCell, len(t.Adhesives), t.Conditions()*len(t.Woods), len(t.Woods))}
	if h.Shortened != "" {
		s = append(s, h.Shortened)
	} else if p, ok := h.planned(); ok {
		f := h.Numbers.Points[p].Found()
		s = append(s, fmt.Sprintf("If two adhesives differ by %.3g %%, that will be shown with a chance of %s (%s, where it is least).",
			float64(t.SmallestDifference), show.Chance(answer.Value(f.Found.Mean)), f.Wood))
	}
	if t.Blind {
		s = append(s, "Labels and sheets carry blind letters. Have somebody who will not break the specimens mark the packages with the letters of key.pdf, fold it, and keep it until the last break.")
	}
	s = append(s, fmt.Sprintf("Glued from %s, the last broken on %s.", day(h.Schedule.Opening), day(h.Schedule.End)))
	return s
}

// planned is the place of the planned number among those simulated.
func (h *handout) planned() (int, bool) {
	for k := range h.Numbers.Points {
		if h.Numbers.Points[k].N == h.PerCell {
			return k, true
		}
	}
	return 0, false
}

func (h *handout) opening(b *strings.Builder) {
	fmt.Fprintf(b, "%s\n", h.Trial.Name)
	if h.Trial.Question != "" {
		fmt.Fprintf(b, "%s\n", publish.Wrap(h.Trial.Question, width, ""))
	}
	b.WriteString("\n")
	for _, s := range h.summary() {
		b.WriteString(publish.Wrap(s, width, "") + "\n")
	}
}

func (h *handout) numbers(b *strings.Builder) {
	title := fmt.Sprintf("How many (chance to show a difference of %.3g %%, by simulated trials with %.0f %% scatter)", float64(h.Trial.SmallestDifference), float64(h.Trial.Scatter))
	head := []string{"of each", "in all"}
	for _, w := range h.Trial.Woods {
		head = append(head, w.Name+": found", "the same if equal", "ends in the wood", "interval")
	}
	rows := [][]string{head}
	for k := range h.Numbers.Points {
		p := &h.Numbers.Points[k]
		n := fmt.Sprint(p.N)
		if p.N == h.PerCell {
			n += " *"
		}
		row := []string{n, fmt.Sprint(p.Specimens)}
		for _, x := range p.Woods {
			interval := show.None
			if x.Simultaneous.Mean == x.Simultaneous.Mean {
				interval = "× " + show.Ratio(answer.Value(x.Simultaneous.Mean))
			}
			row = append(row, show.Chance(answer.Value(x.Found.Mean)), show.Chance(answer.Value(x.Same.Mean)), show.Percent(x.WoodLimited), interval)
		}
		rows = append(rows, row)
	}
	columns(b, title, rows)
	b.WriteString("  " + publish.Wrap("* planned. Interval: upper over lower end of the 95 % interval of a ratio, with all comparisons holding together.", width-2, "  ") + "\n")
}

func (h *handout) boards(b *strings.Builder) {
	rows := [][]string{{"wood", "specimens", "boards could give", "efficiency", "at most"}}
	for _, d := range h.Deals {
		rows = append(rows, []string{d.Wood, fmt.Sprint(d.Used), fmt.Sprint(d.Places), percent1(d.Efficiency), percent1(d.Bound)})
	}
	columns(b, "Which board (efficiency: precision of the comparisons over that of boards that do not differ)", rows)
	if h.Trial.Pairs != "" {
		b.WriteString("  " + publish.Wrap(fmt.Sprintf("The two levels of %s go to neighbouring pieces.", h.Trial.Pairs), width-2, "  ") + "\n")
	}
}

func (h *handout) orders(b *strings.Builder) {
	var rows [][]string
	for k, o := range h.Balance {
		worst, r := 0.0, 0.0
		for _, f := range o.Figures {
			worst, r = max(worst, f.Off, -f.Off), max(r, f.R, -f.R)
		}
		how := fmt.Sprintf("no adhesive's mean place is more than %.1f %% off the middle, no trend beyond r %.2f", worst, r)
		if batches := h.batches(); k == 0 && batches > 0 {
			how = fmt.Sprintf("in %d batches, one cartridge or mixing open at a time; ", batches) + how
		}
		rows = append(rows, []string{o.Order, how})
	}
	columns(b, fmt.Sprintf("Orders (drawn by lot from seed %d)", h.Trial.Seed), rows)
}

// batches is how many batches are glued; 0: the trial has none.
func (h *handout) batches() int {
	n := 0
	for k := range h.Specimens {
		n = max(n, h.Specimens[k].Batch)
	}
	return n
}

// days lists what is to be done when.
func (h *handout) days(b *strings.Builder) {
	rows := [][]string{{"day", "from", "to", "glue", "clamps off", "break", "look at the cure of"}}
	for _, d := range h.Schedule.Days {
		var n [3]int
		var from, to time.Time
		for k, s := range d.Steps {
			n[s.Kind]++
			if k == 0 {
				from = s.Start
			}
			to = later(to, s.End)
		}
		var checks []string
		for _, k := range d.Checks {
			c := h.Schedule.Checks[k]
			if from.IsZero() || c.At.Before(from) {
				from = c.At
			}
			to = later(to, c.At)
			if what := fmt.Sprintf("%s %s (%s)", clock(c.At), h.Names[c.Adhesive], c.Reasons()); !slices.Contains(checks, what) {
				checks = append(checks, what)
			}
		}
		rows = append(rows, []string{day(from), clock(from), clock(to), blank(n[schedule.GlueUp]), blank(n[schedule.Release]), blank(n[schedule.Break]), strings.Join(checks, ", ")})
	}
	columns(b, "When", rows)
	bound := h.Schedule.Bound
	b.WriteString("  " + publish.Wrap(fmt.Sprintf("It cannot be over before %s: what binds is %s.", day(bound.End()), bound.Binding()), width-2, "  ") + "\n")
	for _, n := range h.Schedule.Notes {
		b.WriteString("  " + publish.Wrap(n, width-2, "  ") + "\n")
	}
}

func (h *handout) assumed(b *strings.Builder) {
	if len(h.Trial.Assumed) == 0 {
		return
	}
	rows := [][]string{{"what", "taken", "because"}}
	for _, a := range h.Trial.Assumed {
		rows = append(rows, []string{a.What, a.Value, a.Source})
	}
	columns(b, "What the trial file left open", rows)
}

func (h *handout) cautions(b *strings.Builder) {
	for _, s := range publish.Cautions {
		b.WriteString("\n" + publish.Wrap("Caution: "+s, width, "  "))
	}
	b.WriteString("\n")
}

// cutList writes how the boards are cut.
func (h *handout) cutList(w io.Writer) error {
	var b strings.Builder
	g := h.Trial.Specimen
	fmt.Fprintf(&b, "%s: cut list\nPieces of %g × %g × %g mm (along the grain, across it, thick), planed.\n", h.Trial.Name, float64(g.Length), float64(g.Width), float64(g.Thickness))
	for k := range h.Cut.Boards {
		board(&b, &h.Cut.Boards[k])
	}
	fmt.Fprintf(&b, "\n%d pieces; %d boards are cut, and fewer than %d would not do whichever they were.\n", h.Cut.Pieces, h.Cut.Used, h.Cut.FewestBoards)
	fmt.Fprintf(&b, "Dust and shavings %.2f dm³; no way of cutting these pieces makes less than %.2f dm³.\n", h.Cut.Waste/1e6, h.Cut.LeastWaste/1e6)
	b.WriteString("\n" + publish.Wrap("Caution: small pieces are thrown by saw and planer. Cut strips long and crosscut last, with a stop, a push stick and the guard in place; resaw and plane by hand what is too short to hold.", width, "  ") + "\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func board(b *strings.Builder, p *cut.BoardPlan) {
	fmt.Fprintf(b, "\n%s: %d pieces", p.Board.Name, p.Wanted)
	if n := len(p.FromHand); n > 0 {
		fmt.Fprintf(b, ", %d of them at hand", n)
	}
	b.WriteString("\n")
	counts := make(map[cut.CutKind]int)
	for _, c := range p.Layout.Cuts {
		counts[c.Kind]++
	}
	for kind := cut.TrimEnd; kind <= cut.Plane; kind++ {
		if counts[kind] > 0 {
			fmt.Fprintf(b, "  %-10s %d\n", kind, counts[kind])
		}
	}
	for _, o := range p.Layout.Offcuts {
		s := o.Box.Size()
		fmt.Fprintf(b, "  left over  %g × %g × %g mm, %s\n", s[0], s[1], s[2], o.Where)
	}
	for _, r := range p.Retired {
		fmt.Fprintf(b, "  not used   %s\n", r)
	}
	if p.Note != "" {
		fmt.Fprintf(b, "  note       %s\n", p.Note)
	}
}

func columns(b *strings.Builder, title string, rows [][]string) {
	fmt.Fprintf(b, "\n%s\n", title)
	tw := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	for _, r := range rows {
		fmt.Fprintln(tw, "  "+strings.Join(r, "\t"))
	}
	tw.Flush()
}

func percent1(share float64) string { return fmt.Sprintf("%.1f %%", 100*share) }

func day(t time.Time) string   { return t.Format("Mon 2 Jan 2006") }
func clock(t time.Time) string { return t.Format("15:04") }

func blank(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprint(n)
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
