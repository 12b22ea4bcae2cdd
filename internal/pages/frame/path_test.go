package frame_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

// entry makes the entries of a trial, one after the other.
type entries struct {
	list []record.Entry
}

func (s *entries) add(subject, kind string, c record.Content) *entries {
	e := record.Entry{Content: c}
	e.Entry = logbook.Entry{Seq: int64(len(s.list) + 1), Kind: kind, Subject: subject, At: time.Date(2027, 4, 12, 9, 0, 0, 0, time.UTC)}
	s.list = append(s.list, e)
	return s
}

func (s *entries) each(codes string, kind string, c record.Content) *entries {
	for _, code := range strings.Fields(codes) {
		s.add(code, kind, c)
	}
	return s
}

// due is when the first cure check of the plan below is due.
var due = time.Date(2027, 4, 13, 22, 30, 0, 0, time.UTC)

func planOf(n int, zone string) record.Planned {
	p := record.Planned{Zone: zone, AreaMM2: 200, Adhesives: []record.PlannedAdhesive{{Name: "Tarn", Label: "Tarn"}}}
	for i := range n {
		p.Specimens = append(p.Specimens, record.PlannedSpecimen{Code: fmt.Sprint("C", i), Wood: "ash", BreakTurn: i + 1, GlueAt: time.Date(2027, 4, 12, 9, 0, 0, 0, time.UTC)})
	}
	p.Checks = []record.PlannedCheck{{At: due, Specimens: []int{0}}, {At: due.AddDate(0, 0, 6), Specimens: []int{0}}}
	return p
}

func TestPath(t *testing.T) {
	const all = "C0 C1 C2"
	broke := record.Broken{Strength: 8}
	before := due.AddDate(0, 0, -1)
	asked := func() *entries { return new(entries).add("", "asked", record.Asked{Name: "Small"}) }
	planned := func(zone string) *entries { return asked().add("", "planned", planOf(3, zone)) }
	for _, c := range []struct {
		name string
		s    *entries
		now  time.Time
		want string // words of all stations; a * where done, a > where next
	}{
		{"begun", asked(), before,
			">to be written|no plan yet|nothing to glue yet|no checks planned|nothing to break yet|needs readings|after the answer"},
		{"question not complete", new(entries).add("", "asked", record.Asked{Name: "Small", File: "[[["}), before,
			">not complete yet|no plan yet|nothing to glue yet|no checks planned|nothing to break yet|needs readings|after the answer"},
		{"planned", planned("UTC"), before,
			">to be written|*3 specimens|0 of 3 glued|cure check of 1 due at 22:30 on 13 Apr|0 of 3 broken|needs readings|after the answer"},
		{"some glued", planned("UTC").each("C0 C1", "glued", record.Glued{}), before,
			">to be written|*3 specimens|2 of 3 glued|cure check of 1 due at 22:30 on 13 Apr|0 of 3 broken|needs readings|after the answer"},
		{"one spoiled", planned("UTC").each("C0 C1", "glued", record.Glued{}).add("C2", "glued", record.Glued{Spoiled: "fell"}), before,
			">to be written|*3 specimens|*2 of 3 glued, 1 spoiled|cure check of 1 due at 22:30 on 13 Apr|0 of 2 broken|needs readings|after the answer"},
		{"all spoiled", planned("UTC").each(all, "glued", record.Glued{Spoiled: "fell"}), before,
			">to be written|*3 specimens|*0 of 3 glued, 3 spoiled|cure check of 1 due at 22:30 on 13 Apr|0 of 0 broken|needs readings|after the answer"},
		{"the spoiled one set aside", planned("UTC").each("C0 C1", "glued", record.Glued{}).add("C2", "glued", record.Glued{Spoiled: "fell"}).each(all, "broken", broke), before,
			">to be written|*3 specimens|*2 of 3 glued, 1 spoiled|*0 of 2 checks|*3 of 3 broken|from 3 readings|report, figures, data"},
		{"one set aside at the break", planned("UTC").each(all, "glued", record.Glued{}).each("C0 C1", "broken", broke).add("C2", "broken", record.Broken{Strength: 8, SetAside: "slipped"}), before,
			">to be written|*3 specimens|*3 of 3 glued|*0 of 2 checks|*3 of 3 broken, 1 set aside|from 3 readings|report, figures, data"},
		{"due the same day", planned("UTC").each(all, "glued", record.Glued{}), due.Add(-time.Hour),
			">to be written|*3 specimens|*3 of 3 glued|cure check of 1 due at 22:30|0 of 3 broken|needs readings|after the answer"},
		{"due after midnight in its zone", planned("Europe/Berlin").each(all, "glued", record.Glued{}), due.Add(-time.Hour),
			">to be written|*3 specimens|*3 of 3 glued|cure check of 1 due at 00:30 on 14 Apr|0 of 3 broken|needs readings|after the answer"},
		{"due today in its zone, on another day by UTC", planned("Europe/Berlin").each(all, "glued", record.Glued{}), due.Add(-20 * time.Minute),
			">to be written|*3 specimens|*3 of 3 glued|cure check of 1 due at 00:30|0 of 3 broken|needs readings|after the answer"},
		{"due this minute", planned("UTC").each(all, "glued", record.Glued{}), due,
			">to be written|*3 specimens|*3 of 3 glued|1 check due now|0 of 3 broken|needs readings|after the answer"},
		{"both due", planned("UTC").each(all, "glued", record.Glued{}), due.AddDate(0, 0, 7),
			">to be written|*3 specimens|*3 of 3 glued|2 checks due now|0 of 3 broken|needs readings|after the answer"},
		{"due and nothing glued", planned("UTC"), due.AddDate(0, 0, 7),
			">to be written|*3 specimens|0 of 3 glued|0 of 2 checks|0 of 3 broken|needs readings|after the answer"},
		{"looked at", planned("UTC").each(all, "glued", record.Glued{}).each("check_1 check_2", "cured", record.Cured{Hardness: 5}), due.AddDate(0, 0, 7),
			">to be written|*3 specimens|*3 of 3 glued|*2 of 2 checks|0 of 3 broken|needs readings|after the answer"},
		{"broken without glueing recorded", planned("UTC").each(all, "broken", broke), before,
			">to be written|*3 specimens|*not recorded here|*0 of 2 checks|*3 of 3 broken|from 3 readings|report, figures, data"},
		{"half broken without glueing recorded", planned("UTC").each("C1", "broken", broke), before,
			">to be written|*3 specimens|0 of 3 glued|cure check of 1 due at 22:30 on 13 Apr|1 of 3 broken|from 1 reading|report, figures, data"},
		{"taken in", new(entries).add("", "asked", record.Asked{Name: "Old", Table: "old.csv"}).add("A", "broken", record.Broken{Strength: 8, Joint: &record.Joint{Adhesive: "Tarn"}}), before,
			"*taken in from a table|*taken in as it was|*not recorded here|*not recorded here|*1 of 1 broken|>from 1 reading|report, figures, data"},
		{"one specimen by hand", asked().add("T1", "added", record.Added{Joint: record.Joint{Adhesive: "Tarn"}}), before,
			">to be written|no plan yet|0 of 1 glued|no checks planned|0 of 1 broken|needs readings|after the answer"},
		{"one specimen by hand, broken", asked().add("T1", "added", record.Added{Joint: record.Joint{Adhesive: "Tarn"}}).add("T1", "broken", broke), before,
			">to be written|no plan yet|*not recorded here|*no checks planned|*1 of 1 broken|from 1 reading|report, figures, data"},
	} {
		for i := range c.s.list {
			c.s.list[i].Subject = strings.ReplaceAll(c.s.list[i].Subject, "_", " ")
		}
		var got []string
		for _, s := range frame.Path(record.Fold("small", c.s.list), c.now) {
			switch {
			case s.Done:
				s.Words = "*" + s.Words
			case s.Next:
				s.Words = ">" + s.Words
			}
			got = append(got, s.Words)
		}
		if g := strings.Join(got, "|"); g != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, g, c.want)
		}
	}
	b := frametest.New(t)
	if p := frame.Path(b.Trial(b.Benches(false)), due); p[0].Words != "2 adhesives, 1 wood" || !p[0].Done || !p[2].Next {
		t.Errorf("%+v", p)
	}
}
