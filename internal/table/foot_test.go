package table

import (
	"strings"
	"testing"
)

// A row that sums up others is one problem, whatever it lacks.
func TestRowsThatSumUp(t *testing.T) {
	const header = "specimen,adhesive,wood,strength_mpa,wood_failure_pct,note\nA1,Tarn,ash,8.1,20,\nA2,Max Bond,ash,8.3,20,\n"
	const advice = `looks like a total or average, not like a specimen: delete the line`
	for _, c := range []struct{ row, value string }{
		{"Average,,,8.2,20,", "Average"},
		{"TOTAL,,,16.4,,", "TOTAL"},
		{"Summe,,,16.4,,", "Summe"},
		{",Mittelwert,,8.2,20,", "Mittelwert"},
		{"Mean:,,,8.2,20,", "Mean:"},
		{",,Sum,16.4,40,", "Sum"},
		{",Average,ash,8.2,20,", "Average"},
		{"A3,Median,ash,8.2,20,", "Median"},
		{"mean,8.2", "mean"}, // fewer fields than the header
		{"Std. dev.,,,0.1,0,", "Std. dev."},
		{"SD,,,0.1,0,", "SD"},
		{"n =,,,2,,", "n ="},
		{"Max,,,8.3,,", "Max"},
		{"Average of all,,,8.2,20,", "Average of all"},
		{",Tarn Average,,8.2,20,", "Tarn Average"},
		{"7,Tarn total,ash,8.2,20,", "Tarn total"}, // Tarn is an adhesive of the table
		{"7,Mean Max Bond,ash,8.2,20,", "Mean Max Bond"},
		{",,,8.2,20,mean", "mean"},
		{"Grand Total,,,8.2,,", "Grand Total"},
	} {
		want := `t.csv:4: value "` + c.value + `": ` + advice
		if got := problemsOf(t, header+c.row+"\n", Options{}); got != want {
			t.Errorf("%s: got\n%s\nwant\n%s", c.row, got, want)
		}
	}
	for _, row := range []string{
		"A3,Max Bond,ash,8,20,", "A4,Total Bond,ash,8,20,mean", "Max,Tarn,ash,8,20,average of two", "n,Tarn,ash,8,20,", "A5,Sumac,larch,8,20,total",
	} {
		if _, err := Read(strings.NewReader(header+row+"\n"), "t.csv", Options{}); err != nil {
			t.Errorf("%s: %v", row, err)
		}
	}
	// A reading that is set aside may lack all other names.
	mustRead(t, "adhesive,board,strength_mpa,set_aside\nMax Bond,,,slipped\n", Options{})
}

// The label of a sum may stand in a column that is not read.
func TestSumInAColumnThatIsNotRead(t *testing.T) {
	const header = "sample,adhesive,wood,strength_mpa\nA1,Tarn,ash,8.1\nmean,Tarn,ash,8.1\n"
	want := `t.csv:4: value "Average": looks like a total or average, not like a specimen: delete the line`
	if got := problemsOf(t, header+"Average,,ash,8.1\n", Options{}); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestRowsWithNumbersAndNoNames(t *testing.T) {
	const header = "specimen,adhesive,wood,strength_mpa\nA1,Tarn,ash,8.1\n"
	want := `t.csv:3: names no specimen, adhesive or wood: delete the line if it is a total or average, otherwise name what was broken`
	if got := problemsOf(t, header+",,,8.1\n", Options{}); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	want = `t.csv:3: expected 4 fields, as in the header, and found 5: enclose a value that holds a comma in quotation marks, and write numbers with a decimal point`
	if got := problemsOf(t, header+",,,8,1\n", Options{}); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	want = `t.csv:2: column "adhesive": blank: name the adhesive`
	if got := problemsOf(t, "adhesive,strength_mpa\n,8\n", Options{}); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
