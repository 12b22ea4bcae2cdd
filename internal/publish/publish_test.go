package publish

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bondtrial"
	"bondtrial/internal/answer"
)

// trial is a small trial with every kind of reading, and with names that need
// escaping.
func trial(t *testing.T, change func(*answer.Settings)) *answer.Answer {
	t.Helper()
	var rs []bondtrial.Reading
	add := func(adhesive, prep, board string, wood bondtrial.Percent, strengths ...float64) {
		for _, s := range strengths {
			rs = append(rs, bondtrial.Reading{
				Specimen: bondtrial.Specimen{Code: string(rune('A'+len(rs)%26)) + prep, Adhesive: adhesive, Wood: "ash", Board: board, Factors: map[string]string{"prep": prep}},
				Strength: bondtrial.Megapascal(s), WoodFailure: wood, MoisturePct: bondtrial.Percent(math.NaN()), GlueOrder: len(rs) + 1,
			})
		}
	}
	for _, prep := range []string{"damp", "dry"} {
		add("Tarn", prep, "1", 0, 5, 5.6)
		add("Tarn", prep, "2", 10, 5.2, 6)
		add("Beck & <Sons>", prep, "1", 0, 7.4, 8)
		add("Beck & <Sons>", prep, "2", 30, 7, 8.4)
		add("Fell", prep, "1", 90, 9.4, 9.9)
		add("Fell", prep, "2", 95, 9, 10.2)
	}
	rs[0].SetAside, rs[0].Strength = "slipped, and fell < hard >", 0
	rs[1].RigLimited = true
	set := answer.DefaultSettings()
	set.Draws, set.Factors = 4000, []string{"prep"}
	if change != nil {
		change(&set)
	}
	a, err := answer.Compute(context.Background(), rs, set)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// The keys of the machine-readable answer, in their order, as docs/formats.md
// promises them to other programs.
var jsonKeys = map[string]string{
	"":               "schema seed draws threshold_pct readings cells pairs control best factor_effects wood_limit spread fit sensitivity warnings",
	"readings":       "used wood_limited rig_limited set_aside",
	"cells":          "adhesive wood factors n wood_limited typical_mpa low_mpa high_mpa only_at_least at_least_mpa sd_log char5_mpa",
	"pairs":          "wood factors a b ratio low high low_sim high_sim p_a_stronger verdict",
	"best":           "wood factors adhesive p_best",
	"factor_effects": "factor a b ratio low high low90 high90 verdict",
	"wood_limit":     "wood typical_mpa low_mpa high_mpa handbook_mpa",
	"spread":         "residual_sd_log board_sd_log session_sd_log trial_sd_log",
	"fit":            "lognormal_loglik weibull_loglik max_rhat min_ess",
	"sensitivity":    "threshold_pct changed_verdicts",
}

func TestJSONHasTheKeysPromised(t *testing.T) {
	var b bytes.Buffer
	if err := JSON(&b, trial(t, nil)); err != nil {
		t.Fatal(err)
	}
	var all map[string]json.RawMessage
	if err := json.Unmarshal(b.Bytes(), &all); err != nil {
		t.Fatal(err)
	}
	for name, keys := range jsonKeys {
		text := b.Bytes()
		if name != "" {
			text = all[name]
		}
		if bytes.HasPrefix(text, []byte("[")) {
			var list []json.RawMessage
			if err := json.Unmarshal(text, &list); err != nil || len(list) == 0 {
				t.Fatalf("%s: %v, %d entries", name, err, len(list))
			}
			text = list[0]
		}
		var object map[string]json.RawMessage
		if err := json.Unmarshal(text, &object); err != nil {
			t.Fatal(err)
		}
		got, want := slices.Sorted(maps.Keys(object)), strings.Fields(keys)
		at := -1
		for _, k := range want {
			i := bytes.Index(text, []byte(`"`+k+`":`))
			if i <= at {
				t.Errorf("%s: key %s is missing or out of order", name, k)
			}
			at = i
		}
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("%s: keys %v, want %v", name, got, want)
		}
	}
	if !bytes.Contains(b.Bytes(), []byte("Beck & <Sons>")) {
		t.Error("names are escaped as if for HTML")
	}
}

func TestJSONNullsAndFullPrecision(t *testing.T) {
	a := trial(t, nil)
	var b bytes.Buffer
	if err := JSON(&b, a); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Cells []struct {
			Adhesive string
			Typical  *float64 `json:"typical_mpa"`
			High     *float64 `json:"high_mpa"`
			AtLeast  *float64 `json:"at_least_mpa"`
			Only     bool     `json:"only_at_least"`
		}
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	for i, c := range got.Cells {
		want := a.Cells[i]
		if c.Only != want.OnlyAtLeast || (c.Typical == nil) != want.OnlyAtLeast || (c.High == nil) != want.OnlyAtLeast || (c.AtLeast == nil) == want.OnlyAtLeast {
			t.Errorf("%s: %+v", c.Adhesive, c)
		}
		if c.Typical != nil && *c.Typical != float64(want.Typical) {
			t.Errorf("%s: typical %v, want %v to the last digit", c.Adhesive, *c.Typical, want.Typical)
		}
	}
}

func TestHTMLIsOneSoundFile(t *testing.T) {
	var b bytes.Buffer
	if err := HTML(&b, trial(t, func(s *answer.Settings) { s.Required = 6 }), Source{Name: "readings <1>.csv", SHA256: "abc"}, bondtrial.SI); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	for _, want := range []string{
		"<svg", "Beck &amp; &lt;Sons&gt;", "readings &lt;1&gt;.csv", "SHA-256 abc", "slipped, and fell &lt; hard &gt;", "rig-limited", "set aside", "wood-limited",
		"no design value", "eye protection", "isocyanates", "Chance that typical exceeds 6.0 MPa", "at least",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the report has no %q", want)
		}
	}
	for _, bad := range []string{"<Sons>", "NaN", "+Inf", "<script", "@import", "<no value>", "ZgotmplZ"} {
		if strings.Contains(text, bad) {
			t.Errorf("the report has %q", bad)
		}
	}
	// No outside request: the only addresses are the names of XML vocabularies.
	for _, m := range regexp.MustCompile(`(?:href|src|url)\s*[=(]\s*["']?([^"')\s]+)`).FindAllStringSubmatch(text, -1) {
		if !strings.HasPrefix(m[1], "#") {
			t.Errorf("the report asks for %s", m[1])
		}
	}
	// Elements are closed in the order they are opened.
	d := xml.NewDecoder(strings.NewReader(text))
	d.Strict = false
	d.AutoClose = xml.HTMLAutoClose
	d.Entity = xml.HTMLEntity
	for {
		if _, err := d.Token(); err != nil {
			if !errors.Is(err, io.EOF) {
				t.Fatal(err)
			}
			break
		}
	}
}

func TestTextSaysWhatIsKnown(t *testing.T) {
	var b bytes.Buffer
	a := trial(t, nil)
	if err := Text(&b, a, bondtrial.SI); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	for _, want := range []string{
		"On ash, damp: ", "With Fell (4 of 4) the wood failed first every time: it holds at least ",
		"23 readings used, 8 ended in the wood, 1 ended at the rig's limit, 1 set aside.",
		"at least ", "one-sided only", "Prep: ", "Along the order of glueing", "Caution: ",
	} {
		if !strings.Contains(strings.Join(strings.Fields(text), " "), strings.Join(strings.Fields(want), " ")) {
			t.Errorf("the text has no %q:\n%s", want, text)
		}
	}
	if !strings.HasPrefix(text, "In short: ") {
		t.Errorf("the text does not begin with the sentence: %.60s", text)
	}
	for _, line := range strings.Split(text, "\n") {
		if strings.HasPrefix(line, "Note") && len([]rune(line)) > 96 {
			t.Errorf("a line of %d letters: %s", len([]rune(line)), line)
		}
	}
}

func TestOver(t *testing.T) {
	for _, c := range []struct {
		ratio, low, high answer.Value
		verdict          answer.Verdict
		over, by         string
	}{
		{1.31, 1.04, 1.65, answer.Stronger, "stronger than Fell by 31 % (4–65 %)", "by 31 % (4–65 %)"},
		{0.69, 0.35, 0.96, answer.Weaker, "weaker than Fell by 31 % (4–65 %)", "by 31 % (4–65 %)"},
		{2.41, 1.9, 3.0, answer.Stronger, "2.41 times as strong as Fell (1.90–3.00)", "2.41 times as strong (1.90–3.00)"},
		{answer.None, 1.2, answer.None, answer.Stronger, "stronger than Fell by at least 20 %", "by at least 20 %"},
		{answer.None, 2.2, answer.None, answer.Stronger, "at least 2.20 times as strong as Fell", "at least 2.20 times as strong"},
		{answer.None, answer.None, 0.8, answer.Weaker, "weaker than Fell by at least 20 %", "by at least 20 %"},
	} {
		p := answer.Pair{A: "Tarn", B: "Fell", Ratio: c.ratio, LowSim: c.low, HighSim: c.high, Verdict: c.verdict}
		if got := Over(p); got != c.over {
			t.Errorf("%q, want %q", got, c.over)
		}
		if got := by(p); got != c.by {
			t.Errorf("%q, want %q", got, c.by)
		}
	}
}

func TestWrap(t *testing.T) {
	got := Wrap("a strength of 12 MPa, 31 % more", 16, "  ")
	want := "a strength of\n  12 MPa, 31 %\n  more"
	if got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
