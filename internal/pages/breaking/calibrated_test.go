package breaking

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"bondtrial/internal/browsertest"
	"bondtrial/internal/record"
	"bondtrial/internal/rig"
)

// Counts become a force by the calibration in force, with the zero that was typed.
func TestCountsBecomeForce(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	wantNone(t, get(t, at), `name="calibration"`, ">counts<")
	k := b.Calibrate("2027-04-01")
	key := k.Key()
	codes := b.Trial(id).ToBreak()
	wantWords(t, get(t, at), `<input type="hidden" name="calibration" value="`+key+`">`, "<option selected>counts</option>", "Shown at no load, counts", "by the calibration of 2027-04-01", `"fromzero":true`)
	a := post(t, at, "Ida", "code", codes[0].Code, "peak", "6.812,0", "unit", "counts", "zero", "812", "calibration", key, "wood", "0", "failure", "CF")
	wantStatus(t, a, 422)
	a = post(t, at, "Ida", "code", codes[0].Code, "peak", "6812", "unit", "counts", "zero", "812", "calibration", key, "wood", "0", "failure", "CF")
	wantStatus(t, a, 303)
	got, _ := b.Trial(id).Specimen(codes[0].Code)
	// The table was made up with 10 counts a newton and at most 22 counts more or less:
	// 6000 counts are 600 N within 0.4 %, over 200 mm² 3 MPa.
	if br := got.Broken.Broken; math.Abs(br.Strength-3) > 0.012 || br.Peak != 6812 || br.Zero != 812 || br.Unit != "counts" || br.Calibration != key || br.AreaMM2 != 200 {
		t.Errorf("written: %+v", br)
	}
	// The zero is remembered, and the force said with how well it is known.
	wantWords(t, get(t, at), `name="zero" type="text" autocomplete="off" maxlength="30" value="812"`, "6812 counts, ")
	f, err := k.Force(6812, 812)
	if err != nil {
		t.Fatal(err)
	}
	entry := get(t, at+"/"+strconv.FormatInt(got.Broken.Seq, 10))
	share := strconv.FormatFloat(100*f.Budget.Expanded/f.Newtons, 'g', 2, 64) + " %, at 95 %), mostly for " + f.Budget.Largest()[0].Name
	wantWords(t, entry, "6812 counts, 812 at no load over 200 mm²", "known to ± ", share, "the calibration of 2027-04-01", "/rig/calibrations/"+key+"/certificate.txt", "return of the zero", "Why the force is not known better")
	wantNone(t, entry, "calibrated anew", "taken back since")

	// Above the calibrated range: kept, and said plainly. 80 kg was the most.
	a = post(t, at, "Ida", "code", codes[1].Code, "peak", "12812", "unit", "counts", "zero", "812", "calibration", key, "wood", "0", "failure", "CF")
	wantStatus(t, a, 303)
	wantWords(t, get(t, at), "is above the calibrated range of 98.1 N to 785 N")
	above, _ := b.Trial(id).Specimen(codes[1].Code)
	wantWords(t, get(t, at+"/"+strconv.FormatInt(above.Broken.Seq, 10)), "is above the calibrated range")
}

func TestCountsThatAreWrong(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	key := b.Calibrate("2027-04-01").Key()
	code := b.Trial(id).ToBreak()[0].Code
	for what, c := range map[string]struct {
		fields []string
		words  []string
	}{
		"no zero":          {[]string{"peak", "6812", "zero", "", "calibration", key}, []string{"Shown at no load: type what stood there", `value="6812"`}},
		"a zero of words":  {[]string{"peak", "6812", "zero", script, "calibration", key}, []string{"is not a number", "&lt;script&gt;"}},
		"no force":         {[]string{"peak", "800", "zero", "812", "calibration", key}, []string{"800 counts with 812 at no load are", "above 0", `value="812"`}},
		"no calibration":   {[]string{"peak", "6812", "zero", "812"}, []string{"is none of", `value="6812"`, `value="` + key + `"`}},
		"another's":        {[]string{"peak", "6812", "zero", "812", "calibration", script}, []string{"does not have the calibration", `value="6812"`}},
		"a value of words": {[]string{"peak", "-", "zero", "812", "calibration", key}, []string{"is not a number"}},
	} {
		a := post(t, at, "Ida", append(c.fields, "code", code, "unit", "counts", "wood", "0", "failure", "CF", "note", "typed")...)
		if a.status != 422 {
			t.Errorf("%s: status %d", what, a.status)
		}
		for _, w := range append(c.words, "typed</textarea>") {
			if !strings.Contains(strings.ReplaceAll(a.body, "value: ", "Value: "), w) {
				t.Errorf("%s: no %q in %s", what, w, main(a.body))
			}
		}
		wantNone(t, a, "<script>alert")
	}
	a := postJSON(t, at, "Ida", "code", code, "peak", "6812", "unit", "counts", "zero", "", "calibration", key, "wood", "0", "failure", "CF")
	wantStatus(t, a, 422)
	wantWords(t, a, `"zero":"Shown at no load`)
	// Another unit is read as it stands, calibration or not.
	wantStatus(t, post(t, at, "Ida", "code", code, "peak", "600", "unit", "N", "zero", "812", "calibration", key, "wood", "0", "failure", "CF"), 303)
	if s, _ := b.Trial(id).Specimen(code); s.Broken.Strength != 3 || s.Broken.Calibration != "" || s.Broken.Zero != 0 {
		t.Errorf("%+v", s.Broken.Broken)
	}
}

// A correction is read by the calibration that the break was made with.
func TestCorrectedByItsCalibration(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	old := b.Calibrate("2027-03-01")
	code := b.Trial(id).ToBreak()[0].Code
	wantStatus(t, post(t, at, "Ida", "code", code, "peak", "6812", "unit", "counts", "zero", "812", "calibration", old.Key(), "wood", "0", "failure", "CF"), 303)
	points := append([]rig.Point(nil), old.Points...)
	for i := range points {
		points[i].Shown = 5000 - points[i].Shown // the sensor turned about: less is shown under load
	}
	turned, err := rig.Calibrate(points, old.Conditions)
	if err != nil {
		t.Fatal(err)
	}
	e, err := b.Book.Add(t.Context(), record.Who{}, "", "", record.Calibrated{Key: turned.Key(), Calibration: turned})
	if err != nil {
		t.Fatal(err)
	}
	spec, _ := b.Trial(id).Specimen(code)
	here := at + "/" + strconv.FormatInt(spec.Broken.Seq, 10)
	wantWords(t, get(t, here), `name="calibration" value="`+old.Key()+`"`, "The rig was calibrated anew since", `value="812"`)
	a := post(t, here, "Ida", "peak", "6822", "unit", "counts", "zero", "822", "calibration", old.Key(), "wood", "0", "failure", "CF")
	wantStatus(t, a, 303)
	before := spec.Broken.Strength
	spec, _ = b.Trial(id).Specimen(code)
	if br := spec.Broken.Broken; br.Calibration != old.Key() || br.Zero != 822 || math.Abs(br.Strength-before) > 1e-12*before {
		t.Errorf("%+v, before %v MPa", br, before)
	}
	// The bench goes by the one that was made last, with its sign.
	page := get(t, at)
	wantWords(t, page, `name="calibration" value="`+turned.Key()+`"`, `aria-label="other sign"`)
	second := b.Trial(id).ToBreak()[0].Code
	wantStatus(t, post(t, at, "Ida", "code", second, "peak", "−1812", "unit", "counts", "zero", "4188", "calibration", turned.Key(), "wood", "0", "failure", "CF"), 303)
	if s, _ := b.Trial(id).Specimen(second); math.Abs(s.Broken.Strength/before-1) > 1e-9 { // the same 6000 counts, the other way
		t.Errorf("%+v", s.Broken.Broken)
	}
	if _, err := b.Book.Undo(t.Context(), record.Who{}, "", e.Seq, ""); err != nil {
		t.Fatal(err)
	}
	spec, _ = b.Trial(id).Specimen(second)
	wantWords(t, get(t, at+"/"+strconv.FormatInt(spec.Broken.Seq, 10)), "It was taken back since")
}

// One that has run out is used still, and the page says so.
func TestCalibrationThatHasRunOut(t *testing.T) {
	b, s, id := serve(t, true)
	c := b.Calibrated("2027-03-01")
	c.Calibration.Expires = "2027-04-01"
	c.Key = c.Calibration.Key()
	if _, err := b.Book.Add(t.Context(), record.Who{}, "", "", c); err != nil {
		t.Fatal(err)
	}
	wantWords(t, get(t, s.URL+"/trials/"+id+"/break"), "The calibration of 2027-03-01 ended on 2027-04-01", "<option selected>counts</option>")
}

// Counts typed on a phone: the strength is there at once, the same as what the logbook
// works out, and what lies outside of the calibrated range or near the rig's maximum is
// said.
func TestBrowserCalibrated(t *testing.T) {
	b, s, id := serve(t, false)
	k := b.Calibrate("2027-04-01")
	if _, err := b.Book.Add(t.Context(), record.Who{}, "", "", record.Rig{Name: "Lever", Unit: "N", Limit: 1000}); err != nil {
		t.Fatal(err)
	}
	code := b.Trial(id).ToBreak()[0].Code
	p := browsertest.Start(t).Page(browsertest.Phone)
	p.Open(s.URL + "/trials/" + id + "/break")
	p.WaitFor(".break-pad")
	p.Fill("#zero", "812")
	for _, c := range []struct {
		shown         string
		outside, near bool
	}{{"6812", false, false}, {"9012", true, true}, {"8500", false, false}} {
		p.Fill("#peak", c.shown)
		f, err := k.Force(number64(t, c.shown), 812)
		if err != nil {
			t.Fatal(err)
		}
		p.WaitText("#peak-said", strconv.FormatFloat(f.Newtons/200, 'f', 1, 64)+" MPa")
		said := p.Text("#peak-said")
		if strings.Contains(said, "Outside the calibrated range") != c.outside || strings.Contains(said, "82 % of the rig's rated maximum") != c.near {
			t.Errorf("%s counts: %q", c.shown, said)
		}
	}
	p.Fill("#peak", "6812")
	p.Tap(`.break-way:has([value=CF])`)
	p.Tap(`[data-share="0"]`)
	for _, defect := range p.Overflow() {
		t.Error(defect)
	}
	for _, v := range p.Axe() {
		t.Error(v)
	}
	if keep := os.Getenv("BONDTRIAL_PICTURES"); keep != "" {
		p.Screenshot(filepath.Join(keep, "break-counts.png"))
	}
	p.Tap("#break-save")
	p.WaitText("#break-told", "Written: "+code+": 6812 counts")
	got, _ := b.Trial(id).Specimen(code)
	if got.Broken == nil || got.Broken.Calibration != k.Key() || got.Broken.Zero != 812 {
		t.Fatalf("written: %+v", got.Broken)
	}
	var zero string
	p.Eval(`document.getElementById("zero").value`, &zero)
	if zero != "812" {
		t.Errorf("the zero is %q for the next one", zero)
	}
	p.Choose("#unit", "N")
	p.Gone("#zero-field:not([hidden])")
	p.Open(s.URL + "/trials/" + id + "/break/" + strconv.FormatInt(got.Broken.Seq, 10))
	p.WaitFor(".break-pad")
	p.WaitText("#peak-said", "3.0 MPa")
	for _, v := range p.Axe() {
		t.Error(v)
	}
	for _, defect := range p.Overflow() {
		t.Error(defect)
	}
	if errors := p.Console(); len(errors) > 0 {
		t.Errorf("console: %q", errors)
	}
	if keep := os.Getenv("BONDTRIAL_PICTURES"); keep != "" {
		p.Screenshot(filepath.Join(keep, "entry-counts.png"))
	}
}

func number64(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
