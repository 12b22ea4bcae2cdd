package beside_test

import (
	"bytes"
	"html"
	"io"
	"maps"
	"math"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bondtrial/internal/pages/frametest"
	"bondtrial/internal/record"
)

// upload sends a form with a file.
func upload(t *testing.T, s *httptest.Server, path string, fields map[string]string, fileName, content string) (status int, body string) {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for name, value := range fields {
		if err := m.WriteField(name, value); err != nil {
			t.Fatal(err)
		}
	}
	part, err := m.CreateFormFile("table", fileName)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(part, content); err != nil {
		t.Fatal(err)
	}
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := http.Post(s.URL+path, m.FormDataContentType(), &b)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return r.StatusCode, string(text)
}

// typed is a calibration as it is typed, without its table.
func typed() map[string]string {
	return map[string]string{"sensor": "Bench cell", "shows": "counts", "step": "1", "made": "2027-04-01", "expires": "2028-04-01", "latitude": "52", "height": "40", "accuracy": "0.1",
		"about": "after the new hook", "key": "one"}
}

func allIn(t *testing.T, what, page string, parts ...string) {
	t.Helper()
	plain := html.UnescapeString(page)
	for _, p := range parts {
		if !strings.Contains(plain, p) {
			t.Errorf("%s: %q is not in the page", what, p)
		}
	}
	for _, fault := range frametest.Faults(page) {
		t.Errorf("%s: %s", what, fault)
	}
	if strings.Contains(page, "%!") || strings.Contains(page, "<script>alert") || strings.Contains(page, "style=") {
		t.Errorf("%s: a wrong verb, a script or a style in %s", what, page)
	}
}

func TestCalibrate(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	allIn(t, "none", ask(t, s, "/rig", nil, 200), "No calibration is in force.", "Hanging weights fall.")
	status, page := upload(t, s, "/rig/calibrations", typed(), `C:\papers\weights.csv`, frametest.CalibrationTable)
	if status != 200 {
		t.Fatalf("status %d: %s", status, page)
	}
	allIn(t, "made", page, "In force:", "the calibration of 2027-04-01, Bench cell", "Holds until 2028-04-01", "limits of ISO 7500-1 from memory, unconfirmed", "a self-check, no accredited certificate",
		"27 readings in 3 series", "<svg", "reached by hanging up: n 15", "Gravity 9.81", "Remark: after the new hook", "All calibrations (1)")
	if _, page = upload(t, s, "/rig/calibrations", typed(), "weights.csv", frametest.CalibrationTable); !strings.Contains(page, "All calibrations (1)") {
		t.Error("the same form sent twice is two calibrations")
	}
	other := typed()
	other["key"] = "two"
	if status, page = upload(t, s, "/rig/calibrations", other, "weights.csv", frametest.CalibrationTable); status != 409 || !strings.Contains(page, "Recorded already: a calibration") {
		t.Errorf("the same calibration once more: status %d", status)
	}
	things, err := b.Book.Things(t.Context())
	if err != nil || len(things.Calibrations) != 1 {
		t.Fatal(things.Calibrations, err)
	}
	at := "/rig/calibrations/" + things.Calibrations[0].Key
	if got := ask(t, s, at+"/table.csv", nil, 200); got != frametest.CalibrationTable {
		t.Errorf("the table came back as %q", got)
	}
	ask(t, s, at+"/certificate.txt", nil, 200, "Key "+things.Calibrations[0].Key, "a self-check, no accredited certificate", "from memory, unconfirmed")
	ask(t, s, "/rig/calibrations/0123456789ab/table.csv", nil, 404)
	ask(t, s, "/rig/calibrations/0123456789ab/certificate.txt", nil, 404)

	// A later one, pasted, counts up from the zero of the display; the earlier stays.
	pasted := url.Values{"rows": {"series;direction;force_n;shown\n1;up;100;100,1\n1;up;200;200,2\n1;up;300;300,3\n2;up;100;100,2\n2;up;200;200,1\n2;up;300;300,3"}, "shows": {"N"}, "step": {"0.1"}, "accuracy": {"0"}, "made": {""}}
	allIn(t, "pasted", ask(t, s, "/rig/calibrations", pasted, 200), "the calibration of 2027-04-12", "turns N into force", "Nothing was read at no load", "followed by a later one", "All calibrations (2)")
	seq := strconv.FormatInt(things.Calibrations[0].Seq, 10)
	allIn(t, "taken back", ask(t, s, "/undo", url.Values{"seq": {seq}, "back": {"/rig"}}, 200), "All calibrations (1)")
	ask(t, s, at+"/certificate.txt", nil, 200) // for the readings that were made with it
}

func TestCalibrationsThatAreWrong(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	const bad = "series,direction,mass_kg,shown\n1,up,0,810\n1,sideways,10,1790\n1,up,ten,2770\n"
	for what, c := range map[string]struct {
		change map[string]string
		table  string
		parts  []string
	}{
		"rows that are wrong": {nil, bad, []string{`weights.csv:3: column "direction"`, `weights.csv:4: column "mass_kg"`, "1,sideways,10,1790", `value="after the new hook"`, `value="52"`, `value="0.1"`, "everything you typed"}},
		"nothing":             {nil, "", []string{"Choose a file, or write the readings here", `value="after the new hook"`}},
		"too few":             {nil, strings.Join(strings.SplitAfter(frametest.CalibrationTable, "\n")[:4], ""), []string{"hang at least 3"}},
		"no step":             {map[string]string{"step": ""}, frametest.CalibrationTable, []string{"Write the smallest step", "1,up,10,1796"}},
		"a step of words":     {map[string]string{"step": "one"}, frametest.CalibrationTable, []string{`"one" is no number`, `value="one"`}},
		"a comma":             {map[string]string{"accuracy": "0,1"}, frametest.CalibrationTable, []string{`"0,1" is no number`, `value="0,1"`}},
		"no place":            {map[string]string{"latitude": "", "height": ""}, frametest.CalibrationTable, []string{"Is missing, and loads are given in kg"}},
		"half a place":        {map[string]string{"latitude": ""}, frametest.CalibrationTable, []string{"write both, or gravity itself"}},
		"off the globe":       {map[string]string{"latitude": "91"}, frametest.CalibrationTable, []string{"is not on the globe"}},
		"a date of words":     {map[string]string{"made": "today"}, frametest.CalibrationTable, []string{`"today" is no date`}},
		"ended before":        {map[string]string{"expires": "2027-03-01"}, frametest.CalibrationTable, []string{"2027-03-01 is before the calibration"}},
		"a long name":         {map[string]string{"sensor": strings.Repeat("x", 81)}, frametest.CalibrationTable, []string{"longer than 80 letters"}},
		"scripts":             {map[string]string{"sensor": script, "about": script, "shows": script, "step": script}, script + "\n" + bad, []string{"is missing from the header"}},
		"a spreadsheet":       {nil, "PK\x03\x04\x14\x00\x06\x00\xff\xfe", []string{"save the table as CSV"}},
		"very many": {nil, "series,direction,force_n,shown\n" + strings.Repeat("1,up,1,1\n", 2001),
			[]string{"at most 2000 are kept"}},
		"larger than a MiB": {nil, strings.Repeat("#", 1<<20+1), []string{"larger than 1 MiB", `value="after the new hook"`}},
	} {
		fields := typed()
		maps.Copy(fields, c.change)
		status, page := upload(t, s, "/rig/calibrations", fields, "weights.csv", c.table)
		if status != 422 {
			t.Errorf("%s: status %d", what, status)
		}
		allIn(t, what, page, append(c.parts, `aria-invalid="true"`)...)
	}
	if status, _ := upload(t, s, "/rig/calibrations", typed(), "weights.csv", strings.Repeat("#", 5<<20)); status != 413 {
		t.Errorf("5 MiB: status %d", status)
	}
	things, err := b.Book.Things(t.Context())
	if err != nil || len(things.Entries) != 0 {
		t.Error(things.Entries, err)
	}
	// A script in everything that is kept.
	fields := typed()
	fields["sensor"], fields["about"], fields["shows"] = script, script, "<b>co</b>"
	status, page := upload(t, s, "/rig/calibrations", fields, "<i>.csv", strings.ReplaceAll(frametest.CalibrationTable, "\n2,", "\n<b>,"))
	if status != 200 || strings.Contains(page, "<b>co") || strings.Contains(page, "<i>") {
		t.Errorf("status %d: %s", status, page)
	}
	allIn(t, "script", page, "turns <b>co</b> into force")
}

var readsHigh = regexp.MustCompile(`Reads ([0-9.]+) % high since Tuesday`)

// Masses that were hung while a calibration was in force are held against it; the
// words say since when the rig reads wrongly.
func TestChecksAgainstTheCalibration(t *testing.T) {
	b := frametest.New(t)
	s := b.Serve(routes)
	ask(t, s, "/rig/checks", url.Values{"masskg": {"20"}, "shown": {"197"}, "unit": {"N"}}, 200, "&#43;0.4 %") // 197/196.133: before any calibration
	k := b.Calibrate("2027-04-12")
	check := func(shown string, more ...string) string {
		t.Helper()
		v := url.Values{"masskg": {"40"}, "shown": {shown}, "zero": {"812"}, "unit": {"counts"}, "calibration": {k.Key()}}
		return ask(t, s, "/rig/checks", v, 200, more...)
	}
	// 40 kg showed 4736 counts on an average, with 812 at no load.
	check("4736", "4736 counts, 812 at no load", "Reads right: ")
	b.Clock.Add(24 * 3600e9)
	check("4776", "% high on Tuesday, 13 April 2027", "on 2027-04-12 it still read right")
	b.Clock.Add(48 * 3600e9)
	text := check("4786", "% high since Tuesday, 13 April 2027")
	allIn(t, "checks", text, "on 2027-04-12 it still read right", "+0.4 %")
	// The six readings of 40 kg in the table are 3931 counts from their zeros on an
	// average: 4786 less 812 is 1.1 % more. The curve may differ from their mean by what
	// the calibration allows, 0.31 %.
	if m := readsHigh.FindStringSubmatch(text); m == nil {
		t.Error("it is not said by how much it reads high")
	} else if off, err := strconv.ParseFloat(m[1], 64); err != nil || math.Abs(off-1.1) > 0.31 {
		t.Errorf("reads %s %% high, want 1.1", m[1])
	}
	ask(t, s, "/rig/checks", url.Values{"masskg": {"40"}, "shown": {"4736"}, "unit": {"counts"}}, 422, "is none of", `value="4736"`)
	ask(t, s, "/rig/checks", url.Values{"masskg": {"0"}, "shown": {"4736"}, "zero": {"8x"}, "unit": {"counts"}, "calibration": {k.Key()}}, 422, `value="8x"`)
	things, err := b.Book.Things(t.Context())
	if err != nil || len(things.Checks) != 4 || things.Checks[0].RigCheck != (record.RigCheck{MassKG: 40, Shown: 4786, Unit: "counts", Zero: 812, Calibration: k.Key()}) {
		t.Error(things.Checks, err)
	}
	// It runs out: said, and the last one is shown still.
	c := b.Calibrated("2027-04-12")
	c.Calibration.Expires = "2027-04-15"
	c.Key = c.Calibration.Key()
	if _, err := b.Book.Add(t.Context(), record.Who{}, "", "", c); err != nil {
		t.Fatal(err)
	}
	allIn(t, "ending", ask(t, s, "/rig", nil, 200), "ends on 2027-04-15, in 0 days")
	b.Clock.Add(24 * 3600e9)
	allIn(t, "ended", ask(t, s, "/rig", nil, 200), "No calibration is in force.", "That of 2027-04-12 has run out", "ended on 2027-04-15, 1 day ago")
}
