package answers

import (
	"context"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"bondtrial"
	"bondtrial/internal/record"
)

// Before all of the plan is broken the page says so, on top and where it says how many
// more would settle something; after that it does not.
func TestInterim(t *testing.T) {
	d := newDesk(t)
	id := d.broken(false, 7)
	spoil := d.Trial(id).ToBreak()[0].Code
	if _, err := d.Book.Correct(context.Background(), record.Who{By: "Ida"}, id, mustSpecimen(t, d, id, spoil).Glued.Seq, record.Glued{Spoiled: "slid"}); err != nil {
		t.Fatal(err)
	}
	d.answered(id, "")
	const words = "Interim: 8 of 15 are not broken yet. Looking early and stopping when it looks good misleads; the plan's chance holds for all of them."
	page := d.page("/trials/" + id + "/answer")
	says(t, page, words)
	if at := strings.Index(page, "Interim: "); at > strings.Index(page, "How strong") {
		t.Error("it does not stand on top")
	}
	if strings.Contains(page, "What would settle it</h2>") {
		says(t, page, "The 8 specimens of the plan that are not broken yet count toward these numbers.")
	}
	says(t, d.page("/trials/"+id+"/report.html"), words)
	d.breakMore(id, 20)
	d.answered(id, "")
	silent(t, d.page("/trials/"+id+"/answer"), "Interim", "not broken yet")
	silent(t, d.page("/trials/"+id+"/report.html"), "Interim")
}

func mustSpecimen(t *testing.T, d *desk, id, code string) *record.Specimen {
	t.Helper()
	s, ok := d.Trial(id).Specimen(code)
	if !ok {
		t.Fatalf("no specimen %s", code)
	}
	return s
}

// Readings of joints that had not cured as planned are counted in the fine print, with
// the day, the hour and the time zone of the answer.
func TestFinePrint(t *testing.T) {
	d := newDesk(t)
	id := d.Benches(false)
	d.GlueAll(id)
	d.breakMore(id, 3) // at the moment of the glue-up
	d.Clock.Add(60 * 24 * time.Hour)
	d.breakMore(id, 20)
	d.answered(id, "")
	page := d.page("/trials/" + id + "/answer")
	says(t, page, "3 were broken before full cure by the plan.", "Answered on 11 June 2027 at 11:00; dates and times are those of Europe/Berlin, the trial's time zone.")
	says(t, d.page("/trials/"+id+"/report.html"), "3 were broken before full cure by the plan.", "Europe/Berlin")
}

// A decimal point out of its place is told near the top, with the way to the reading.
func TestSlipIsToldOnTop(t *testing.T) {
	d := newDesk(t)
	var rs []bondtrial.Reading
	for i, mpa := range []float64{6, 7.2, 86, 9, 10, 11, 9.5, 112} {
		rs = append(rs, bondtrial.Reading{Specimen: bondtrial.Specimen{Code: string(rune('A' + i)), Adhesive: []string{"Tarn", "Fell"}[i/4], Wood: "ash"},
			Strength: bondtrial.Megapascal(mpa), WoodFailure: 10, MoisturePct: bondtrial.Percent(nan)})
	}
	id := d.takeIn(record.Asked{Name: "Slips"}, rs)
	d.answered(id, "")
	page := d.page("/trials/" + id + "/answer")
	top, _, _ := strings.Cut(page, "<h2>How strong")
	says(t, top, "2 readings are far from the others like them. Is the point in its place?", "C : 11.9 times the middle of the others", "H : 11.2 times")
	for _, code := range []string{"C", "H"} {
		if !strings.Contains(top, `/trials/slips/readings?specimen=`+code) {
			t.Errorf("no way to %s", code)
		}
	}
	says(t, page, "Specimen C (Tarn on ash)", "8 readings used")
}

// Tables are cards on a phone: every cell but what heads it names its column. A number
// stays on the line of its unit, and what is pressed is said beside the table.
func TestTablesOnAPhone(t *testing.T) {
	d := newDesk(t)
	id := d.broken(false, 16)
	d.answered(id, "")
	page := d.page("/trials/" + id + "/answer")
	silent(t, page, "swipe sideways")
	tables := regexp.MustCompile(`(?s)<table.*?</table>`).FindAllString(page, -1)
	if len(tables) < 5 {
		t.Fatalf("%d tables", len(tables))
	}
	for _, table := range tables {
		head, body, _ := strings.Cut(table, "</thead>")
		columns := strings.Count(head, "<th ")
		row, _, _ := strings.Cut(body, "</tr>")
		if !strings.Contains(head, `class="`) || !strings.Contains(head, "cards") || strings.Count(row, "data-of=") < columns-2 || strings.Contains(row, `data-of=""`) {
			t.Errorf("no cards: %s%s", head, row)
		}
	}
	for _, line := range regexp.MustCompile(`(?s)<td.*?</td>|aria-label="The answer">.*?</section>`).FindAllString(page, -1) {
		if m := regexp.MustCompile(`\d (%|MPa)`).FindString(line); m != "" {
			t.Errorf("%q may break in %s", m, line)
		}
	}
	if !regexp.MustCompile(`Press a row of the table[^<]*</p>\s*<div class="table-box"`).MatchString(page) {
		t.Error("what can be pressed is not said right above its table")
	}
	says(t, page, "The likeliest first.")
}

// More draws can be asked for on the page, as the sampler's warning says.
func TestDraws(t *testing.T) {
	d := newDesk(t)
	id := d.small()
	q := url.Values{"draws": {"10"}}
	page, _ := d.get("/trials/" + id + "/answer?" + q.Encode())
	says(t, page, `"10": give a whole number from 4000 to 2000000`)
	a, in := settings(url.Values{"draws": {"80000"}}, d.Trial(id), bondtrial.SI)
	if len(in.Wrong) > 0 || a.Draws != 80_000 || a.Query() != "?draws=80000" || !strings.HasSuffix(a.Command("r.csv"), " --draws 80000") {
		t.Errorf("%+v %v, %s, %s", a.Settings, in.Wrong, a.Query(), a.Command("r.csv"))
	}
	if a, _ := settings(url.Values{"draws": {"40000"}}, d.Trial(id), bondtrial.SI); a.Query() != "" {
		t.Errorf("the usual draws stand in the address: %s", a.Query())
	}
}

// Levels that say nothing alone come with the name of their factor.
func TestLevelsAreNamed(t *testing.T) {
	tr := &record.Trial{ID: "small", Asked: record.Asked{Factors: []string{"gap"}}}
	c := choice{Adhesives: []string{"Tarn"}, Factors: map[string]string{"gap": "none"}}
	if got := c.Words(tr.Factors()); got != "Tarn, gap: none" {
		t.Errorf("%q", got)
	}
}
