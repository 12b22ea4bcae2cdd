package table

import (
	"crypto/sha256"
	"encoding/hex"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"bondtrial"
)

func mustRead(t testing.TB, text string, opt Options) *Table {
	t.Helper()
	got, err := Read(strings.NewReader(text), "t.csv", opt)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

var notRecorded = bondtrial.Percent(math.NaN())

// A whole file: every known column, a factor, two further columns.
func TestReadWholeTable(t *testing.T) {
	const text = "# glued on the first of May\n" +
		"Specimen;Adhesive;Wood;Board;Session;Trial;Peak (N);Area (mm²);Wood failure %;Failure;Rig limited;Set aside;Note;Glue order;Break order;Moisture %;Surface;Room;Operator\n" +
		"A1;Tarn;white ash;1;mon;T1;4000,5;500;20 %;cf;no;;;1;2;11,5;planed;shed;x\n" +
		"A2; Tarn ;white  ash;1;mon;T1;6000;;80;;N;;\"first\nsecond\";2;1;;planed;;y\n" +
		"\n;;;;;;;;;;;;;;;;;;\n" +
		"B1;Fell;white ash;2;tue;T1;9000;400;;;yes;;;;3;12;sanded;shed;x\n" +
		"B2;Fell;white ash;;;;;;;;; slipped in the  grips ; on the left ;;;;; shed;\n"
	got := mustRead(t, text, Options{Factors: []string{"surface"}, AreaMM2: 600})
	planed := map[string]string{"surface": "planed"}
	want := &Table{
		Name:    "t.csv",
		Columns: strings.Split("Specimen;Adhesive;Wood;Board;Session;Trial;Peak (N);Area (mm²);Wood failure %;Failure;Rig limited;Set aside;Note;Glue order;Break order;Moisture %;Surface;Room;Operator", ";"),
		Readings: []bondtrial.Reading{
			{Specimen: bondtrial.Specimen{Code: "A1", Adhesive: "Tarn", Wood: "white ash", Board: "1", Session: "mon", Trial: "T1", Factors: planed},
				Strength: 8.001, WoodFailure: 20, Failure: bondtrial.CohesionFailure, GlueOrder: 1, BreakOrder: 2, MoisturePct: 11.5, Line: 3},
			{Specimen: bondtrial.Specimen{Code: "A2", Adhesive: "Tarn", Wood: "white ash", Board: "1", Session: "mon", Trial: "T1", Factors: planed},
				Strength: 10, WoodFailure: 80, Note: "first\nsecond", GlueOrder: 2, BreakOrder: 1, MoisturePct: notRecorded, Line: 4},
			{Specimen: bondtrial.Specimen{Code: "B1", Adhesive: "Fell", Wood: "white ash", Board: "2", Session: "tue", Trial: "T1", Factors: map[string]string{"surface": "sanded"}},
				Strength: 22.5, WoodFailure: notRecorded, RigLimited: true, BreakOrder: 3, MoisturePct: 12, Line: 8},
			{Specimen: bondtrial.Specimen{Code: "B2", Adhesive: "Fell", Wood: "white ash", Factors: map[string]string{"surface": ""}},
				WoodFailure: notRecorded, SetAside: "slipped in the grips", Note: "on the left", MoisturePct: notRecorded, Line: 9},
		},
		ExtraColumns: []string{"Room", "Operator"},
		Extra:        [][]string{{"shed", "x"}, {"", "y"}, {"shed", "x"}, {"shed", ""}},
		HasWood:      true, HasBoard: true, HasSession: true, HasTrial: true, HasFailure: true,
		HasGlueOrder: true, HasBreakOrder: true, HasMoisture: true,
		Notes: []string{
			"columns separated by semicolons, decimal comma",
			"strength is peak_n over area_mm2, and over the area given, 600 mm², where that is blank",
			"carried along unread: Room, Operator",
		},
	}
	if diff := cmp.Diff(want, got, sameReadings, cmpopts.IgnoreFields(Table{}, "SHA256")); diff != "" {
		t.Errorf("want (-), got (+):\n%s", diff)
	}
}

func TestSmallestTable(t *testing.T) {
	got := mustRead(t, "adhesive,strength_mpa\nTarn,8.1\nFell,7", Options{})
	want := &Table{
		Name: "t.csv", Columns: []string{"adhesive", "strength_mpa"},
		Readings: []bondtrial.Reading{
			{Specimen: bondtrial.Specimen{Code: "1", Adhesive: "Tarn"}, Strength: 8.1, WoodFailure: notRecorded, MoisturePct: notRecorded, Line: 2},
			{Specimen: bondtrial.Specimen{Code: "2", Adhesive: "Fell"}, Strength: 7, WoodFailure: notRecorded, MoisturePct: notRecorded, Line: 3},
		},
		Notes: []string{
			"columns separated by commas, decimal point",
			"no column specimen: readings are numbered in the order of the file",
		},
	}
	if diff := cmp.Diff(want, got, sameReadings, cmpopts.IgnoreFields(Table{}, "SHA256")); diff != "" {
		t.Errorf("want (-), got (+):\n%s", diff)
	}
}

// The conversion factors are those of NIST SP 811, appendix B.8 (from memory, unconfirmed): 1 lbf/in² is
// 6894.757 Pa, 1 lbf 4.448222 N, 1 kgf 9.80665 N (exact).
func TestUnitsOfStrength(t *testing.T) {
	for _, c := range []struct {
		column, value string
		want          float64 // MPa
	}{
		{"strength_mpa", "8.1", 8.1},
		{"strength_psi", "1000", 6.894757},
		{"peak_n", "4000", 10},
		{"peak_kn", "4", 10},
		{"peak_lbf", "1000", 4448.222 / 400},
		{"peak_kgf", "400", 9.80665},
	} {
		got := mustRead(t, "adhesive,"+c.column+"\nTarn,"+c.value+"\n", Options{AreaMM2: 400})
		// The printed factors have seven digits: 1 in the last is 1.5e-7.
		if s := float64(got.Readings[0].Strength); math.Abs(s-c.want) > 1.5e-7*c.want {
			t.Errorf("%s %s over 400 mm²: %v MPa, want %v", c.column, c.value, s, c.want)
		}
	}
}

func TestAnswersToRigLimited(t *testing.T) {
	for text, want := range map[string]bool{
		"": false, "no": false, "No": false, "n": false, "FALSE": false, "0": false,
		"yes": true, "YES": true, "y": true, "true": true, "1": true,
	} {
		got := mustRead(t, "adhesive,strength_mpa,rig_limited\nTarn,8,"+text+"\n", Options{})
		if got.Readings[0].RigLimited != want {
			t.Errorf("%q is read as %v", text, !want)
		}
	}
}

// Whatever a set-aside row leaves blank is accepted, and 0 is kept as it is.
func TestSetAsideRows(t *testing.T) {
	text := "adhesive,wood,board,session,trial,strength_mpa,failure,set_aside,prep\n" +
		"Tarn,ash,,,,,,came apart in the clamp,\n" +
		"Tarn,ash,,,,0,,came apart in the clamp,\n" +
		"Tarn,ash,,,,3.5,,slipped,dry\n"
	got := mustRead(t, text, Options{Factors: []string{"prep"}})
	for i, want := range []bondtrial.Megapascal{0, 0, 3.5} {
		if r := got.Readings[i]; r.Strength != want || r.State(bondtrial.DefaultThreshold) != bondtrial.SetAside {
			t.Errorf("row %d: %v MPa, %v", i, r.Strength, r.State(bondtrial.DefaultThreshold))
		}
	}
}

func TestPositionsAreUniqueWithinATrial(t *testing.T) {
	text := "adhesive,strength_mpa,trial,glue_order,break_order\nTarn,8,T1,1,2\nTarn,8,T1,2,1\nTarn,8,T2,1,2.0\nTarn,8,T2,,\n"
	got := mustRead(t, text, Options{})
	var order []int
	for _, r := range got.Readings {
		order = append(order, r.GlueOrder, r.BreakOrder)
	}
	if want := []int{1, 2, 2, 1, 1, 2, 0, 0}; !slices.Equal(order, want) {
		t.Errorf("got %v, want %v", order, want)
	}
}

func TestWhatTheFileRecords(t *testing.T) {
	got := mustRead(t, "adhesive,strength_mpa,glue_order,break_order,moisture_pct,rig_limited\nTarn,8,,,,\n", Options{})
	if got.HasGlueOrder || got.HasBreakOrder || got.HasMoisture || got.HasFailure || got.HasWood || got.HasBoard || got.HasSession || got.HasTrial {
		t.Errorf("columns without a value, or not there, count as recorded: %+v", got)
	}
	for _, column := range []string{"failure", "wood_failure_pct"} {
		if got := mustRead(t, "adhesive,strength_mpa,set_aside,"+column+"\nTarn,8,slipped,\n", Options{}); !got.HasFailure {
			t.Errorf("with the column %s, how the joints failed counts as not recorded", column)
		}
	}
}

func TestWarnings(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       []string
	}{
		{"none", "adhesive,strength_mpa,failure\nTarn,8,CF\n", nil},
		{"how the joints failed is not recorded", "adhesive,strength_mpa\nTarn,8\n", nil},
		{"another word for what no answer needs", "adhesive,strength_mpa,failure,Sample no,comment\nTarn,8,CF,1,\n", []string{
			"column 'Sample no' is not used: name it specimen if that is meant"}},
		{"a failure in words beside the share", "adhesive,strength_mpa,wood_failure_pct,failure mode\nTarn,8,20,mixed\n", []string{
			"column 'failure mode' is not used: name it failure if that is meant"}},
		{"no suggestion of what is there or not needed", "adhesive,strength_mpa,failure,adhesives,strength_kpa,area\nTarn,8,CF,a,8000,400\n", nil},
		{"shares of 0 and 1", "adhesive,strength_mpa,wood_failure_pct\nTarn,8,0\nTarn,8,1\n", []string{
			"no value of wood_failure_pct is above 1: percent are expected, 75 and not 0.75"}},
		{"all zero is no fraction", "adhesive,strength_mpa,wood_failure_pct\nTarn,8,0\n", nil},
		{"moisture as a fraction", "adhesive,strength_mpa,failure,moisture_pct\nTarn,8,CF,0.12\n", []string{
			"no value of moisture_pct is above 1: percent are expected, 75 and not 0.75"}},
		{"code and share disagree", "adhesive,strength_mpa,failure,wood_failure_pct\nTarn,8,SF,0\nTarn,8,AF,100\nTarn,8,CSF,0\nTarn,8,SF,100\nTarn,8,AF,0\n", []string{
			"the code of failure (failure) says that the wood failed and the share of wood (wood_failure_pct) is 0, lines 2, 4: the code decides",
			"the code of failure (failure) says that the bond failed and the share of wood (wood_failure_pct) is 100, line 3: counted as wood-limited"}},
		{"code and share of named specimens disagree", "specimen,adhesive,strength_mpa,failure,wood_failure_pct\nA1,Tarn,8,SF,0\nA2,Tarn,8,AF,100\nA3,Tarn,8,CSF,0\n", []string{
			"the code of failure (failure) says that the wood failed and the share of wood (wood_failure_pct) is 0, lines 2 (A1), 4 (A3): the code decides",
			"the code of failure (failure) says that the bond failed and the share of wood (wood_failure_pct) is 100, line 3 (A2): counted as wood-limited"}},
		{"the unit may be wrong", "adhesive,strength_mpa,failure\nTarn,1200,CF\nTarn,1300,CF\nTarn,8,CF\n", []string{
			"the median strength is 1.2e+03 MPa, far from what glued wood reaches: check the unit in the name 'strength_mpa'",
			"less than 1/30 of the median strength: 8 on line 4: check the unit and the decimal point there"}},
		{"too weak", "adhesive,strength_psi,failure\nTarn,1,CF\n", []string{
			"the median strength is 0.00689 MPa, far from what glued wood reaches: check the unit in the name 'strength_psi'"}},
	} {
		got := mustRead(t, c.text, Options{})
		if !slices.Equal(got.Warnings, c.want) {
			t.Errorf("%s: got %q, want %q", c.name, got.Warnings, c.want)
		}
		for _, w := range c.want {
			if !slices.Contains(got.Notes, w) {
				t.Errorf("%s: the warning %q is not among the notes", c.name, w)
			}
		}
	}
}

func TestNotes(t *testing.T) {
	for _, c := range []struct {
		name, text string
		opt        Options
		want       string
	}{
		{"tabs", "adhesive\tstrength_mpa\nTarn\t8.1\n", Options{}, "columns separated by tabs, decimal point"},
		{"decimal comma", "adhesive\tstrength_mpa\nTarn\t8,1\n", Options{}, "columns separated by tabs, decimal comma"},
		{"peak over one area", "adhesive,peak_lbf\nTarn,800\n", Options{AreaMM2: 506.25}, "strength is peak_lbf over the area given, 506.25 mm²"},
		{"peak over its own area", "adhesive,peak_n,area_mm2\nTarn,800,400\n", Options{AreaMM2: 506}, "strength is peak_n over area_mm2"},
		{"area without use", "adhesive,strength_psi\nTarn,1200\n", Options{AreaMM2: 506}, "strength is read from strength_psi; the bonded area is not used"},
		{"UTF-16", "\xff\xfe" + wide("adhesive,strength_mpa\nÆrø,8\n"), Options{}, "encoded in UTF-16"},
		{"Windows-1252", "adhesive,strength_mpa\nBruy\xe8re,8\n", Options{}, "not valid UTF-8 (first on line 2), so it was read as Windows-1252: check names with accents"},
	} {
		got := mustRead(t, c.text, c.opt)
		if !slices.Contains(got.Notes, c.want) {
			t.Errorf("%s: %q is not among the notes %q", c.name, c.want, got.Notes)
		}
	}
}

// wide writes Latin-1 text as UTF-16, low byte first.
func wide(s string) string {
	var b []byte
	for _, r := range s {
		b = append(b, byte(r), 0)
	}
	return string(b)
}

// 0xE8 is è and 0x80 the euro sign in Windows-1252 (mapping table of the
// Unicode Consortium, CP1252.TXT; from memory, unconfirmed).
func TestWindows1252(t *testing.T) {
	got := mustRead(t, "adhesive,strength_mpa,note\nBruy\xe8re,8,5 \x80\n", Options{})
	if r := got.Readings[0]; r.Adhesive != "Bruyère" || r.Note != "5 €" {
		t.Errorf("read as %q and %q", r.Adhesive, r.Note)
	}
}

func TestReadFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "t.csv")
	if err := os.WriteFile(path, []byte("\xef\xbb\xbfadhesive,strength_mpa\r\nTarn,8.1\r\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	got, err := ReadFile(path, Options{})
	if err != nil || got.Name != path || len(got.Readings) != 1 || got.Columns[0] != "adhesive" {
		t.Fatalf("%+v, %v", got, err)
	}
}

// bigTable has n rows in which each board and code is new.
func bigTable(n int) string {
	var b strings.Builder
	b.WriteString("specimen,adhesive,wood,board,session,strength_mpa,wood_failure_pct,glue_order,prep,room\n")
	for i := range n {
		b.WriteString("S" + strconv.Itoa(i) + ",Tarn " + strconv.Itoa(i%7) + ",white ash,B" + strconv.Itoa(i) + ",s" + strconv.Itoa(i%20) +
			"," + strconv.FormatFloat(5+float64(i%1000)/100, 'f', 2, 64) + "," + strconv.Itoa(i%101) + "," + strconv.Itoa(i+1) + ",dry,shed\n")
	}
	return b.String()
}

// Reading takes time in proportion to the rows: 100,000 of them, with a name of
// its own in each, are read in a small part of a second. The limit is wide, for
// slow and busy machines; a step that looks at all earlier rows would take
// minutes.
func TestManyRowsAreQuick(t *testing.T) {
	text := bigTable(100_000)
	start := time.Now()
	got := mustRead(t, text, Options{Factors: []string{"prep"}})
	if d := time.Since(start); d > 5*time.Second {
		t.Errorf("took %v", d)
	}
	if len(got.Readings) != 100_000 || got.Readings[99_999].GlueOrder != 100_000 {
		t.Errorf("read %d rows", len(got.Readings))
	}
}

// A table does not hold on to the text of its file.
func TestTableIsCutLooseFromTheFile(t *testing.T) {
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	var tables []*Table
	for range 16 {
		tables = append(tables, mustRead(t, "adhesive,strength_mpa\n"+strings.Repeat("\n", 1<<20)+"Tarn,8\n", Options{}))
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	// 16 texts of 1 MiB each would stay.
	if grown := int64(after.HeapAlloc) - int64(before.HeapAlloc); grown > 4<<20 {
		t.Errorf("16 tables of one reading hold %d bytes", grown)
	}
	runtime.KeepAlive(tables)
}

// Room that was made for rows that do not come is given back.
func TestReadingsHoldNoSpareRoom(t *testing.T) {
	text := "adhesive,strength_mpa\n" + strings.Repeat("Tarn,8\n", 1000) + strings.Repeat("\n", 1<<20)
	if got := mustRead(t, text, Options{}); len(got.Readings) != 1000 || cap(got.Readings) > 2000 {
		t.Errorf("%d readings in room for %d", len(got.Readings), cap(got.Readings))
	}
}

func BenchmarkRead(b *testing.B) {
	text := bigTable(100_000)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read(strings.NewReader(text), "t.csv", Options{Factors: []string{"prep"}}); err != nil {
			b.Fatal(err)
		}
	}
}

// Expected: the SHA-256 test vector for "abc" is that of FIPS 180-2, appendix
// B.1; here it is the standard library's sum of the same bytes, byte-order mark
// included.
func TestSHA256IsOfTheBytes(t *testing.T) {
	text := "\ufeffadhesive;strength_mpa\r\nTarn;8,1\r\n"
	want := sha256.Sum256([]byte(text))
	if got := mustRead(t, text, Options{}).SHA256; got != hex.EncodeToString(want[:]) {
		t.Errorf("got %s, want %x", got, want)
	}
}
