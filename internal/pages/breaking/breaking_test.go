package breaking

import (
	"encoding/json"
	"fmt"
	"html"
	"math"
	"strings"
	"testing"

	"bondtrial/internal/plan/shortcode"
	"bondtrial/internal/record"
	"bondtrial/internal/table"
)

func TestSealedTellsNothing(t *testing.T) {
	b, s, id := serve(t, true)
	b.GlueAll(id)
	for _, sp := range b.Trial(id).ToBreak()[:5] {
		b.Break(id, sp.Code, 2000, 50)
	}
	page := get(t, s.URL+"/trials/"+id+"/break")
	wantStatus(t, page, 200)
	// The field for a specimen in no plan lists the letters; nothing ties one to a code.
	shown, _, _ := strings.Cut(page.body, `<details class="no-print" id="add"`)
	wantNone(t, page, "Tarn</", ">Tarn", "Fell")
	for _, sp := range b.Trial(id).Specimens {
		for _, told := range []string{", " + sp.Label + "<", ">" + sp.Label + "<", `"` + sp.Label + `"`, "board " + sp.Board, "damp<", ">dry<"} {
			if strings.Contains(shown, told) {
				t.Fatalf("a sealed trial shows %q", told)
			}
		}
	}
	var in inert
	_, rest, _ := strings.Cut(page.body, `id="break-data" data-live>`)
	data, _, _ := strings.Cut(rest, "</script>")
	if err := json.Unmarshal([]byte(data), &in); err != nil {
		t.Fatal(err)
	}
	for _, c := range in.Left {
		if len(c.Lines) != 1 || c.Lines[0] != "ash" || c.Middle != in.Left[0].Middle {
			t.Fatalf("%+v: more than its wood is told", c)
		}
	}
	if in.Left[0].Middle != 10 { // five of 2000 N over 200 mm²: 10 MPa by hand
		t.Errorf("middle %v, want 10 MPa", in.Left[0].Middle)
	}
}

func TestOpenTrialNamesTheAdhesive(t *testing.T) {
	b, s, id := serve(t, false)
	first := b.Trial(id).ToBreak()[0]
	page := get(t, s.URL+"/trials/"+id+"/break")
	wantWords(t, page, fmt.Sprintf("<li>board %s, pieces %d and %d</li>", first.Board, first.Pieces[0], first.Pieces[1]), "<li>surface: "+first.Factors["surface"]+"</li>", "<li>"+first.Adhesive+"</li>")
}

func TestChoose(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break?code="
	tr := b.Trial(id)
	broken, other := tr.ToBreak()[0].Code, tr.ToBreak()[5].Code
	b.Break(id, broken, 2140, 0)

	for _, typed := range []string{other, strings.ToLower(other), other[:2] + "-" + other[2:]} {
		wantWords(t, get(t, at+typed), `id="break-code" translate="no">`+other)
	}
	a := get(t, at+broken)
	wantWords(t, a, broken+" is broken already", "Ida", "See or correct "+broken, "Choose from the list", "Go on with "+b.Trial(id).ToBreak()[0].Code)
	wantNothingOnTheRig(t, a)

	// One character wrong: the check finds it, and the nearest that is left is offered.
	wrong := slip(other, codes(tr))
	a = get(t, at+wrong)
	wantStatus(t, a, 200)
	wantWords(t, a, `aria-invalid="true"`, `data-code="`+other+`"`, "It is "+other+": put it on", "Nothing is on the rig.")
	wantNothingOnTheRig(t, a)
	// A slip in one that is broken is not led back to it.
	wantNone(t, get(t, at+slip(broken, codes(tr))), `<a class="button" href="?code=`+broken)
	a = get(t, at+"%3Cscript%3Ealert(1)%3C/script%3E")
	wantNone(t, a, "<script>alert")
	wantStatus(t, get(t, s.URL+"/trials/none/break"), 404)
}

// wantNothingOnTheRig fails where a page has a code or a number field open though the
// code that was asked for has none.
func wantNothingOnTheRig(t *testing.T, a answer) {
	t.Helper()
	for _, hidden := range []string{`id="break-rig" aria-labelledby="break-rig-head" hidden>`, `id="break-form" hidden>`, `id="break-done" hidden>`, `id="break-code" translate="no"></p>`, `<input type="hidden" name="code" value="">`} {
		wantWords(t, a, hidden)
	}
	wantNone(t, a, `id="break-stop" aria-labelledby="stop-head" tabindex="-1" hidden>`)
}

// A specimen that was spoiled is said to be so when its code is asked for, and can be
// set aside at once, or its entry taken back.
func TestSpoiledByItsCode(t *testing.T) {
	b, s, id := serve(t, true)
	at := s.URL + "/trials/" + id + "/break"
	code := b.Trial(id).Specimens[2].Code
	e, err := b.Book.Add(t.Context(), record.Who{By: "Ida"}, id, code, record.Glued{Spoiled: "fell " + script})
	if err != nil {
		t.Fatal(err)
	}
	a := get(t, at+"?code="+code)
	wantWords(t, a, code+" was spoiled at the glue-up", "Ida", fmt.Sprintf(`name="seq" value="%d"`, e.Seq), `action="/trials/`+id+`/undo"`, "/break?code="+code, "Set "+code+" aside")
	wantNone(t, a, "<script>alert")
	wantNothingOnTheRig(t, a)
	wantStatus(t, post(t, at, "Ida", "code", code, "unit", "N", "asidetext", "spoiled at the glue-up: fell"), 303)
	if got, _ := b.Trial(id).Specimen(code); got.Broken == nil || got.Broken.SetAside != "spoiled at the glue-up: fell" {
		t.Errorf("set aside: %+v", got.Broken)
	}
}

// A code that is no specimen's puts no other one on the rig either when it was sent.
func TestUnknownCodeSent(t *testing.T) {
	b, s, id := serve(t, false)
	a := post(t, s.URL+"/trials/"+id+"/break", "", "code", "nonesuch", "peak", "2140", "unit", "N", "wood", "0")
	wantStatus(t, a, 422)
	wantWords(t, a, `id="break-code" translate="no">nonesuch</p>`, `value="2140"`)
	if n := b.Trial(id).CountBroken(); n != 0 {
		t.Errorf("%d broken, want none", n)
	}
}

func codes(tr *record.Trial) (out []string) {
	for _, s := range tr.Specimens {
		out = append(out, s.Code)
	}
	return out
}

// slip returns a code with one wrong character that leads to no other code.
func slip(code string, known []string) string {
	for i := range code {
		for _, r := range shortcode.Alphabet {
			typed := code[:i] + string(r) + code[i+1:]
			if near, ok := shortcode.Nearest(typed, known); ok && near == code && typed != code {
				return typed
			}
		}
	}
	return ""
}

func TestAdd(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id
	a := post(t, at+"/specimens", "Ida", "code", "x-17", "adhesive", "Tarn", "wood", "ash "+script, "board", "9", "factor0", "dry")
	wantStatus(t, a, 303)
	got, ok := b.Trial(id).Specimen("X17")
	if !ok || got.Adhesive != "Tarn" || got.Board != "9" || got.Factors["surface"] != "dry" {
		t.Fatalf("added: %+v, %v", got, ok)
	}
	page := get(t, s.URL+a.location)
	wantWords(t, page, `id="break-code" translate="no">X17`)
	wantNone(t, page, "<script>alert")
	a = post(t, at+"/specimens", "", "code", "X17", "adhesive", script)
	wantStatus(t, a, 422)
	wantWords(t, a, "X17 is in this trial already", html.EscapeString(script))
	a = post(t, at+"/specimens", "", "code", "X18", "adhesive", "Tarn")
	wantStatus(t, a, 422)
	wantWords(t, a, "one slip away from X17", `name="new" value="X18"`)
	wantStatus(t, post(t, at+"/specimens", "", "code", "X18", "adhesive", "Tarn", "new", "X18"), 303)
	wantStatus(t, post(t, at+"/specimens", "", "code", "Y7", "adhesive", ""), 422)
}

func TestWithoutAPlan(t *testing.T) {
	b, s, _ := serve(t, false)
	id, err := b.Book.New(t.Context(), record.Who{}, record.Asked{Name: "By hand"})
	if err != nil {
		t.Fatal(err)
	}
	at := s.URL + "/trials/" + id
	wantWords(t, get(t, at+"/break"), "This trial has no plan", "take in a table")
	wantStatus(t, post(t, at+"/specimens", "", "code", "A1", "adhesive", "Tarn"), 303)
	a := post(t, at+"/break", "", "code", "A1", "peak", "900", "unit", "lbf")
	wantStatus(t, a, 422)
	wantWords(t, a, "give it in mm²")
	wantStatus(t, post(t, at+"/break", "", "code", "A1", "peak", "900", "unit", "lbf", "area", "600", "wood", "0"), 303)
	got, _ := b.Trial(id).Specimen("A1")
	// 900 lbf × 4.4482216152605 N/lbf (NIST SP 811, appendix B.8) over 600 mm².
	if want := 900 * 4.4482216152605 / 600; math.Abs(got.Broken.Strength-want) > 1e-12 {
		t.Errorf("strength %v, want %v", got.Broken.Strength, want)
	}
	wantStatus(t, post(t, at+"/specimens", "", "code", "B2", "adhesive", "Tarn"), 303)
	wantWords(t, get(t, at+"/break"), `value="600"`, "<option selected>lbf</option>")
}

func TestCorrect(t *testing.T) {
	b, s, id := serve(t, false)
	code := b.Trial(id).ToBreak()[0].Code
	seq := b.Break(id, code, 2140, 80).Seq
	at := fmt.Sprintf("%s/trials/%s/break/%d", s.URL, id, seq)
	page := get(t, at)
	wantWords(t, page, `value="2140"`, `value="80"`, "What is recorded", "recorded", "counts")
	a := post(t, at, "Bo", "peak", "2410", "unit", "N", "wood", "75", "note", script)
	wantStatus(t, a, 303)
	page = get(t, s.URL+a.location)
	wantWords(t, page, "corrected", "2410 N", "2140 N", "Bo", "Ida")
	wantNone(t, page, "<script>alert")
	if n := b.Trial(id).CountBroken(); n != 1 {
		t.Errorf("%d broken, want 1", n)
	}
	// Somebody else's correction stands in the way, and what was typed is there again.
	a = post(t, at, "Cy", "peak", "2555", "unit", "N", "wood", "70")
	wantStatus(t, a, 409)
	wantWords(t, a, "Changed meanwhile", "2410 N", `value="2555"`)
	a = post(t, s.URL+fmt.Sprintf("/trials/%s/break/%d", id, b.Trial(id).LastBroken().Broken.Seq), "", "peak", "x", "unit", "N")
	wantStatus(t, a, 422)
	wantStatus(t, get(t, s.URL+"/trials/"+id+"/break/999"), 404)
	wantStatus(t, get(t, s.URL+"/trials/"+id+"/break/x"), 404)
}

func TestUndo(t *testing.T) {
	b, s, id := serve(t, false)
	code := b.Trial(id).ToBreak()[0].Code
	seq := b.Break(id, code, 2140, 80).Seq
	at := fmt.Sprintf("%s/trials/%s/break/%d", s.URL, id, seq)
	wantStatus(t, post(t, at, "Bo", "undo", "1"), 303)
	if n := b.Trial(id).CountBroken(); n != 0 {
		t.Errorf("%d broken, want 0", n)
	}
	wantWords(t, get(t, at), "taken back", "Nothing: it was taken back", "Bo")
	wantStatus(t, postJSON(t, at, "Bo", "undo", "1"), 409)
}

func TestCorrectTakenIn(t *testing.T) {
	b, s, _ := serve(t, false)
	id, _, err := b.Book.TakeIn(t.Context(), record.Who{}, record.Asked{Name: "Old"}, "old.csv", []byte("specimen,adhesive,wood,strength_mpa,wood_failure_pct\nA1,Tarn,ash,10.5,40\nA2,Fell,ash,11.5,60\n"), table.Options{})
	if err != nil {
		t.Fatal(err)
	}
	old, _ := b.Trial(id).Specimen("A1")
	at := fmt.Sprintf("%s/trials/%s/break/%d", s.URL, id, old.Broken.Seq)
	wantWords(t, get(t, at), `value="10.5"`, "<option selected>MPa</option>")
	wantStatus(t, post(t, at, "", "peak", "10.6", "unit", "MPa", "wood", "40"), 303)
	got, _ := b.Trial(id).Specimen("A1")
	if got.Broken.Strength != 10.6 || got.Broken.Joint == nil || got.Broken.Joint.Adhesive != "Tarn" || got.Broken.Line != old.Broken.Line {
		t.Errorf("corrected: %+v", got.Broken)
	}
}

func TestEveryWayHasADrawing(t *testing.T) {
	_, s, id := serve(t, false)
	page := get(t, s.URL+"/trials/"+id+"/break")
	seen := make(map[string]string)
	for _, w := range ways {
		_, after, ok := strings.Cut(page.body, `value="`+w.Code+`"`)
		drawing, _, whole := strings.Cut(after, "</svg>")
		_, drawing, begun := strings.Cut(drawing, "focusable=\"false\">")
		if !ok || !whole || !begun || !strings.Contains(drawing, "<path") && !strings.Contains(drawing, "<rect") {
			t.Errorf("%s has no drawing", w.Code)
		}
		if other := seen[drawing]; other != "" {
			t.Errorf("%s is drawn as %s is", w.Code, other)
		}
		seen[drawing] = w.Code
	}
}

func TestParseNumber(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
	}{{"2140", 2140}, {" 2 140 ", 2140}, {"2.14", 2.14}, {"2,14", 2.14}, {"0,214", 0.214}, {",5", 0.5}, {"2.140", 2.14}} {
		if got, err := parseNumber(c.text); err != nil || got != c.want {
			t.Errorf("%q: %v, %v; want %v", c.text, got, err, c.want)
		}
	}
	for _, text := range []string{"", ".", ",", "2,140", "12,400.5", "1,2,3", "1.2.3", "-3", "1e9", "NaN", "Inf", "0x10", "٣"} {
		if got, err := parseNumber(text); err == nil {
			t.Errorf("%q was taken for %v", text, got)
		}
	}
}

func FuzzParseNumber(f *testing.F) {
	for _, s := range []string{"2140", "2,14", "1.5", ",", "1,000"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		x, err := parseNumber(s)
		if err != nil {
			return
		}
		if !(x >= 0) || math.IsInf(x, 0) {
			t.Fatalf("%q was taken for %v", s, x)
		}
		if again, err := parseNumber(number(x)); err != nil || again != x {
			t.Fatalf("%q is %v, and written again %v, %v", s, x, again, err)
		}
	})
}
