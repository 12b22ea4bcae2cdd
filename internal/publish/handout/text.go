package handout

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/plan/cut"
	"bondtrial/internal/plan/schedule"
	"bondtrial/internal/plan/trialfile"
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
		sentence := fmt.Sprintf("If two adhesives differ by %.3g %%, that will be shown with a chance of %s (%s, where it is least)",
			float64(t.SmallestDifference), show.Chance(answer.Value(f.Found.Mean)), f.Wood)
		if f.Found.Mean < float64(t.Chance)/100 {
			sentence += fmt.Sprintf("; %.3g %% is wanted", float64(t.Chance))
		}
		s = append(s, sentence+".")
	}
	if n := len(h.Expected); n > 0 {
		s = append(s, fmt.Sprintf("For %d of the adhesives no strength is expected in the file. What stands in for it is a guess, and with it how much the wood will end and how surely a difference is found.", n))
	}
	if t.Blind {
		s = append(s, "Labels and sheets carry blind letters. Have somebody who will not break the specimens open the key (at Plan in the pages of the logbook, or by \"bondtrial plan --open\" on the folder that the command line wrote), mark the packages with the letters, and keep them to themselves; that is recorded, as any other opening is. The glue-up sheet, plan.csv and plan.json tell by their times which letter may be which: keep them from whoever breaks.")
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
	rows := [][]string{{"wood", "of each", "in all", "found", "same, if equal", "ends in the wood", "interval"}}
	for i := range h.Trial.Woods {
		for k := range h.Numbers.Points {
			p := &h.Numbers.Points[k]
			x, n, interval := p.Woods[i], fmt.Sprint(p.N), show.None
			if p.N == h.PerCell {
				n += " *"
			}
			if v := answer.Value(x.Simultaneous.Mean); v.Exists() {
				interval = "× " + show.Ratio(v)
			}
			rows = append(rows, []string{x.Wood, n, fmt.Sprint(p.Specimens), show.Chance(answer.Value(x.Found.Mean)), show.Chance(answer.Value(x.Same.Mean)), show.Percent(x.WoodLimited), interval})
		}
	}
	columns(b, title, rows)
	line := func(s string) { b.WriteString("  " + publish.Wrap(s, width-2, "  ") + "\n") }
	line("* planned. Same: the chance that two equal ones are shown the same within ±15 %. Interval: upper over lower end of the 95 % interval of a ratio, with all comparisons holding together.")
	if h.batches() > 0 {
		line("Batches are not reckoned with here. The answer allows for differences between them, and so finds somewhat less.")
	}
}

func (h *handout) boards(b *strings.Builder) {
	rows := [][]string{{"wood", "specimens", "boards could give", "efficiency", "at most"}}
	for _, d := range h.Deals {
		rows = append(rows, []string{d.Wood, fmt.Sprint(d.Used), fmt.Sprint(d.Places), percent1(d.Efficiency), percent1(d.Bound)})
	}
	columns(b, "Which board (efficiency: precision of the comparisons over that of boards that do not differ)", rows)
	for _, d := range h.Deals {
		if d.Boards == 1 {
			b.WriteString("  " + publish.Wrap(fmt.Sprintf("There is one board of %s only: what is found will hold for that board.", d.Wood), width-2, "  ") + "\n")
		}
		if len(d.Spare) > 0 {
			b.WriteString("  " + publish.Wrap(fmt.Sprintf("Not needed of %s: board %s.", d.Wood, show.List(d.Spare)), width-2, "  ") + "\n")
		}
	}
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
		if !o.Kept {
			how += ": as near as the numbers allow"
		}
		if batches := h.batches(); k == 0 && batches > 0 {
			how = fmt.Sprintf("in %d batches, one cartridge or mixing open at a time; ", batches) + how
		}
		rows = append(rows, []string{o.Order, how})
	}
	if over := h.overnight(); len(over) > 0 {
		rows = append(rows, []string{"", fmt.Sprintf("glued with a break in between, so mix or open anew: batch %s", show.List(over))})
	}
	columns(b, fmt.Sprintf("Orders (drawn by lot from seed %d)", h.Trial.Seed), rows)
}

// checksOf says why the cure is looked at on a day, and of which adhesives where that
// may be known: "24 h; half cure", "Tarn, Fell (24 h)".
func (h *handout) checksOf(d schedule.Day) string {
	var reasons []string
	names := make(map[string][]string)
	for _, k := range d.Checks {
		c := h.Schedule.Checks[k]
		why, name := c.Reasons(), h.Names[c.Adhesive]
		if h.Trial.Blind {
			name = "" // how long it cures would tell the adhesive
		}
		if names[why] == nil {
			reasons = append(reasons, why)
		}
		if !slices.Contains(names[why], name) {
			names[why] = append(names[why], name)
		}
	}
	var parts []string
	for _, why := range reasons {
		if who := strings.Join(names[why], ", "); who != "" {
			why = who + " (" + why + ")"
		}
		parts = append(parts, why)
	}
	return strings.Join(parts, "; ")
}

// batches is how many batches are glued; 0: the trial has none.
func (h *handout) batches() int {
	n := 0
	for k := range h.Specimens {
		n = max(n, h.Specimens[k].Batch)
	}
	return n
}

// overnight names the batches that are parted by a long wait.
func (h *handout) overnight() []string {
	var over []string
	for k := range h.Specimens {
		if name := fmt.Sprint(h.Specimens[k].Batch); h.anew(k) && !slices.Contains(over, name) {
			over = append(over, name)
		}
	}
	return over
}

// longWait is a wait within a batch after which a mixing is made anew (a choice,
// without a source: the label knows the pot life).
const longWait = 15 * time.Minute

// anew reports whether a specimen is glued after a long wait within its batch.
func (h *handout) anew(k int) bool {
	s := &h.Specimens[k]
	return k > 0 && s.Batch > 0 && s.Batch == h.Specimens[k-1].Batch && h.Schedule.Times[k].Spread.Sub(h.Schedule.Times[k-1].Clamped) >= longWait
}

// days lists what is to be done when.
func (h *handout) days(b *strings.Builder) {
	rows := [][]string{{"day", "from", "to", "glue", "clamps off", "break", "look at the cure"}}
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
		for _, k := range d.Checks {
			at := h.Schedule.Checks[k].At
			if from.IsZero() || at.Before(from) {
				from = at
			}
			to = later(to, at)
		}
		rows = append(rows, []string{day(from), clock(from), clock(to), blank(n[schedule.GlueUp]), blank(n[schedule.Release]), blank(n[schedule.Break]), h.checksOf(d)})
	}
	columns(b, "When (times of each specimen are in plan.csv and calendar.ics)", rows)
	b.WriteString("  " + publish.Wrap("Looking at the cure: press a fingernail into what was squeezed out, and write down soft, rubbery or hard. Do not break what is not hard.", width-2, "  ") + "\n")
	bound := h.Schedule.Bound
	b.WriteString("  " + publish.Wrap(fmt.Sprintf("It cannot be over before %s: what binds is %s.", day(bound.End()), bound.Binding()), width-2, "  ") + "\n")
	for _, n := range h.Schedule.Notes {
		b.WriteString("  " + publish.Wrap(n, width-2, "  ") + "\n")
	}
}

func (h *handout) assumed(b *strings.Builder) {
	if len(h.Trial.Assumed)+len(h.Expected) == 0 {
		return
	}
	b.WriteString("\nWhat the trial file left open\n")
	for _, a := range append(slices.Clone(h.Trial.Assumed), h.Expected...) {
		b.WriteString("  " + publish.Wrap(fmt.Sprintf("%s: %s is taken (%s)", a.What, a.Value, a.Source), width-2, "    ") + "\n")
	}
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
	c := h.Trial.Cutting
	fmt.Fprintf(&b, "%s: cut list\n%s\n", h.Trial.Name, publish.Wrap(fmt.Sprintf(
		"Lengths are in %s. Pieces are %s × %s × %s (along the grain, across it, thick) when they are planed. Rip strips %s wide, resaw them to %s, crosscut to %s, plane %s off the face to be glued. The saw takes %s.",
		h.lengthUnit(), h.length(float64(g.Length)), h.length(float64(g.Width)), h.length(float64(g.Thickness)), h.length(float64(g.Width)),
		h.length(float64(g.Thickness+c.Planing)), h.length(float64(g.Length)), h.length(float64(c.Planing)), h.length(float64(c.Kerf))), width, ""))
	b.WriteString(publish.Wrap("Number the pieces of a board as they come off the saw: strip by strip, layer by layer, from one end to the other. Write the board and the number on each at once: the sheets go by them, and neighbours are glued together.", width, "") + "\n")
	for _, c := range h.Cuts {
		fmt.Fprintf(&b, "\n%s\n", strings.ToUpper(c.Wood))
		for k := range c.Boards {
			h.board(&b, &c.Boards[k])
		}
		if c.Used > 0 {
			fmt.Fprintf(&b, "\nOf %s %d pieces. Boards cut: %d; at the least %d would have to be. Dust and shavings: %.2f %s; at the least %.2f.\n",
				c.Wood, c.Pieces, c.Used, c.FewestBoards, c.Waste/h.volume(), h.volumeUnit(), c.LeastWaste/h.volume())
		}
	}
	b.WriteString("\n" + publish.Wrap("Caution: small pieces are thrown by saw and planer. Cut strips long and crosscut last, with a stop, a push stick and the guard in place; resaw and plane by hand what is too short to hold.", width, "  ") + "\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func (h *handout) board(b *strings.Builder, p *cut.BoardPlan) {
	fmt.Fprintf(b, "\nboard %s: %d pieces", p.Board.Name, p.Wanted)
	if n := len(p.FromHand); n > 0 {
		fmt.Fprintf(b, ", %d of them at hand", n)
	}
	b.WriteString("\n")
	numbered(b, p)
	for _, o := range p.Layout.Offcuts {
		if s := o.Box.Size(); s[0] >= worthKeeping && s[1] >= worthKeeping/2 {
			fmt.Fprintf(b, "  left over  %s × %s × %s %s, %s\n", h.length(s[0]), h.length(s[1]), h.length(s[2]), h.lengthUnit(), o.Where)
		}
	}
	for _, r := range p.Retired {
		fmt.Fprintf(b, "  not used   %s\n", r)
	}
	if p.Note != "" {
		fmt.Fprintf(b, "  note       %s\n", p.Note)
	}
}

// worthKeeping is the length from which an offcut is listed, mm.
const worthKeeping = 40

// numbered lists which pieces each strip and layer gives.
func numbered(b *strings.Builder, p *cut.BoardPlan) {
	per, layers := max(p.Grid.PerStrip, 1), max(p.Grid.Layers, 1)
	for first := 1; first <= p.Cut; first += per {
		k := (first - 1) / per
		last := min(first+per-1, p.Cut)
		fmt.Fprintf(b, "  strip %d, layer %d: pieces %d to %d\n", k/layers+1, k%layers+1, first+len(p.FromHand), last+len(p.FromHand))
	}
}

// length writes a length given in mm in the unit that is shown: a tenth of a
// millimetre or a hundredth of an inch.
func (h *handout) length(mm float64) string {
	if h.Trial.Units == bondtrial.US {
		return show.Trim(math.Round(100*mm/trialfile.MillimetrePerInch) / 100)
	}
	return show.Trim(math.Round(10*mm) / 10)
}

func (h *handout) lengthUnit() string {
	if h.Trial.Units == bondtrial.US {
		return "inches"
	}
	return "mm"
}

// volume is the unit of volumes that are shown, mm³.
func (h *handout) volume() float64 {
	if h.Trial.Units == bondtrial.US {
		return math.Pow(trialfile.MillimetrePerInch, 3)
	}
	return 1e6
}

func (h *handout) volumeUnit() string {
	if h.Trial.Units == bondtrial.US {
		return "cubic inches"
	}
	return "dm³"
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

func day(t time.Time) string   { return t.Format("Mon 2006-01-02") }
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
