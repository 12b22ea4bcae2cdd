package table

import (
	"slices"
	"strings"
	"testing"
)

// A comma that can be read two ways is shown both ways.
func TestAmbiguousThousands(t *testing.T) {
	const comma = `a comma that may divide thousands or decimals: write `
	for _, c := range []struct{ name, text, want string }{
		{"commas between columns", "adhesive,strength_psi\nTarn,\"1,610\"\n", `t.csv:2: column "strength_psi": value "1,610": ` + comma + `1610 or 1.610`},
		{"points elsewhere", "adhesive;strength_psi\nTarn;1,610\nTarn;940.5\nTarn;950.5\n", `t.csv:2: column "strength_psi": value "1,610": ` + comma + `1610 or 1.610`},
		{"commas elsewhere", "adhesive;strength_psi\nTarn;1.610\nTarn;940,5\nTarn;950,5\n", `t.csv:2: column "strength_psi": value "1.610": a point that may divide thousands or decimals: write 1610 or 1,610`},
		{"a leading zero is no thousand", "adhesive,strength_mpa\nTarn,\"0,610\"\n", `t.csv:2: column "strength_mpa": value "0,610": ` + wrongComma},
		{"two digits are no thousand", "adhesive,strength_mpa\nTarn,\"1,61\"\n", `t.csv:2: column "strength_mpa": value "1,61": ` + wrongComma},
	} {
		if got := problemsOf(t, c.text, Options{}); got != c.want {
			t.Errorf("%s: got\n%s\nwant\n%s", c.name, got, c.want)
		}
	}
	// Where nothing contradicts it, a comma is decimal; if the strengths are
	// then no strengths, the other reading is pointed out.
	got := mustRead(t, "adhesive;strength_psi;failure\nTarn;1,610;CF\nTarn;1,480;CF\n", Options{})
	want := []string{"the median strength is 0.0111 MPa, far from what glued wood reaches: check the unit in the name 'strength_psi', and whether the commas in the numbers divide thousands"}
	if !slices.Equal(got.Warnings, want) {
		t.Errorf("got %q, want %q", got.Warnings, want)
	}
}

// Whatever stands for a missing value gets the same advice as a blank field.
func TestMissingValues(t *testing.T) {
	const header = "adhesive,peak_n,area_mm2,wood_failure_pct,failure,rig_limited,set_aside,moisture_pct\n"
	for _, mark := range []string{"none", "n/a", "N/A", "#N/A", "-", "–", "?", "NaN", "null", "n.a.", "#DIV/0!", "--", "missing", "blank"} {
		for _, c := range []struct{ row, column, want string }{
			{"Tarn,@,400,20,CF,,,", "peak_n", "not a number: leave the field blank where nothing was measured, and give the reason in set_aside"},
			{"Tarn,900,@,20,CF,,,", "area_mm2", "not a number: write the bonded area, or leave the field blank and give one area for all readings with --area, in mm²"},
			{"Tarn,900,400,@,CF,,,", "wood_failure_pct", "not a number: leave the field blank where nothing was recorded"},
			{"Tarn,900,400,@,,yes,,", "wood_failure_pct", "not a number: leave the field blank where nothing was recorded"},
			{"Tarn,,,@,,,slipped,", "wood_failure_pct", "not a number: leave the field blank where nothing was recorded"},
			{"Tarn,900,400,@,,,,", "wood_failure_pct", "not a number: write 0 where the bond broke with no wood on the faces"},
			{"Tarn,900,400,20,@,,,", "failure", "not a code: leave the field blank where nothing was recorded"},
			{"Tarn,900,400,,@,,,", "failure", "not a code: write how the joint failed, like CF where the bond broke and SF where the wood did"},
			{"Tarn,900,400,20,CF,@,,", "rig_limited", "write yes or no; blank is no"},
			{"Tarn,900,400,20,CF,,@,", "set_aside", "not a reason: leave the field blank where the reading is used"},
			{"Tarn,900,400,20,CF,,,@", "moisture_pct", "not a number: leave the field blank where nothing was recorded"},
		} {
			want := `t.csv:2: column "` + c.column + `": value "` + mark + `": ` + c.want
			if got := problemsOf(t, header+strings.ReplaceAll(c.row, "@", mark)+"\n", Options{}); got != want {
				t.Errorf("got\n%s\nwant\n%s", got, want)
			}
		}
	}
	got := problemsOf(t, "adhesive,strength_mpa,wood_failure_pct\nTarn,8,n/a\n", Options{})
	if want := `t.csv:2: column "wood_failure_pct": value "n/a": not a number: write 0 where the bond broke with no wood on the faces`; got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	got = problemsOf(t, "adhesive,wood,strength_mpa,prep,specimen\n#N/A,#REF!,8,#NAME?,#VALUE!\n", Options{Factors: []string{"prep"}})
	const broken = "an error of the spreadsheet, not a name: mend its formula"
	if want := `t.csv:2: column "specimen": value "#VALUE!": ` + broken + "\n" + `t.csv:2: column "adhesive": value "#N/A": ` + broken + "\n" + `t.csv:2: column "wood": value "#REF!": ` + broken + "\n" +
		`t.csv:2: column "prep": value "#NAME?": ` + broken; got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestNumbersWithASign(t *testing.T) {
	const header = "adhesive,strength_mpa,wood_failure_pct\n"
	const bound = "write the number that was reached, 8.1, alone; that the bond held more is told by failure or wood_failure_pct where the wood gave way, by rig_limited where the rig did"
	for _, c := range []struct{ row, want string }{
		{"Tarn,>8.1,20", `column "strength_mpa": value ">8.1": ` + bound},
		{"Tarn,≥ 8.1,20", `column "strength_mpa": value "≥ 8.1": ` + bound},
		{"Tarn,>= 8.1,20", `column "strength_mpa": value ">= 8.1": ` + bound},
		{"Tarn,<8.1,20", `column "strength_mpa": value "<8.1": write the number that was read, alone, or leave the field blank and give a reason in set_aside`},
		{"Tarn,~8.1,20", `column "strength_mpa": value "~8.1": write the number alone, 8.1`},
		{"Tarn,8,~80", `column "wood_failure_pct": value "~80": write the number alone, 80: the best estimate will do`},
		{"Tarn,8,ca. 80 %", `column "wood_failure_pct": value "ca. 80 %": write the number alone, 80: the best estimate will do`},
		{"Tarn,8,>50", `column "wood_failure_pct": value ">50": write one number alone: the best estimate will do`},
		{"Tarn,8,<5%", `column "wood_failure_pct": value "<5%": write one number alone: the best estimate will do`},
		{"Tarn,8,70-80", `column "wood_failure_pct": value "70-80": two numbers: write one`},
		{"Tarn,8,70 – 80%", `column "wood_failure_pct": value "70 – 80%": two numbers: write one`},
		{"Tarn,8 to 9,70", `column "strength_mpa": value "8 to 9": two numbers: write one`},
		{"Tarn,<,20", `column "strength_mpa": value "<": not a number`},
		{"Tarn,>strong,20", `column "strength_mpa": value ">strong": not a number`},
	} {
		if got := problemsOf(t, header+c.row+"\n", Options{}); got != "t.csv:2: "+c.want {
			t.Errorf("got\n%s\nwant\n%s", got, c.want)
		}
	}
}

// A share is per cent; a fraction is refused, alone or among others.
func TestFractionsInsteadOfPerCent(t *testing.T) {
	read := func(values ...string) error {
		_, err := Read(strings.NewReader("adhesive,strength_mpa,wood_failure_pct\nTarn,8,"+strings.Join(values, "\nTarn,8,")+"\n"), "t.csv", Options{})
		return err
	}
	const want = `t.csv:3: column "wood_failure_pct": value "0.75": less than one: write per cent, 75 and not 0.75; a share below one per cent is written with the sign, as 0.5%`
	for _, values := range [][]string{{"0", "0.75", "1"}, {"1", "0.75", "20"}, {"0", "0.75"}} {
		if err := read(values...); err == nil || err.Error() != want {
			t.Errorf("%q: got\n%v\nwant\n%s", values, err, want)
		}
	}
	for _, values := range [][]string{{"0", "0"}, {"0", "1"}, {"0", "0.5%"}, {"0.5 %", "70"}} {
		if err := read(values...); err != nil {
			t.Errorf("%q: %v", values, err)
		}
	}
}

// A slip of the unit in one row is pointed out, with its line and value.
func TestStrengthsFarFromTheOthers(t *testing.T) {
	const check = ": check the unit and the decimal point there"
	rows := strings.Repeat("Tarn,1200,CF,\n", 5)
	for _, c := range []struct {
		name, text string
		want       []string
	}{
		{"hardly 30 times", "adhesive,strength_psi,failure,set_aside\n" + rows + "Tarn,35990,CF,\nTarn,40.1,CF,\n", nil},
		{"more", "adhesive,strength_psi,failure,set_aside\n" + rows + "Tarn,36001,CF,\nTarn,8.1,CF,\n", []string{
			"more than 30 times the median strength: 36001 on line 7" + check,
			"less than 1/30 of the median strength: 8.1 on line 8" + check}},
		{"set aside", "adhesive,strength_psi,failure,set_aside\n" + rows + "Tarn,8.1,CF,slipped\n", nil},
		{"many", "adhesive,strength_psi,failure,set_aside\n" + strings.Repeat(rows, 3) + strings.Repeat("Tarn,9,CF,\n", 12), []string{
			"less than 1/30 of the median strength: 9 on line 17, 9 on line 18, 9 on line 19, 9 on line 20, 9 on line 21, 9 on line 22, 9 on line 23, 9 on line 24, 9 on line 25, 9 on line 26 and 2 more" + check}},
	} {
		if got := mustRead(t, c.text, Options{}).Warnings; !slices.Equal(got, c.want) {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
	// A force is shown as it stands, and judged by its stress.
	got := mustRead(t, "adhesive,peak_n,area_mm2,failure\nTarn,4000,400,CF\nTarn,4000,400,CF\nTarn,4000,4,CF\n", Options{}).Warnings
	if want := []string{"more than 30 times the median strength: 4000 on line 4" + check}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
