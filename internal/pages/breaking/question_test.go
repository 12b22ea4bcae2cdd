package breaking

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

// sureOf is what a page that asks sends along when it is saved again.
func sureOf(t *testing.T, a answer) string {
	t.Helper()
	_, rest, ok := strings.Cut(a.body, `name="sure" value="`)
	sure, _, _ := strings.Cut(rest, `"`)
	if !ok || sure == "" {
		t.Fatalf("the page does not remember what it asked:\n%s", main(a.body))
	}
	return sure
}

// Faces of which nothing is said count as a bond that broke: that is asked about once,
// and not where the break says nothing of the bond, or nothing broke.
func TestFacesNotSaid(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	left := b.Trial(id).ToBreak()
	a := post(t, at, "", "code", left[0].Code, "peak", "2140", "unit", "N")
	wantStatus(t, a, 422)
	wantWords(t, a, "Nothing is said of the faces", "the answer will then take it that the bond broke", `value="2140"`, `id="failure-wrong" data-wrong="failure"><p`)
	wantStatus(t, post(t, at, "", "code", left[0].Code, "peak", "2150", "unit", "N", "sure", sureOf(t, a)), 303)
	for i, more := range [][]string{{"wood", "0"}, {"failure", "AF"}, {"rig", "1"}, {"aside", reasons[0]}} {
		wantStatus(t, post(t, at, "", append(more, "code", left[i+1].Code, "peak", "2140", "unit", "N")...), 303)
	}
	// A module is told what to send along.
	a = postJSON(t, at, "", "code", left[5].Code, "peak", "2140", "unit", "N")
	wantStatus(t, a, 422)
	var said struct {
		Asked  string
		Fields map[string]string
	}
	if err := json.Unmarshal([]byte(a.body), &said); err != nil || said.Asked == "" || said.Fields["failure"] == "" {
		t.Fatalf("%s: %v", a.body, err)
	}
	wantStatus(t, postJSON(t, at, "", "code", left[5].Code, "peak", "2140", "unit", "N", "sure", said.Asked), 200)
	// Where it is corrected as well.
	got, _ := b.Trial(id).Specimen(left[1].Code)
	entry := fmt.Sprintf("%s/%d", at, got.Broken.Seq)
	a = post(t, entry, "", "peak", "2141", "unit", "N")
	wantStatus(t, a, 422)
	wantWords(t, a, "Nothing is said of the faces")
	wantStatus(t, post(t, entry, "", "peak", "2141", "unit", "N", "sure", sureOf(t, a)), 303)
}

func TestWayAndShareThatDisagree(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	left := b.Trial(id).ToBreak()
	for i, c := range []struct{ way, share, words string }{
		{"SF", "0", "says the wood failed, the share says none did"}, {"CSF", "0", "says the wood failed, the share says none did"},
		{"CF", "100", "says the bond failed, the share says all is wood"}, {"AF", "100", "says the bond failed, the share says all is wood"},
	} {
		fields := []string{"code", left[i].Code, "peak", "2140", "unit", "N", "failure", c.way, "wood", c.share}
		a := post(t, at, "", fields...)
		wantStatus(t, a, 422)
		wantWords(t, a, c.words)
		// Another pair is asked about anew.
		wantStatus(t, post(t, at, "", append([]string{"sure", "share DF " + c.share}, fields...)...), 422)
		wantStatus(t, post(t, at, "", append([]string{"sure", sureOf(t, a)}, fields...)...), 303)
	}
	for i, c := range [][2]string{{"SF", "100"}, {"CF", "0"}, {"AF", "5"}, {"SCF", "100"}, {"SF", ""}} {
		wantStatus(t, post(t, at, "", "code", left[4+i].Code, "peak", "2140", "unit", "N", "failure", c[0], "wood", c[1]), 303)
	}
}

// Above 95 % of the rig's maximum it is asked whether the rig is unloaded. Nothing is
// locked: saved again it is kept.
func TestUnloadedIsAsked(t *testing.T) {
	b, s, id := serve(t, false)
	if _, err := b.Book.Add(t.Context(), record.Who{}, "", "", record.Rig{Name: "Press", Unit: "kN", Limit: 5}); err != nil {
		t.Fatal(err)
	}
	at := s.URL + "/trials/" + id + "/break"
	left := b.Trial(id).ToBreak()
	at96 := func(i int, more ...string) answer {
		return post(t, at, "", append(more, "code", left[i].Code, "peak", "4.8", "unit", "kN", "wood", "0")...)
	}
	wantNone(t, get(t, at), `id="break-unload">`)
	a := at96(0)
	wantStatus(t, a, 422)
	wantWords(t, a, "That is 96 % of the rig&#39;s rated maximum", `id="break-unload">`, "The rig is unloaded") // 4.8 of 5 kN by hand
	wantStatus(t, at96(0, "sure", sureOf(t, a)), 303)
	wantStatus(t, at96(1, "unloaded", "1"), 303)
	wantStatus(t, post(t, at, "", "code", left[2].Code, "peak", "4.7", "unit", "kN", "wood", "0"), 303)
}

// glue records a specimen as under its clamp now.
func glue(t *testing.T, b *frametest.Bench, id, code string) {
	t.Helper()
	if _, err := b.Book.Add(t.Context(), record.Who{By: "Ida"}, id, code, record.Glued{Clamped: b.Clock.Now()}); err != nil {
		t.Fatal(err)
	}
}

// A specimen that is not cured is pointed out above the number, asked about once, and
// kept. Where letters are sealed all adhesives are spoken of alike.
func TestNotCuredYet(t *testing.T) {
	for _, blind := range []bool{false, true} {
		b, s, id := serve(t, blind)
		at := s.URL + "/trials/" + id + "/break"
		sp := b.Trial(id).Specimens[0]
		glue(t, b, id, sp.Code)
		b.Clock.Add(12 * time.Minute)
		hint := "Not cured yet: glued 12 min ago; the plan breaks it from " + frame.When(sp.BreakAt, b.Trial(id).Zone) + "."
		page := get(t, at+"?code="+sp.Code)
		wantWords(t, page, `id="break-early">`+hint)
		if strings.Index(page.body, hint) > strings.Index(page.body, `id="peak"`) {
			t.Error("the hint stands below the number")
		}
		fields := []string{"code", sp.Code, "peak", "2140", "unit", "N", "wood", "0"}
		a := post(t, at, "", fields...)
		wantStatus(t, a, 422)
		wantWords(t, a, "It was not cured yet: glued 12 min ago", "Is it the right specimen?")
		wantNone(t, a, "Tarn</", ">Tarn<") // nor is a name told
		wantStatus(t, post(t, at, "", append(fields, "sure", sureOf(t, a))...), 303)

		// After its time it is not spoken of; of others' glue-ups nothing is said.
		other := b.Trial(id).Specimens[1]
		glue(t, b, id, other.Code)
		b.Clock.Add(60 * 24 * time.Hour)
		wantNone(t, get(t, at+"?code="+other.Code), "Not cured yet")
		wantStatus(t, post(t, at, "", "code", other.Code, "peak", "2140", "unit", "N", "wood", "0"), 303)
	}
}

// Where letters are sealed the hint ends at a time that does not depend on the adhesive.
func TestNotCuredIsBlind(t *testing.T) {
	b, _, id := serve(t, true)
	tr := b.Trial(id)
	for _, sp := range tr.Specimens {
		glue(t, b, id, sp.Code)
	}
	var longest time.Duration
	for _, a := range tr.Plan.Adhesives {
		longest = max(longest, a.Cure)
	}
	for _, sp := range b.Trial(id).Specimens {
		at := curedAt(b.Trial(id), sp)
		all := b.Clock.Now().Add(longest)
		if want := min(all.UnixNano(), max(sp.BreakAt.UnixNano(), sp.BreakAt.Add(b.Clock.Now().Sub(sp.GlueAt)).UnixNano())); at.UnixNano() != want {
			t.Errorf("%s of %s: cured at %v, want %v", sp.Code, sp.Adhesive, at, time.Unix(0, want))
		}
	}
}

// What the last look found soft is pointed out, also after its time.
func TestSoftAtTheLastLook(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	for _, sp := range b.Trial(id).Specimens {
		glue(t, b, id, sp.Code)
	}
	b.Clock.Add(60 * 24 * time.Hour)
	if _, err := b.Book.Add(t.Context(), record.Who{By: "Ida"}, id, "check of Tarn", record.Cured{Adhesive: "Tarn", Hardness: 2}); err != nil {
		t.Fatal(err)
	}
	for _, sp := range b.Trial(id).Specimens[:4] {
		page := get(t, at+"?code="+sp.Code)
		if soft := strings.Contains(page.body, `id="break-early">It may be soft: glued 60 days ago; the last look said soft.`); soft != (sp.Adhesive == "Tarn") {
			t.Errorf("%s of %s is said to be soft: %v", sp.Code, sp.Adhesive, soft)
		}
	}
}
