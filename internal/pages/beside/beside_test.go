package beside_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"bondtrial/internal/pages/beside"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/pages/frametest"
)

var sharing = &beside.Sharing{}

var routes = map[string]frame.Handler{
	"GET /shelf": beside.Shelf, "POST /shelf": beside.PutOnShelf,
	"GET /rack": beside.Rack, "POST /rack": beside.PutOnRack,
	"GET /rig": beside.Rig, "POST /rig": beside.PutRig, "POST /rig/checks": beside.PutRigCheck,
	"POST /rig/calibrations": beside.PutCalibration, "GET /rig/calibrations/{calibration}/certificate.txt": beside.Certificate, "GET /rig/calibrations/{calibration}/table.csv": beside.CalibrationTable,
	"GET /logbook": sharing.Logbook, "POST /logbook/name": beside.PutName, "POST /logbook/settings": beside.PutSettings,
	"POST /logbook/check": beside.Check, "GET /logbook/copy": beside.Backup,
	"POST /logbook/code": sharing.NewCode, "POST /logbook/forget": sharing.ForgetDevice,
	"POST /undo": beside.Undo,
}

func ask(t *testing.T, s *httptest.Server, path string, v url.Values, status int, parts ...string) string {
	t.Helper()
	var r *http.Response
	var err error
	if v == nil {
		r, err = http.Get(s.URL + path)
	} else {
		r, err = http.PostForm(s.URL+path, v)
	}
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	if r.StatusCode != status {
		t.Fatalf("%s: status %d, want %d: %s", path, r.StatusCode, status, b)
	}
	for _, p := range parts {
		if !strings.Contains(string(b), p) {
			t.Errorf("%s: %q is not in %s", path, p, b)
		}
	}
	return string(b)
}

const script = `<script>alert("x")</script>`

// The page Logbook says how to copy it while it is open, and in which zone times are.
func TestLogbookSaysHowToCopy(t *testing.T) {
	b := frametest.New(t)
	ask(t, b.Serve(routes), "/logbook", nil, 200, "never copy its file alone", "Download a copy", "bondtrial backup", "<dt>Times</dt><dd>in ")
}

func TestShelf(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	ask(t, s, "/shelf", url.Values{"name": {""}, "family": {"pva"}, "open": {"5 min"}}, 422, "Not written.", `value="5 min"`, `aria-invalid="true"`)
	ask(t, s, "/shelf", url.Values{"name": {"Tarn"}, "family": {"pva"}, "open": {"5 min"}, "note": {script}}, 200, "Tarn", "5 min")
	ask(t, s, "/shelf", url.Values{"name": {"Tarn"}, "family": {"epoxy"}}, 409, "is on the shelf already")
	things, err := b.Book.Things(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	seq := strconv.FormatInt(things.Shelf[0].Seq, 10)
	ask(t, s, "/shelf?edit="+seq, nil, 200, "Correct Tarn")
	ask(t, s, "/shelf", url.Values{"seq": {seq}, "name": {"Tarn"}, "family": {"pva"}, "open": {"6 min"}, "note": {script}}, 200, "6 min")
	// Corrected on another device meanwhile: said, and what was typed is there still.
	ask(t, s, "/shelf", url.Values{"seq": {seq}, "name": {"Tarn"}, "family": {"pva"}, "open": {"7 min"}}, 409, "Changed meanwhile", `value="7 min"`)
	if text := ask(t, s, "/shelf", nil, 200, "6 min"); strings.Contains(text, script) || strings.Contains(text, "5 min</dd>") {
		t.Error("a script is not escaped, or what was corrected is shown")
	}
}

func TestRack(t *testing.T) {
	b := frametest.New(t)
	b.Benches(false)
	s := b.Serve(routes)
	ask(t, s, "/rack", url.Values{"wood": {"ash"}, "name": {"1"}, "lengthmm": {"0,9"}}, 422, "decimal point", `value="0,9"`)
	ask(t, s, "/rack", url.Values{"wood": {"ash"}, "name": {"1"}, "pieces": {"two"}}, 422, "whole number")
	ask(t, s, "/rack", url.Values{"wood": {"ash"}, "name": {"1"}, "lengthmm": {"900"}, "widthmm": {"120"}, "thickmm": {"25"}, "note": {script}}, 200, "900 × 120 × 25", "Benches</a>: ")
	if text := ask(t, s, "/rack", nil, 200); strings.Contains(text, script) {
		t.Error("a script is not escaped")
	}
}

func TestRig(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	ask(t, s, "/rig", nil, 200, "not described yet")
	ask(t, s, "/rig", url.Values{"name": {"Lever"}, "unit": {"stone"}}, 422, "is none of")
	ask(t, s, "/rig", url.Values{"name": {script}, "unit": {"lbf"}, "limit": {"900"}, "resolution": {"0.5"}}, 200, "900 lbf", "steps of 0.5 lbf")
	// 20 kg hang with 196.133 N (standard gravity); a display of 202 N reads 3.0 %
	// high: 202/196.133 - 1 = 0.0299.
	ask(t, s, "/rig/checks", url.Values{"masskg": {"20"}, "shown": {"202"}, "unit": {"N"}}, 200, "&#43;3.0 %")
	ask(t, s, "/rig/checks", url.Values{"masskg": {"20"}, "shown": {"20"}, "unit": {"psi"}}, 422, "one of stress")
	if text := ask(t, s, "/rig", nil, 200); strings.Contains(text, script) {
		t.Error("a script is not escaped")
	}
}

func TestLogbook(t *testing.T) {
	b := frametest.New(t)
	b.Benches(false)
	s := b.Serve(routes)
	ask(t, s, "/logbook", nil, 200, "this machine only", "Not set: each trial goes by its own file")
	ask(t, s, "/logbook/settings", url.Values{"units": {"us"}, "unit": {"lbf"}}, 200, `value="us" selected`)
	ask(t, s, "/logbook/check", url.Values{}, 200, "The logbook is whole")
	copied := ask(t, s, "/logbook/copy", nil, 200)
	if !strings.HasPrefix(copied, "SQLite format 3\x00") {
		t.Errorf("the copy begins with %q", copied[:16])
	}
	ask(t, s, "/logbook/code", url.Values{}, 403)
	r, err := http.PostForm(s.URL+"/logbook/name", url.Values{"name": {"Ida\r\n" + script}})
	if err != nil {
		t.Fatal(err)
	}
	r.Body.Close()
	for _, c := range r.Request.Response.Cookies() {
		if c.Name == "name" && (!c.HttpOnly || c.SameSite != http.SameSiteStrictMode) {
			t.Errorf("cookie %v", c)
		}
	}
	things, err := b.Book.Things(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	ask(t, s, "/undo", url.Values{"seq": {strconv.FormatInt(things.SettingsAt.Seq, 10)}}, 200, "Not set")
}
