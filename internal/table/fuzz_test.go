package table

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bondtrial"
)

// FuzzRead checks that no bytes make Read panic, that a problem points into the
// file, that whatever is read is valid, and that it is read again from what the
// tests write.
func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"",
		"adhesive,strength_mpa\nTarn,8.1\n",
		"adhesive;strength_mpa;wood\nTarn;8,1;ash\nFell;7.5;ash\n",
		"specimen\tadhesive\tpeak_lbf\tarea_mm2\nA\tTarn\t800\t400\n",
		"adhesive,strength_psi,wood_failure_pct,rig_limited,set_aside,prep\n\"Ta\"\"rn\",1200,80 %,no,,dry\n\"Fe\r\nll\",1e3,,yes,,dry\nFell,,,,slipped,\n",
		"# x\nsep=;\nadhesive;strength\n\"open;\n",
		"adhesive,strength_mpa,strength_mpa,,\nTarn,1,2,,x\n\x07,,,,\n",
		"adhesive,glue_order,moisture_pct,strength_mpa,failure\nTarn,1,12,0,SF\nTarn,1,-0,1e999,XX\ntarn,1.5,NaN,0x1p4,\n",
		"\xef\xbb\xbfadhesive,strength_mpa\nTarn,8\n",
		"\xff\xfea\x00d\x00h\x00e\x00s\x00i\x00v\x00e\x00\n\x00",
		"adhesive,strength_mpa\nBruy\xe8re,8\nTarn\x81,8\n",
		"Bench trial,,\nmade in May\n\nGlue,Timber,Peak force (lbf),Area (in²),wf\nTarn,ash,\"1,610\",1,n/a\n",
		"adhesive;Peak (kN);Area (cm²);Wood failure (%)\nGoldcap;4,100;4;0.5%\nGoldcpa;900,5;4;0,7\n;;8,1;\nMean;;8,1;~20\n",
		"specimen,adhesive,wood,strength_mpa,set_aside\nA,Max Bond,ash,8,\nB,Max Bond,ash,\"8,100\",#N/A\n,Max Bond mean,,>8,\n\nAverage,,8\n,,,8,\n",
		"adhesive,force_n,area\nTarn,8,2\nn,8,2\n", ",,strength mpA,,,,,\n,,<,,,,,",
		"PK\x03\x04", "%PDF-", "<html>", "a\x00b", ";;;\n\"\"\"\n", "\r\r\n\n\r",
		"adhesive,strength_mpa\n\u00c5ngstro\u0308m \u200b,8\n\u212bngström,8\n",
		written([]bondtrial.Reading{{Specimen: bondtrial.Specimen{Code: "A", Adhesive: "Tarn", Wood: "ash", Board: "1", Session: "1", Trial: "1"}, Strength: 8, WoodFailure: 20}}, allColumns, nil, plainDialect),
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		text := string(data)
		// Every line end has one of these bytes at least, in each encoding.
		lines := 1 + strings.Count(text, "\n") + strings.Count(text, "\r")
		for _, opt := range []Options{{}, {AreaMM2: 400, Factors: []string{"prep"}}} {
			got, err := Read(strings.NewReader(text), "t.csv", opt)
			if err != nil {
				checkProblems(t, got, err, lines)
				continue
			}
			checkTable(t, got, lines)
			if opt.Factors == nil {
				checkAgain(t, got)
			}
		}
	})
}

func checkProblems(t *testing.T, got *Table, err error, lines int) {
	var list *Errors
	if got != nil || !errors.As(err, &list) || len(list.Problems) == 0 {
		t.Fatalf("table %v beside the error %T %v", got, err, err)
	}
	last := 0
	for _, p := range list.Problems {
		if p.Line < last || p.Line > lines || p.Message == "" {
			t.Fatalf("problem %+v after line %d in a file of %d lines", p, last, lines)
		}
		last = p.Line
	}
	if n := strings.Count(err.Error(), "\n") + 1; list.More == 0 && n != len(list.Problems) {
		t.Fatalf("%d problems in %d lines: %v", len(list.Problems), n, err)
	}
}

func checkTable(t *testing.T, got *Table, lines int) {
	if len(got.Readings) == 0 || len(got.Notes) == 0 || got.Extra != nil && len(got.Extra) != len(got.Readings) {
		t.Fatalf("%d readings, %d rows carried along, notes %q", len(got.Readings), len(got.Extra), got.Notes)
	}
	codes := map[string]bool{}
	last := 1
	for i, r := range got.Readings {
		s, share, moisture := float64(r.Strength), float64(r.WoodFailure), float64(r.MoisturePct)
		if math.IsNaN(s) || math.IsInf(s, 0) || s < 0 || s == 0 && r.SetAside == "" {
			t.Fatalf("reading %d has the strength %v MPa", i, s)
		}
		for _, v := range []float64{share, moisture} {
			if v < 0 || v > 100 || v == 0 && math.Signbit(v) {
				t.Fatalf("reading %d has the share %v", i, v)
			}
		}
		if r.Adhesive == "" || r.Code == "" || codes[r.Code] || r.GlueOrder < 0 || r.BreakOrder < 0 {
			t.Fatalf("reading %d is %+v", i, r)
		}
		codes[r.Code] = true
		if used := r.SetAside == ""; used && (got.HasWood && r.Wood == "" || got.HasBoard && r.Board == "" || got.HasSession && r.Session == "" || got.HasTrial && r.Trial == "") {
			t.Fatalf("reading %d lacks a name: %+v", i, r)
		}
		if got.HasFailure && r.SetAside == "" && !r.RigLimited && math.IsNaN(share) && r.Failure == "" {
			t.Fatalf("reading %d does not say how it failed", i)
		}
		if r.Line <= last && i > 0 || r.Line < 2 || r.Line > lines {
			t.Fatalf("reading %d is on line %d, after %d, of %d", i, r.Line, last, lines)
		}
		last = r.Line
		if len(got.ExtraColumns) > 0 && len(got.Extra[i]) != len(got.ExtraColumns) {
			t.Fatalf("reading %d carries %q for %q", i, got.Extra[i], got.ExtraColumns)
		}
	}
}

// checkAgain writes a table with the columns it has and reads that.
func checkAgain(t *testing.T, got *Table) {
	cols := []role{specimenCol, adhesiveCol, strengthMPaCol, rigLimitedCol, setAsideCol, noteCol, glueOrderCol, breakOrderCol, moistureCol}
	for col, has := range map[role]bool{woodCol: got.HasWood, boardCol: got.HasBoard, sessionCol: got.HasSession, trialCol: got.HasTrial, woodFailureCol: got.HasFailure, failureCol: got.HasFailure} {
		if has {
			cols = append(cols, col)
		}
	}
	text := written(got.Readings, cols, nil, plainDialect)
	again, err := Read(strings.NewReader(text), "again", Options{})
	if err != nil {
		t.Fatalf("%v\nwhen written as %q", err, text)
	}
	if diff := cmp.Diff(got.Readings, again.Readings, ignoringLines); diff != "" {
		t.Fatalf("first read (-), read again (+):\n%s", diff)
	}
}
