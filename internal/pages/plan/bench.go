package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"bondtrial/internal/record"
)

// woodBoards are the boards of a wood and what is taken of them.
type woodBoards struct {
	Wood   string
	Words  []string
	Boards []board
}

type board struct {
	Name      string
	Specimens int
	Pieces    string // their numbers
	pieces    []int
}

// woods lists the boards of each wood that give pieces.
func woods(t *record.Trial, n *numbers) []woodBoards {
	var out []woodBoards
	for _, wood := range woodNames(t.Plan) {
		w := woodBoards{Wood: wood}
		for _, s := range t.Plan.Specimens {
			if s.Wood != wood {
				continue
			}
			i := slices.IndexFunc(w.Boards, func(b board) bool { return b.Name == s.Board })
			if i < 0 {
				i = len(w.Boards)
				w.Boards = append(w.Boards, board{Name: s.Board})
			}
			w.Boards[i].Specimens++
			w.Boards[i].pieces = append(w.Boards[i].pieces, s.Pieces[:]...)
		}
		for i := range w.Boards {
			w.Boards[i].Pieces = ranges(w.Boards[i].pieces)
		}
		slices.SortFunc(w.Boards, func(a, b board) int {
			return cmp.Or(cmp.Compare(len(a.Name), len(b.Name)), cmp.Compare(a.Name, b.Name)) // 9 before 10
		})
		for _, d := range n.Deals {
			if d.Wood != wood {
				continue
			}
			w.Words = append(w.Words, fmt.Sprintf("%d of the %d specimens that the boards could give.", d.Used, d.Places)+" "+precision(d.Efficiency, d.Bound))
			if d.Boards == 1 {
				w.Words = append(w.Words, "There is one board only: what is found will hold for that board.")
			}
			if len(d.Spare) > 0 {
				w.Words = append(w.Words, "Not needed: board "+strings.Join(d.Spare, ", ")+".")
			}
		}
		out = append(out, w)
	}
	return out
}

// precision says how well the boards serve the comparisons.
func precision(efficiency, bound float64) string {
	got, most := fmt.Sprintf("%.1f", 100*efficiency), fmt.Sprintf("%.1f", 100*bound)
	switch {
	case got == "100.0":
		return "Comparisons are as precise as with boards that do not differ: nothing is lost to them."
	case got == most:
		return fmt.Sprintf("Comparisons have %s %% of the precision that boards without differences would give; no dealing gives more.", got)
	}
	return fmt.Sprintf("Comparisons have %s %% of the precision that boards without differences would give; no dealing gives more than %s %%.", got, most)
}

// ranges writes numbers in order: "1–8, 11".
func ranges(numbers []int) string {
	n := slices.Clone(numbers)
	slices.Sort(n)
	n = slices.Compact(n)
	var parts []string
	for i := 0; i < len(n); {
		k := i
		for k+1 < len(n) && n[k+1] == n[k]+1 {
			k++
		}
		switch k - i {
		case 0:
			parts = append(parts, fmt.Sprint(n[i]))
		case 1:
			parts = append(parts, fmt.Sprint(n[i]), fmt.Sprint(n[k]))
		default:
			parts = append(parts, fmt.Sprintf("%d–%d", n[i], n[k]))
		}
		i = k + 1
	}
	return strings.Join(parts, ", ")
}

// day is what is to be done on a day.
type day struct {
	Date             string
	Day, From, To    string
	Glue, Off, Break int
	Looks            []string
	from, to         time.Time
}

// days lists the days on which there is something to do.
func days(t *record.Trial, b *beside) []day {
	byDate := make(map[string]*day)
	at := func(moment time.Time) *day {
		local := moment.In(t.Zone)
		date := local.Format(time.DateOnly)
		d := byDate[date]
		if d == nil {
			d = &day{Date: date, Day: local.Format("Mon 2 Jan 2006"), from: moment, to: moment}
			byDate[date] = d
		}
		if moment.Before(d.from) {
			d.from = moment
		}
		if moment.After(d.to) {
			d.to = moment
		}
		return d
	}
	for _, s := range t.Plan.Specimens {
		at(s.GlueAt).Glue++
		at(s.BreakAt).Break++
	}
	for _, c := range t.Checks() {
		d := at(c.At)
		look := c.Why
		if !t.Sealed() { // how long it cures would tell the adhesive
			look = c.Label + ": " + c.Why
		}
		if !slices.Contains(d.Looks, look) {
			d.Looks = append(d.Looks, look)
		}
	}
	for date, n := range b.ClampsOff {
		if d := byDate[date]; d != nil {
			d.Off = n
			continue
		}
		if noon, err := time.ParseInLocation(time.DateOnly, date, t.Zone); err == nil {
			byDate[date] = &day{Date: date, Day: noon.Format("Mon 2 Jan 2006"), Off: n}
		}
	}
	var out []day
	for _, d := range byDate {
		if !d.from.IsZero() {
			d.From, d.To = d.from.In(t.Zone).Format("15:04"), d.to.In(t.Zone).Format("15:04")
		}
		out = append(out, *d)
	}
	slices.SortFunc(out, func(a, b day) int { return strings.Compare(a.Date, b.Date) })
	return out
}
