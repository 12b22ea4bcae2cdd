package record_test

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"bondtrial"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
	"bondtrial/internal/table"
)

// same takes two shares that are not recorded as equal, and does not mind the line.
var same = cmp.Options{cmp.Comparer(func(a, b bondtrial.Percent) bool { return a == b || a != a && b != b }),
	cmpopts.EquateEmpty(), cmpopts.IgnoreFields(bondtrial.Reading{}, "Line")}

// smallPlan is a plan of six specimens, made up for tests.
func smallPlan(blind bool, zone string) record.Planned {
	at := time.Date(2027, 4, 12, 8, 0, 0, 0, time.UTC)
	p := record.Planned{Zone: zone, Blind: blind, Factors: []string{"surface"}, AreaMM2: 200, Joint: "lap",
		Adhesives: []record.PlannedAdhesive{{Name: "Tarn", Label: "Tarn", Family: "pva"}, {Name: "Fell", Label: "Fell", Family: "epoxy"}}}
	if blind {
		p.Adhesives[0].Label, p.Adhesives[1].Label = "K", "P"
	}
	for i := range 6 {
		p.Specimens = append(p.Specimens, record.PlannedSpecimen{Code: fmt.Sprintf("C%d", i), Adhesive: i % 2, Wood: "ash", Levels: []string{[]string{"dry", "damp"}[i/2%2]},
			Board: fmt.Sprint(1 + i/2), Batch: i % 2 * (1 + i/4), BreakTurn: 6 - i, GlueAt: at.Add(time.Duration(i) * time.Minute), BreakAt: at.AddDate(0, 0, 7)})
	}
	p.Checks = []record.PlannedCheck{{At: at.AddDate(0, 0, 1), Why: "24 h", Adhesive: 0, Specimens: []int{0, 2}}, {At: at.AddDate(0, 0, 1), Why: "24 h", Adhesive: 1, Specimens: []int{1}}}
	return p
}

// readBack writes the readings of a trial as a table and reads them.
func readBack(tr *record.Trial) (string, []bondtrial.Reading, error) {
	var b bytes.Buffer
	if err := table.Write(&b, tr.Readings(), tr.Factors()); err != nil {
		return "", nil, err
	}
	text := b.String()
	got, err := table.Read(&b, "readings.csv", table.Options{Factors: tr.Factors()})
	if err != nil {
		return text, nil, err
	}
	return text, got.Readings, nil
}

// Names as people write them: spaces, case, accents in two forms, invisible letters,
// marks of files, words of spreadsheets, and none at all.
var (
	names = []string{"Tarn", " Tarn", "tarn", "TARN ", "Ta rn", "Fell", "fell  ", "K", "k", "P", "Gill", "Café", "Cafe\u0301", "Beck; quick", `Scar "0"`, "Moss, slow", "Total", "mean", "Tarn average", "average of Tarn",
		"#N/A", "n/a", "\u200b", "Tarn\u200b", "1", "-1", "=1+1", "no", "a\tb", "a\x01b", "a\u0085b", strings.Repeat("x", 81), "", "not named", "# x", "sep=;"}
	remarks = []string{"", "x", "no", "yes", "slipped in the grips", "a;b;c;d;e;f;g;h;i;j;k;l;m;n", "two\r\nlines", "tab\there", ` "quoted" `, "#REF!", "bell\a", " "}
)

type history struct {
	*frametest.Bench
	id string
	n  int
}

// step does one thing that somebody may do. What is refused is refused.
func (h *history) step(rt *rapid.T) error {
	ctx, who := rt.Context(), record.Who{By: "Ida"}
	tr := h.Trial(h.id)
	some := rapid.SampledFrom(names)
	pick := func() string {
		codes := []string{"T1", "t1", "T-1", some.Draw(rt, "code")}
		for _, s := range tr.Specimens {
			codes = append(codes, s.Code)
		}
		return rapid.SampledFrom(codes).Draw(rt, "specimen")
	}
	switch rapid.SampledFrom([]string{"break", "break", "break", "break in MPa", "add", "add", "glue", "correct", "origin", "undo", "undo", "open", "marks"}).Draw(rt, "what") {
	case "break":
		h.n++
		_, err := h.Book.Add(ctx, who, h.id, pick(), h.draw(rt))
		return err
	case "break in MPa":
		x := rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1e-5, 1e-4, 8, 499.9, 501, 1e300, -1}).Draw(rt, "strength")
		_, err := h.Book.Add(ctx, who, h.id, pick(), record.Broken{Peak: x, Unit: "MPa", Strength: x, SetAside: rapid.SampledFrom(remarks).Draw(rt, "aside")})
		return err
	case "add":
		j := record.Joint{Adhesive: some.Draw(rt, "adhesive"), Wood: some.Draw(rt, "wood"), Board: some.Draw(rt, "board"), Batch: some.Draw(rt, "batch"),
			Session: some.Draw(rt, "session"), Trial: some.Draw(rt, "trial"), Factors: map[string]string{"surface": some.Draw(rt, "level"), "other": "x"}}
		_, err := h.Book.Add(ctx, who, h.id, pick(), record.Added{Joint: j})
		return err
	case "glue":
		_, err := h.Book.Add(ctx, who, h.id, pick(), record.Glued{Batch: some.Draw(rt, "batch"), Spoiled: rapid.SampledFrom(remarks).Draw(rt, "spoiled")})
		return err
	case "open":
		_, err := h.Book.Add(ctx, who, h.id, "", record.KeyOpened{})
		return err
	case "marks":
		_, err := h.Book.Add(ctx, who, h.id, some.Draw(rt, "adhesive"), record.Marks{Spreads: 3})
		return err
	}
	e := tr.Entries[rapid.IntRange(0, len(tr.Entries)-1).Draw(rt, "entry")]
	switch c := e.Content.(type) {
	case record.Broken:
		if rapid.Bool().Draw(rt, "correct") {
			_, err := h.Book.Correct(ctx, who, h.id, e.Seq, h.draw(rt))
			return err
		}
	case record.Added:
		if rapid.Bool().Draw(rt, "correct") {
			c.Joint.Wood, c.Joint.Adhesive = some.Draw(rt, "wood"), some.Draw(rt, "adhesive")
			_, err := h.Book.Correct(ctx, who, h.id, e.Seq, c)
			return err
		}
	}
	_, err := h.Book.Undo(ctx, who, h.id, e.Seq, "")
	return err
}

func (h *history) draw(rt *rapid.T) record.Broken {
	b := record.Broken{Peak: float64(500 + h.n), Unit: "N", AreaMM2: 200, Failure: rapid.SampledFrom([]string{"", "", "CF", "sf", "XX"}).Draw(rt, "failure"),
		RigLimited: rapid.SampledFrom([]bool{false, false, true}).Draw(rt, "rig"), SetAside: rapid.SampledFrom(append(remarks, "", "", "", "", "", "")).Draw(rt, "aside"),
		Note: rapid.SampledFrom(remarks).Draw(rt, "note")}
	b.Strength = b.Peak / 200
	share := rapid.SampledFrom([]float64{math.NaN(), math.NaN(), math.Copysign(0, -1), 0.3, 1, 50, 100, 101}).Draw(rt, "share")
	if !math.IsNaN(share) {
		b.WoodShare = &share
	}
	if m := rapid.SampledFrom([]float64{math.NaN(), 0.5, 12, 120}).Draw(rt, "moisture"); !math.IsNaN(m) {
		b.Moisture = &m
	}
	return b
}

// Whatever happens in a trial: its readings can be written as a table, the table can
// be read, and what is read is what the pages answer from. Nothing that was done to
// a specimen is lost, and every error is one that a person can act on.
func TestReadingsOfEveryHistoryAreATable(t *testing.T) {
	b := frametest.New(t)
	taken := []byte("specimen,adhesive,strength_mpa,wood_failure_pct,surface,glue_order\nC1,Tarn,8,20,dry,3\nC9,Gill,9,80,damp,\n")
	trials, refused := 0, 0
	rapid.Check(t, func(rt *rapid.T) {
		trials++
		who, asked := record.Who{By: "Ida"}, record.Asked{Name: fmt.Sprintf("Trial %d", trials), Factors: []string{"surface"}}
		h := &history{Bench: b}
		var err error
		kind := rapid.SampledFrom([]string{"plan", "blind", "table", "nothing"}).Draw(rt, "trial")
		if kind == "table" {
			h.id, _, err = b.Book.TakeIn(rt.Context(), who, asked, "old.csv", taken, table.Options{})
		} else if h.id, err = b.Book.New(rt.Context(), who, asked); err == nil && kind != "nothing" {
			_, err = b.Book.Add(rt.Context(), who, h.id, "", smallPlan(kind == "blind", "Europe/Berlin"))
		}
		if err != nil {
			rt.Fatal(err)
		}
		for range rapid.IntRange(1, 9).Draw(rt, "steps") {
			if err := h.step(rt); err != nil {
				var r *record.Refused
				var c *record.Conflict
				if !errors.As(err, &r) && !errors.As(err, &c) {
					rt.Fatalf("%T: %v", err, err)
				}
				refused++
			}
		}
		tr := b.Trial(h.id)
		for _, e := range tr.Entries {
			if s, ok := tr.Specimen(e.Subject); e.Live && (e.Kind == "broken" && (!ok || s.Broken == nil) || e.Kind == "glued" && (!ok || s.Glued == nil)) {
				rt.Fatalf("entry %d of %s is live and lost", e.Seq, e.Subject)
			}
		}
		rs := tr.Readings()
		if len(rs) == 0 {
			return
		}
		text, got, err := readBack(tr)
		if err != nil {
			rt.Fatalf("%v in\n%s", err, text)
		}
		if d := cmp.Diff(rs, got, same); d != "" {
			rt.Fatalf("the table reads differently:\n%s\n%s", d, text)
		}
		checkFold(rt, tr)
	})
	t.Logf("%d histories, %d steps refused", trials, refused)
}

// checkFold checks that a trial is what its entries come to at once, that what was
// seen earlier is what At gives, and that nothing of it is shared in a way that a
// later fold changes.
func checkFold(rt *rapid.T, tr *record.Trial) {
	opts := cmp.Options{cmp.AllowUnexported(record.Trial{}, record.Asked{}), cmpopts.IgnoreFields(record.Asked{}, "parsed"), cmpopts.IgnoreFields(record.Trial{}, "Entries", "Zone", "checksOnce", "checks"), cmpopts.EquateEmpty()}
	if d := cmp.Diff(tr, record.Fold(tr.ID, tr.Entries), opts); d != "" {
		rt.Fatalf("folded at once it differs:\n%s", d)
	}
	k := rapid.IntRange(0, len(tr.Entries)-1).Draw(rt, "moment")
	then := record.Fold(tr.ID, tr.Entries[:k+1])
	if d := cmp.Diff(then, tr.At(tr.Entries[k].Seq), opts); d != "" {
		rt.Fatalf("as it stood it differs:\n%s", d)
	}
	if len(then.Entries) != k+1 || slices.ContainsFunc(then.Entries, func(e record.Entry) bool { return e.Seq > tr.Entries[k].Seq }) {
		rt.Fatalf("as it stood it knows of what came later")
	}
}
