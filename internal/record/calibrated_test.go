package record_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
	rigs "bondtrial/internal/rig"
)

// readBreak is a break of the small plan's area by a calibration.
func readBreak(t testing.TB, k *rigs.Calibration, shown, zero float64) record.Broken {
	t.Helper()
	mpa, _, err := record.ReadBy(k, shown, zero, 200)
	if err != nil {
		t.Fatal(err)
	}
	return record.Broken{Peak: shown, Unit: k.ShownUnit, Zero: zero, Calibration: k.Key(), AreaMM2: 200, Strength: mpa}
}

func things(t testing.TB, b *frametest.Bench) *record.Things {
	t.Helper()
	th, err := b.Book.Things(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return th
}

// A calibration is kept with its table, comes back as it was, and is kept once.
func TestCalibrationIsKept(t *testing.T) {
	b := frametest.New(t)
	k := b.Calibrate("2027-03-01")
	again, err := record.Open(t.Context(), b.Book.Logbook())
	if err != nil {
		t.Fatal(err)
	}
	th, err := again.Things(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(th.Calibrations) != 1 {
		t.Fatalf("%d calibrations, want 1", len(th.Calibrations))
	}
	got := th.Calibrations[0]
	if diff := cmp.Diff(k, got.Calibration); diff != "" || got.Key != k.Key() || got.By != "Ida" {
		t.Errorf("key %s by %s; written (-), read (+):\n%s", got.Key, got.By, diff)
	}
	if len(got.Files) != 1 || got.Files[0].Role != "calibration" {
		t.Fatalf("files %v", got.Files)
	}
	table, _, err := b.Book.Logbook().File(t.Context(), got.Files[0].Sum)
	if err != nil || string(table) != frametest.CalibrationTable {
		t.Errorf("%v; the table is %q", err, table)
	}
	_, err = b.Book.Add(t.Context(), ida, "", "", b.Calibrated("2027-03-01"))
	isConflict(t, "the same calibration again", err, "recorded already: a calibration of the rig made on 2027-03-01, Bench cell, reads counts from")
}

func TestCalibrationsThatAreNotKept(t *testing.T) {
	b := frametest.New(t)
	for what, c := range map[string]struct {
		change func(*record.Calibrated)
		words  string
	}{
		"none":        {func(c *record.Calibrated) { c.Calibration = nil }, "without its readings"},
		"another key": {func(c *record.Calibrated) { c.Key = "0123456789ab" }, "not what its readings give"},
		"another curve": {func(c *record.Calibrated) {
			k := *c.Calibration
			k.Curve.C = slices.Clone(k.Curve.C)
			k.Curve.C[1] *= 1.01
			c.Calibration, c.Key = &k, k.Key()
		}, "not what its readings give"},
		"too few loads": {func(c *record.Calibrated) {
			k := *c.Calibration
			k.Points = k.Points[:3]
			c.Calibration = &k
		}, "hang at least 3"},
		"too many readings": {func(c *record.Calibrated) {
			k := *c.Calibration
			k.Points = slices.Repeat(k.Points, 100)
			c.Calibration = &k
		}, "at most 2000"},
		"a unit of two lines": {func(c *record.Calibrated) {
			k := *c.Calibration
			k.ShownUnit = "counts\nN"
			c.Calibration = &k
		}, "at most 20 letters"},
		"a sensor of control characters": {func(c *record.Calibrated) {
			k := *c.Calibration
			k.Sensor = "a\x00b"
			c.Calibration = &k
		}, "control characters"},
	} {
		cal := b.Calibrated("2027-03-01")
		c.change(&cal)
		_, err := b.Book.Add(t.Context(), ida, "", "", cal)
		isRefused(t, what, err, c.words)
	}
	if n := len(things(t, b).Calibrations); n != 0 {
		t.Errorf("%d were kept", n)
	}
}

// In force is the one that was made last, by its date, unless it has run out.
func TestInForce(t *testing.T) {
	b := frametest.New(t)
	make := func(date, expires string) int64 {
		c := b.Calibrated(date)
		k := *c.Calibration
		k.Expires = expires
		e, err := b.Book.Add(t.Context(), ida, "", "", record.Calibrated{Key: k.Key(), Calibration: &k})
		if err != nil {
			t.Fatal(err)
		}
		return e.Seq
	}
	march := make("2027-03-01", "")
	may := make("2027-05-01", "2027-05-31")
	february := make("2027-02-01", "") // written later, made before
	again := make("2027-03-01", "2028-03-01")
	th := things(t, b)
	var order []int64
	for _, c := range th.Calibrations {
		order = append(order, c.Seq)
	}
	if want := []int64{again, february, may, march}; !slices.Equal(order, want) {
		t.Errorf("order %v, want %v", order, want)
	}
	for day, want := range map[string][2]int64{ // in force, and made last
		"2027-01-31": {0, 0}, "2027-02-01": {february, february}, "2027-03-01": {again, again}, "2027-04-30": {again, again},
		"2027-05-31": {may, may}, "2027-06-01": {0, may}, "soon": {0, may},
	} {
		var got [2]int64
		if c := th.InForce(day); c != nil {
			got[0] = c.Seq
		}
		if c := th.Latest(day); c != nil {
			got[1] = c.Seq
		}
		if got != want {
			t.Errorf("%s: entries %v, want %v", day, got, want)
		}
	}
	if err := undo(t, b, "", may); err != nil {
		t.Fatal(err)
	}
	if c := things(t, b).InForce("2027-06-01"); c == nil || c.Seq != again {
		t.Errorf("after that of May was taken back: %v", c)
	}
}

// A reading keeps the calibration it was made with, whatever is written or taken back
// later.
func TestReadingKeepsItsCalibration(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b, false, "UTC")
	old := b.Calibrate("2027-03-01")
	first := readBreak(t, old, 12_812, 812)
	// The table was made up with 10 counts a newton and at most 22 counts more or less:
	// 12 000 counts are 1200 N within 0.2 %, over 200 mm² 6 MPa.
	if math.Abs(first.Strength/6-1) > 0.002 {
		t.Errorf("strength %v MPa, want 6", first.Strength)
	}
	must(t, b, id, "C0", first)
	c := b.Calibrated("2027-04-01")
	k := *c.Calibration
	for i := range k.Points {
		k.Points[i].Shown *= 2
	}
	now, err := rigs.Calibrate(k.Points, k.Conditions)
	if err != nil {
		t.Fatal(err)
	}
	e := must(t, b, "", "", record.Calibrated{Key: now.Key(), Calibration: now})
	second := readBreak(t, now, 12_812, 812)
	if math.Abs(second.Strength/3-1) > 0.002 {
		t.Errorf("strength %v MPa by twice the counts, want 3", second.Strength)
	}
	must(t, b, id, "C1", second)
	if err := undo(t, b, "", e.Seq); err != nil {
		t.Fatal(err)
	}
	for code, want := range map[string]record.Broken{"C0": first, "C1": second} {
		s, _ := b.Trial(id).Specimen(code)
		if diff := cmp.Diff(want, s.Broken.Broken); diff != "" {
			t.Errorf("%s: written (-), read (+):\n%s", code, diff)
		}
	}
	// One that waited on a device is taken with the calibration it was made with.
	must(t, b, id, "C2", second)
	if w := second.Words(); w != "12812 counts (812 at no load)" {
		t.Error(w)
	}
	s, _ := b.Trial(id).Specimen("C2")
	second.Note = "looked again"
	if _, err := b.Book.Correct(t.Context(), ida, id, s.Broken.Seq, second); err != nil {
		t.Error(err)
	}
	if got := things(t, b).Calibration(now.Key()); got == nil || got.Date != "2027-04-01" {
		t.Errorf("the one that was taken back: %v", got)
	}
}

func TestReadingsThatDoNotAgree(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b, false, "UTC")
	k := b.Calibrate("2027-03-01")
	good := readBreak(t, k, 12_812, 812)
	for what, c := range map[string]struct {
		change func(*record.Broken)
		words  string
	}{
		"another strength":        {func(b *record.Broken) { b.Strength *= 1.001 }, "send it again"},
		"another zero":            {func(b *record.Broken) { b.Zero = 0 }, "send it again"},
		"another unit":            {func(b *record.Broken) { b.Unit = "N" }, "reads counts and not N"},
		"no unit":                 {func(b *record.Broken) { b.Unit = "" }, "unit: write something"},
		"no area":                 {func(b *record.Broken) { b.AreaMM2 = 0 }, "bonded area"},
		"an unknown calibration":  {func(b *record.Broken) { b.Calibration = "0123456789ab" }, "does not have the calibration"},
		"no calibration":          {func(b *record.Broken) { b.Calibration, b.Zero = "", 0 }, "none of N"},
		"a zero of nothing":       {func(b *record.Broken) { b.Calibration, b.Unit = "", "N" }, "with a calibration only"},
		"not a number":            {func(b *record.Broken) { b.Peak = math.NaN() }, "is a number"},
		"less than at no load":    {func(b *record.Broken) { b.Peak, b.Strength = 100, 0 }, "above 0"},
		"a strength out of range": {func(b *record.Broken) { b.Peak = 1e15 }, "by the calibration"},
	} {
		broken := good
		c.change(&broken)
		_, err := b.Book.Add(t.Context(), ida, id, "C0", broken)
		isRefused(t, what, err, c.words)
	}
	aside := good
	aside.Peak, aside.Strength, aside.SetAside = 800, 0, "slipped"
	must(t, b, id, "C0", aside)
	check := record.RigCheck{MassKG: 20, Shown: 2772, Zero: 810, Unit: "counts"}
	_, err := b.Book.Add(t.Context(), ida, "", "", check)
	isRefused(t, "a check in counts without a calibration", err, "zero")
	check.Calibration = k.Key()
	must(t, b, "", "", check)
	check.Unit = "N"
	_, err = b.Book.Add(t.Context(), ida, "", "", check)
	isRefused(t, "a check in another unit", err, "reads counts")
}

// Whatever is shown: the strength that is kept is the calibrated force over the area,
// and comes back to the last bit.
func TestReadingsProperty(t *testing.T) {
	b := frametest.New(t)
	id := planned(t, b, false, "UTC")
	k := b.Calibrate("2027-03-01")
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		zero := rapid.Float64Range(-5000, 5000).Draw(rt, "zero")
		shown := zero + rapid.Float64Range(1, 20_000).Draw(rt, "shown")
		area := rapid.Float64Range(10, 5000).Draw(rt, "area")
		mpa, f, err := record.ReadBy(k, shown, zero, area)
		if err != nil {
			rt.Fatal(err)
		}
		if back := k.Curve.At(f.Newtons) + zero; math.Abs(back-shown) > 1e-6 { // a millionth of a step
			rt.Errorf("%v N show %v, want %v", f.Newtons, back, shown)
		}
		if mpa < 1e-4 {
			return
		}
		n++
		code := fmt.Sprint("T", n)
		want := record.Broken{Peak: shown, Unit: "counts", Zero: zero, Calibration: k.Key(), AreaMM2: area, Strength: mpa}
		if _, err := b.Book.AddAll(t.Context(), ida, id, []record.Item{{Subject: code, Content: record.Added{Joint: record.Joint{Adhesive: "Tarn"}}}, {Subject: code, Content: want}}); err != nil {
			rt.Fatal(err)
		}
		s, _ := b.Trial(id).Specimen(code)
		if diff := cmp.Diff(want, s.Broken.Broken); diff != "" || math.Abs(mpa*area/f.Newtons-1) > 1e-12 {
			rt.Errorf("%v N over %v mm²: %v MPa; written (-), read (+):\n%s", f.Newtons, area, mpa, diff)
		}
	})
	if n == 0 {
		t.Error("nothing was written")
	}
}
