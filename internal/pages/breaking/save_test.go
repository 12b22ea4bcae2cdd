package breaking

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"mime/multipart"
	"net/http"
	"strconv"
	"strings"
	"testing"

	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

// script is text that must never come out as it went in.
const script = `"><script>alert(1)</script>`

func TestSave(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	first, second := b.Trial(id).ToBreak()[0].Code, b.Trial(id).ToBreak()[1].Code
	page := get(t, at)
	wantStatus(t, page, 200)
	wantWords(t, page, `id="break-code" translate="no">`+first, second, "0 broken, 16 left")

	a := post(t, at, "Ida", "code", first, "peak", "2140", "unit", "N", "wood", "80", "failure", "CSF", "note", script, "moisture", "9,5", "key", "K1")
	wantStatus(t, a, 303)
	got := b.Trial(id).Specimens[indexOf(b, id, first)].Broken
	if got == nil {
		t.Fatal("not written")
	}
	// 2140 N over 200 mm², the overlap of frametest's trial: 10.7 MPa by hand.
	if got.Peak != 2140 || got.Unit != "N" || got.AreaMM2 != 200 || got.Strength != 10.7 || *got.WoodShare != 80 || got.Failure != "CSF" || *got.Moisture != 9.5 || got.By != "Ida" {
		t.Errorf("written: %+v", got)
	}
	page = get(t, s.URL+a.location)
	wantWords(t, page, `id="break-code" translate="no">`+second, "1 broken, 15 left", "2140 N, 10.7 MPa nominal, 80 % wood, CSF", "&lt;script&gt;")
	wantNone(t, page, "<script>alert")
}

func indexOf(b *frametest.Bench, id, code string) int {
	for i, s := range b.Trial(id).Specimens {
		if s.Code == code {
			return i
		}
	}
	return -1
}

func TestSaveShowsWhatWasTyped(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	code := b.Trial(id).ToBreak()[3].Code
	for _, c := range []struct{ name, field, value, words string }{
		{"nothing", "peak", "", "type what the display showed"},
		{"no number", "peak", "12a", "is not a number"},
		{"thousands", "peak", "2,140", "may mean two numbers"},
		{"none", "peak", "0", "a number above 0"},
		{"too strong", "peak", "200000", "no glued joint holds so much"}, // 1000 MPa over 200 mm²
		{"unit", "unit", script, "is none of N, kN, lbf, kgf, MPa, psi"},
		{"way of failing", "failure", "XX", "ISO 10365"},
		{"share", "wood", "120", "not from 0 to 100"},
		{"moisture", "moisture", "-3", "is not a number from 0 on: write it without a sign"},
		{"remark", "note", strings.Repeat("n", 4001), "longer than 4000"},
		{"code", "code", script, "code:"},
	} {
		t.Run(c.name, func(t *testing.T) {
			fields := []string{"code", code, "peak", "2140.5", "unit", "N", "wood", "35", "failure", "CF", "moisture", "11.5", "note", "a remark " + script, "asidetext", ""}
			for i := 0; i < len(fields); i += 2 {
				if fields[i] == c.field {
					fields[i+1] = c.value
				}
			}
			a := post(t, at, "", fields...)
			wantStatus(t, a, 422)
			wantWords(t, a, c.words, `aria-invalid="true"`, "Not written.")
			wantNone(t, a, "<script>alert")
			for _, typed := range []struct{ field, html string }{{"peak", `value="2140.5"`}, {"wood", `value="35"`}, {"moisture", `value="11.5"`}, {"failure", `value="CF" checked`}, {"note", "a remark &#34;&gt;&lt;script&gt;"}, {"code", `name="code" type="text" autocomplete="off" value="` + code}} {
				if typed.field != c.field {
					wantWords(t, a, typed.html)
				}
			}
			if n := b.Trial(id).CountBroken(); n != 0 {
				t.Errorf("%d broken, want none", n)
			}
		})
	}
}

func TestSetAside(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	code := b.Trial(id).ToBreak()[0].Code
	wantStatus(t, post(t, at, "", "code", code, "unit", "N", "aside", reasons[0], "asidetext", "fell "+script), 303)
	got, _ := b.Trial(id).Specimen(code)
	if want := reasons[0] + "; fell " + script; got.Broken.SetAside != want || got.Broken.Strength != 0 {
		t.Errorf("set aside %q, strength %v; want %q and none", got.Broken.SetAside, got.Broken.Strength, want)
	}
	// The form that corrects it takes the reason apart again.
	e := get(t, fmt.Sprintf("%s/%d", at, got.Broken.Seq))
	wantWords(t, e, "<option selected>"+reasons[0], `value="fell &#34;&gt;&lt;script&gt;`)
	wantNone(t, e, "<script>alert")
}

func TestSecondBreakIsRefused(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	code := b.Trial(id).ToBreak()[0].Code
	wantStatus(t, post(t, at, "Ida", "code", code, "peak", "2140", "unit", "N", "wood", "0"), 303)
	a := post(t, at, "Bo", "code", code, "peak", "1990", "unit", "N")
	wantStatus(t, a, 409)
	wantWords(t, a, code+" is broken already", "2140 N", "Ida on this machine", `value="1990"`, "Keep the one recorded", "Correct it with mine")
	seq := b.Trial(id).LastBroken().Broken.Seq
	a = postJSON(t, at, "Bo", "code", code, "peak", "1990", "unit", "N")
	wantStatus(t, a, 409)
	var said struct {
		Error    string
		Recorded struct {
			Seq   int64
			Words string
		}
	}
	if err := json.Unmarshal([]byte(a.body), &said); err != nil {
		t.Fatal(err)
	}
	if said.Recorded.Seq != seq || said.Recorded.Words != "2140 N, 0 % wood" || !strings.Contains(said.Error, "by Ida") {
		t.Errorf("said %+v", said)
	}
	wantStatus(t, post(t, at, "Bo", "code", code, "peak", "1990", "unit", "N", "wood", "0", "instead", strconv.FormatInt(seq, 10)), 303)
	got, _ := b.Trial(id).Specimen(code)
	if got.Broken.Peak != 1990 || got.Broken.By != "Bo" || got.Broken.First != seq {
		t.Errorf("after the correction: %+v", got.Broken)
	}
}

func TestSentTwiceIsWrittenOnce(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	code := b.Trial(id).ToBreak()[0].Code
	fields := []string{"code", code, "peak", "2140", "unit", "N", "wood", "0", "key", "same", "said", "1807520400000"}
	one, two := postJSON(t, at, "", fields...), postJSON(t, at, "", fields...)
	wantStatus(t, one, 200)
	wantStatus(t, two, 200)
	if one.body != two.body {
		t.Errorf("answers differ:\n%s%s", one.body, two.body)
	}
	if n := len(breaks(b, id)); n != 1 {
		t.Errorf("%d entries, want 1", n)
	}
}

// breaks are the entries of breaks, live or not.
func breaks(b *frametest.Bench, id string) []record.Entry {
	var out []record.Entry
	for _, e := range b.Trial(id).Entries {
		if _, ok := e.Content.(record.Broken); ok {
			out = append(out, e)
		}
	}
	return out
}

func TestFarFromTheOthersIsAskedOnce(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	var tarn []string
	for _, sp := range b.Trial(id).ToBreak() {
		if sp.Adhesive == "Tarn" {
			tarn = append(tarn, sp.Code)
		}
	}
	for i, n := range []float64{1200, 1240, 1300} { // the middle is 1240 N
		b.Break(id, tarn[i], n, 0)
	}
	a := post(t, at, "", "code", tarn[3], "peak", "12400", "unit", "N", "wood", "0")
	wantStatus(t, a, 422)
	wantWords(t, a, "12,400 N is 10 times the middle of the 3 others (1240 N): is the point in its place?", `name="sure" value="12400 N`)
	wantStatus(t, post(t, at, "", "code", tarn[3], "peak", "380", "unit", "N", "wood", "0"), 422)
	// Asked about one value, another is asked about anew.
	wantStatus(t, post(t, at, "", "code", tarn[3], "peak", "12400", "unit", "N", "wood", "0", "sure", "380 N"), 422)
	wantStatus(t, post(t, at, "", "code", tarn[3], "peak", "12400", "unit", "N", "wood", "0", "sure", "12400 N"), 303)
	if got, _ := b.Trial(id).Specimen(tarn[3]); got.Broken == nil || got.Broken.Peak != 12400 {
		t.Error("not kept though it was said to be right")
	}
}

func TestRigLimit(t *testing.T) {
	b, s, id := serve(t, false)
	if _, err := b.Book.Add(t.Context(), record.Who{}, "", "", record.Rig{Name: "Press", Unit: "kN", Limit: 5}); err != nil {
		t.Fatal(err)
	}
	at := s.URL + "/trials/" + id + "/break"
	left := b.Trial(id).ToBreak()
	wantWords(t, get(t, at), "<option selected>kN</option>")
	a := post(t, at, "", "code", left[0].Code, "peak", "5100", "unit", "N")
	wantStatus(t, a, 422)
	wantWords(t, a, "5100 N is more than the rig is rated for (5 kN)")
	for i, c := range []struct{ peak, words string }{{"4.8", "96 % of the rig&#39;s rated maximum"}, {"4.1", "82 % of the rig&#39;s rated maximum"}} {
		wantStatus(t, post(t, at, "", "code", left[i].Code, "peak", c.peak, "unit", "kN", "wood", "0", "unloaded", "1"), 303)
		wantWords(t, get(t, at), c.words)
	}
}

func TestPhoto(t *testing.T) {
	b, s, id := serve(t, false)
	at := s.URL + "/trials/" + id + "/break"
	code := b.Trial(id).ToBreak()[0].Code
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 640, 480))); err != nil {
		t.Fatal(err)
	}
	a := sendPhoto(t, at, picture.Bytes(), "code", code, "peak", "2140", "unit", "N", "wood", "0")
	wantStatus(t, a, 303)
	got, _ := b.Trial(id).Specimen(code)
	if len(got.Broken.Files) != 2 || got.Broken.Files[0].Role != "photo" || got.Broken.Files[1].Role != "thumb" {
		t.Fatalf("files: %+v", got.Broken.Files)
	}
	wantWords(t, get(t, at), `href="/files/`+got.Broken.Files[0].Sum, `src="/files/`+got.Broken.Files[1].Sum)

	other := b.Trial(id).ToBreak()[0].Code
	a = sendPhoto(t, at, []byte("no picture"), "code", other, "peak", "2150", "unit", "N", "wood", "0")
	wantStatus(t, a, 422)
	wantWords(t, a, "photo:", `value="2150"`)
	if n := b.Trial(id).CountBroken(); n != 1 {
		t.Errorf("%d broken, want 1", n)
	}
}

func sendPhoto(t *testing.T, at string, content []byte, fields ...string) answer {
	t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for i := 0; i < len(fields); i += 2 {
		if err := w.WriteField(fields[i], fields[i+1]); err != nil {
			t.Fatal(err)
		}
	}
	part, err := w.CreateFormFile("photo", "faces.png")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := part.Write(content); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, at, &body)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", w.FormDataContentType())
	return send(t, r, "")
}
