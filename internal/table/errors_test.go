package table

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
)

// problemsOf reads a text that must be refused and returns its message.
func problemsOf(t *testing.T, text string, opt Options) string {
	t.Helper()
	table, err := Read(strings.NewReader(text), "t.csv", opt)
	if err == nil {
		t.Fatalf("read without an error: %+v", table)
	}
	if table != nil {
		t.Error("a table beside an error")
	}
	var list *Errors
	if !errors.As(err, &list) || len(list.Problems) == 0 {
		t.Fatalf("the error is %T %v, want *Errors with problems", err, err)
	}
	return err.Error()
}

const strengthChoice = "strength_mpa, strength_psi, peak_n, peak_kn, peak_lbf or peak_kgf"

// Each refusal with the whole message, as the person reads it.
func TestHeaderProblems(t *testing.T) {
	for _, c := range []struct {
		name, text string
		opt        Options
		want       string
	}{
		{"empty", "", Options{}, "t.csv: the file is empty: it needs a header that names the columns, and one row for each specimen"},
		{"blank lines only", "\n \r\n\t\n", Options{}, "t.csv: the file is empty: it needs a header that names the columns, and one row for each specimen"},
		{"comments only", "# a trial\n", Options{}, "t.csv: the file holds no table: it needs a header that names the columns, and one row for each specimen"},
		{"header only", "adhesive,strength_mpa\n", Options{}, "t.csv: there is a header and no reading: add one row for each specimen"},
		{"header and empty rows", "adhesive,strength_mpa\n,\n\n", Options{}, "t.csv: there is a header and no reading: add one row for each specimen"},
		{"no adhesive", "specimen,strength_mpa\nA,8.1\n", Options{}, "t.csv:1: column adhesive is missing; the header has: specimen, strength_mpa"},
		{"near miss of adhesive", "adhesiv,strength_mpa\nTarn,8.1\n", Options{}, "t.csv:1: column adhesive is missing; the header has: adhesiv, strength_mpa; if 'adhesiv' is meant, name it adhesive"},
		{"another word for adhesive", "Glue,strength_mpa\nTarn,8.1\n", Options{}, "t.csv:1: column adhesive is missing; the header has: Glue, strength_mpa; if 'Glue' is meant, name it adhesive"},
		{"no strength", "adhesive,wood\nTarn,ash\n", Options{}, "t.csv:1: no column gives the strength: name one " + strengthChoice + "; the header has: adhesive, wood"},
		{"a strength in another unit", "adhesive,strength_kpa\nTarn,ash\n", Options{}, "t.csv:1: no column gives the strength: name one " + strengthChoice + "; the header has: adhesive, strength_kpa; 'strength_kpa' is not one of these: convert it if need be, and rename it"},
		{"a near miss of a strength", "adhesive,stregth_mpa\nTarn,8\n", Options{}, "t.csv:1: no column gives the strength: name one " + strengthChoice + "; the header has: adhesive, stregth_mpa; if 'stregth_mpa' is meant, name it strength_mpa"},
		{"no unit", "adhesive,Strength\nTarn,8.1\n", Options{}, "t.csv:1: column \"Strength\": does not say its unit, and a unit is never guessed: name the column " + strengthChoice},
		{"no unit, more words", "adhesive,Max. load at break\nTarn,8.1\n", Options{}, "t.csv:1: column \"Max. load at break\": does not say its unit, and a unit is never guessed: name the column " + strengthChoice},
		{"no unit beside a strength", "adhesive,strength_mpa,force\nTarn,8.1,400\n", Options{}, "t.csv:1: column \"force\": does not say its unit, and a unit is never guessed: name the column " + strengthChoice},
		{"no header", "Tarn,8.1\nTarn,8.2\n", Options{}, "t.csv:1: no column gives the strength: name one " + strengthChoice + "; the header has: Tarn, 8.1\n" +
			"t.csv:1: column adhesive is missing; the header has: Tarn, 8.1"},
		{"another separator", "adhesive|strength_mpa\nTarn|8.1\n", Options{}, "t.csv:1: no column gives the strength: name one " + strengthChoice + "; the header has: adhesive|strength_mpa\n" +
			"t.csv:1: column adhesive is missing; the header has: adhesive|strength_mpa; no comma, semicolon or tab separates columns in it"},
		{"a column twice", "adhesive,Strength (MPa),strength_mpa\nTarn,8.1,8.2\n", Options{}, "t.csv:1: column \"strength_mpa\": is there twice, as columns 2 and 3: keep one, or give them different names"},
		{"an unknown column twice", "adhesive,strength_mpa,room,Room\nTarn,8.1,1,1\n", Options{}, "t.csv:1: column \"Room\": is there twice, as columns 3 and 4: keep one, or give them different names"},
		{"two strengths", "adhesive,strength_psi,strength_mpa\nTarn,1200,8.1\n", Options{}, "t.csv:1: strength_mpa and strength_psi each give the strength: keep strength_mpa, and remove the others or give them names like old_strength_psi"},
		{"strength and peak, without an area", "adhesive,strength_mpa,peak_n\nTarn,8.1,3000\n", Options{}, "t.csv:1: strength_mpa and peak_n each give the strength: keep strength_mpa, and remove the others or give them names like old_peak_n"},
		{"strength and peak, with an area", "adhesive,strength_mpa,peak_n\nTarn,8.1,3000\n", Options{AreaMM2: 400}, "t.csv:1: strength_mpa and peak_n each give the strength: keep peak_n, and remove the others or give them names like old_peak_n"},
		{"pounds", "adhesive,Load (lbs)\nTarn,80\n", Options{}, "t.csv:1: no column gives the strength: name one " + strengthChoice + "; the header has: adhesive, Load (lbs); if the pounds of 'Load (lbs)' are pound-force, name it peak_lbf"},
		{"kilograms", "adhesive,Load (kg)\nTarn,80\n", Options{}, "t.csv:1: no column gives the strength: name one " + strengthChoice + "; the header has: adhesive, Load (kg); if the kilograms of 'Load (kg)' are kilogram-force, name it peak_kgf"},
		{"peak without an area", "adhesive,peak_lbf\nTarn,800\n", Options{}, "t.csv:1: column \"peak_lbf\": a force needs the bonded area: add a column area_mm2, area_cm2 or area_in2, or give one area for all readings with --area, in mm²"},
		{"an impossible area", "adhesive,peak_n\nTarn,800\n", Options{AreaMM2: -400}, "t.csv: the bonded area that was given, -400 mm², must be a number greater than 0"},
		{"a factor that is missing", "adhesive,strength_mpa\nTarn,8.1\n", Options{Factors: []string{"prep"}}, "t.csv:1: column \"prep\" was named as a factor and is missing; the header has: adhesive, strength_mpa"},
		{"a factor with a meaning", "adhesive,strength_mpa,wood\nTarn,8.1,ash\n", Options{Factors: []string{"Wood"}}, "t.csv: wood cannot be a factor: the column has a meaning of its own in a trial"},
		{"a factor twice", "adhesive,strength_mpa,prep\nTarn,8.1,dry\n", Options{Factors: []string{"prep", "Prep"}}, "t.csv: the factor \"Prep\" was asked for twice"},
		{"a factor without a name", "adhesive,strength_mpa\nTarn,8.1\n", Options{Factors: []string{" "}}, "t.csv: a factor without a name was asked for: give the name of a column"},
		{"a quotation mark in the header", "adhesive,\"strength\" (mpa)\nTarn,8.1\n", Options{}, "t.csv:1: value \"strength (mpa)\": in the header: text after the closing quotation mark: write a quotation mark inside a quoted field twice"},
		{"a control character in the header", "adhesive,strength_mpa,ro\x1bom\nTarn,8.1,1\n", Options{}, "t.csv:1: column \"ro\\x1bom\": an invisible control character: remove it"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := problemsOf(t, c.text, c.opt); got != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", got, c.want)
			}
		})
	}
}

// Each row is read with the header "specimen,adhesive,wood,board,strength_mpa,
// wood_failure_pct,failure,rig_limited,set_aside,glue_order,moisture_pct".
func TestRowProblems(t *testing.T) {
	const header = "specimen,adhesive,wood,board,strength_mpa,wood_failure_pct,failure,rig_limited,set_aside,glue_order,moisture_pct\n" +
		"A1,Tarn,ash,1,8.1,20,CF,no,,1,11.5\n"
	const codes = "the ISO 10365 codes are SF, CSF, CF, SCF, AF, ACFP, DF"
	for _, c := range []struct{ name, row, want string }{
		{"too few fields", "A2,Tarn,ash", "t.csv:3: expected 11 fields, as in the header, and found 3: each column needs a field, blank where there is no value"},
		{"too many fields", "A2,Tarn,ash,1,8,1,20,CF,,,,", "t.csv:3: expected 11 fields, as in the header, and found 12: enclose a value that holds a comma in quotation marks, and write numbers with a decimal point"},
		{"another separator", "A2;Tarn;ash;1;8.1;20;CF;no;;;", "t.csv:3: mixed separators: the header is separated by commas and this row by semicolons: use one throughout"},
		{"specimen twice", "A1,Tarn,ash,1,8.1,20,,,,,", `t.csv:3: column "specimen": value "A1": is on line 2 too: each specimen has one row and a code of its own`},
		{"specimen blank", ",Tarn,ash,1,8.1,20,,,,,", `t.csv:3: column "specimen": blank: give each specimen a code, or leave the column out`},
		{"adhesive blank", "A2,,ash,1,8.1,20,,,,,", `t.csv:3: column "adhesive": blank: name the adhesive`},
		{"adhesive spelled otherwise", "A2,tarn,ash,1,8.1,20,,,,,", `t.csv:3: column "adhesive": value "tarn": differs only in case or spacing from "Tarn" on line 2: write one name in one way`},
		{"wood blank", "A2,Tarn,,1,8.1,20,,,,,", `t.csv:3: column "wood": blank: name the wood, or leave the column out`},
		{"wood spelled otherwise", "A2,Tarn,Ash,1,8.1,20,,,,,", `t.csv:3: column "wood": value "Ash": differs only in case or spacing from "ash" on line 2: write one name in one way`},
		{"board blank", "A2,Tarn,ash, ,8.1,20,,,,,", `t.csv:3: column "board": blank: name the board that the specimen was cut from, or leave the column out`},
		{"strength blank", "A2,Tarn,ash,1,,20,,,,,", `t.csv:3: column "strength_mpa": blank: write what was read, or give a reason in set_aside`},
		{"strength zero", "A2,Tarn,ash,1,0.0,20,,,,,", `t.csv:3: column "strength_mpa": value "0.0": must be greater than 0; a specimen that came apart before the test is set aside with that reason`},
		{"strength negative", "A2,Tarn,ash,1,-8.1,20,,,,,", `t.csv:3: column "strength_mpa": value "-8.1": must be greater than 0; a specimen that came apart before the test is set aside with that reason`},
		{"strength no number", "A2,Tarn,ash,1,strong,20,,,,,", `t.csv:3: column "strength_mpa": value "strong": not a number`},
		{"strength missing mark", "A2,Tarn,ash,1,n/a,20,,,,,", `t.csv:3: column "strength_mpa": value "n/a": not a number: leave the field blank where nothing was measured, and give the reason in set_aside`},
		{"strength with a unit", "A2,Tarn,ash,1,8.1 MPa,20,,,,,", `t.csv:3: column "strength_mpa": value "8.1 MPa": text after the number: write the number alone; the unit belongs in the column's name`},
		{"strength as a bound", "A2,Tarn,ash,1,>8.1,20,,,,,", `t.csv:3: column "strength_mpa": value ">8.1": write the number that was reached, 8.1, alone; that the bond held more is told by failure or wood_failure_pct where the wood gave way, by rig_limited where the rig did`},
		{"strength with a decimal comma", "A2,Tarn,ash,1,\"8,1\",20,,,,,", `t.csv:3: column "strength_mpa": value "8,1": a decimal comma in a file separated by commas: write a decimal point, like 8.1, or separate the columns by semicolons`},
		{"strength with thousands", "A2,Tarn,ash,1,\"1,234.5\",20,,,,,", `t.csv:3: column "strength_mpa": value "1,234.5": a thousands separator, or two decimal marks: write the number without separators and with one decimal mark, like 1234.5, or 1234,5 in a file with decimal commas`},
		{"strength in hexadecimal", "A2,Tarn,ash,1,0x8,20,,,,,", `t.csv:3: column "strength_mpa": value "0x8": not a plain decimal number: write it like 8.1 or 8.1e3`},
		{"strength beyond numbers", "A2,Tarn,ash,1,1e999,20,,,,,", `t.csv:3: column "strength_mpa": value "1e999": too large for a number`},
		{"came apart, all blank", "A2,Tarn,ash,1,,,,,,,", `t.csv:3: column "strength_mpa": blank: write what was read, or give a reason in set_aside`},
		{"share above 100", "A2,Tarn,ash,1,8.1,120,,,,,", `t.csv:3: column "wood_failure_pct": value "120": a share in percent is from 0 to 100`},
		{"share below 0", "A2,Tarn,ash,1,8.1,-1%,,,,,", `t.csv:3: column "wood_failure_pct": value "-1%": a share in percent is from 0 to 100`},
		{"share of nothing", "A2,Tarn,ash,1,8.1,%,,,,,", `t.csv:3: column "wood_failure_pct": value "%": not a number`},
		{"failure not recorded", "A2,Tarn,ash,1,8.1,,,,,,", `t.csv:3: column "wood_failure_pct": blank, and failure too: write 0 where the bond broke with no wood on the faces`},
		{"failure unknown", "A2,Tarn,ash,1,8.1,,WF,,,,", `t.csv:3: column "failure": value "WF": unknown failure code; ` + codes},
		{"rig limit unclear", "A2,Tarn,ash,1,8.1,20,,maybe,,,", `t.csv:3: column "rig_limited": value "maybe": write yes or no; blank is no`},
		{"set aside without a reason", "A2,Tarn,ash,1,8.1,20,,,yes,,", `t.csv:3: column "set_aside": value "yes": not a reason: write why the reading is not used, like slipped in the grips`},
		{"set aside says no", "A2,Tarn,ash,1,8.1,20,,,no,,", `t.csv:3: column "set_aside": value "no": not a reason: leave the field blank where the reading is used`},
		{"set aside, wood blank", "A2,Tarn,,1,,,,,slipped,,", `t.csv:3: column "wood": blank: name the wood, or leave the column out`},
		{"set aside, strength unreadable", "A2,Tarn,ash,,x,,,,slipped,,", `t.csv:3: column "strength_mpa": value "x": not a number`},
		{"set aside, strength negative", "A2,Tarn,ash,,-1,,,,slipped,,", `t.csv:3: column "strength_mpa": value "-1": must be greater than 0; a specimen that came apart before the test is set aside with that reason`},
		{"position no whole number", "A2,Tarn,ash,1,8.1,20,,,,2.5,", `t.csv:3: column "glue_order": value "2.5": a position is a whole number from 1`},
		{"position zero", "A2,Tarn,ash,1,8.1,20,,,,0,", `t.csv:3: column "glue_order": value "0": a position is a whole number from 1`},
		{"position twice", "A2,Tarn,ash,1,8.1,20,,,,1,", `t.csv:3: column "glue_order": value "1": is on line 2 too: a position is taken once, or left blank`},
		{"moisture above 100", "A2,Tarn,ash,1,8.1,20,,,,,101", `t.csv:3: column "moisture_pct": value "101": a share in percent is from 0 to 100`},
		{"a quotation mark in a field", "A2,3\" Tarn,ash,1,8.1,20,,,,,", `t.csv:3: column "adhesive": value "3\" Tarn": a quotation mark inside a field: enclose the whole field in quotation marks and write the mark inside it twice`},
		{"a space before a quoted field", "A2, \"Tarn\",ash,1,8.1,20,,,,,", `t.csv:3: column "adhesive": value "\"Tarn\"": a space before the quotation mark: a quoted field begins right after the separator`},
		{"text after a quoted field", "A2,\"Tarn\"2,ash,1,8.1,20,,,,,", `t.csv:3: column "adhesive": value "Tarn2": text after the closing quotation mark: write a quotation mark inside a quoted field twice`},
		{"a quotation mark left open", "A2,\"Tarn,ash,1,8.1,20,,,,,\nA3,Tarn", `t.csv:3: column "adhesive": value "Tarn,ash,1,8.1,20,,,,,": the quotation mark opened here is never closed, so nothing after it could be read: close it, or write a mark inside a quoted field twice`},
		{"a control character", "A2,Ta\x07rn,ash,1,8.1,20,,,,,", `t.csv:3: column "adhesive": value "Ta\arn": an invisible control character: remove it`},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := problemsOf(t, header+c.row+"\n", Options{}); got != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", got, c.want)
			}
		})
	}
}

func TestMoreProblems(t *testing.T) {
	for _, c := range []struct {
		name, text string
		opt        Options
		want       string
	}{
		{"session blank", "adhesive;strength_mpa;session\nTarn;8;\n", Options{},
			`t.csv:2: column "session": blank: name the session, or leave the column out`},
		{"trial blank", "adhesive;strength_mpa;trial\nTarn;8;\n", Options{},
			`t.csv:2: column "trial": blank: name the trial, or leave the column out`},
		{"board spelled otherwise within its wood", "adhesive;strength_mpa;wood;board\nTarn;8;ash;B1\nTarn;8;larch;b1\nTarn;8;ash;b-1\n", Options{},
			`t.csv:4: column "board": value "b-1": differs only in case or spacing from "B1" on line 2: write one name in one way`},
		{"only a failure code", "adhesive;strength_mpa;failure\nTarn;8;\n", Options{},
			`t.csv:2: column "failure": blank: write how the joint failed, like CF where the bond broke and SF where the wood did`},
		{"only a share", "adhesive;strength_mpa;wood_failure_pct\nTarn;8;\n", Options{},
			`t.csv:2: column "wood_failure_pct": blank: write 0 where the bond broke with no wood on the faces`},
		{"factor blank", "adhesive;strength_mpa;prep\nTarn;8;\n", Options{Factors: []string{"prep"}},
			`t.csv:2: column "prep": blank: give the level of the factor`},
		{"factor spelled otherwise", "adhesive;strength_mpa;prep\nTarn;8;dry\nTarn;8;Dry\n", Options{Factors: []string{"prep"}},
			`t.csv:3: column "prep": value "Dry": differs only in case or spacing from "dry" on line 2: write one name in one way`},
		{"area blank", "adhesive;peak_n;area_mm2\nTarn;800;400\nTarn;800;\n", Options{},
			`t.csv:3: column "area_mm2": blank: write the bonded area, or give one area for all readings with --area, in mm²`},
		{"area zero", "adhesive;peak_n;area_mm2\nTarn;800;0\n", Options{AreaMM2: 400},
			`t.csv:2: column "area_mm2": value "0": must be greater than 0`},
		{"a stress beyond numbers", "adhesive;peak_kgf;area_mm2\nTarn;1e308;1\nTarn;1e-300;1e300\n", Options{},
			"t.csv:2: column \"peak_kgf\": value \"1e308\": too small or too large to be a strength: it would be +Inf MPa\n" +
				"t.csv:3: column \"peak_kgf\": value \"1e-300\": too small or too large to be a strength: it would be 0 MPa"},
		{"a value under no name", "adhesive;strength_mpa;;\nTarn;8;;\nTarn;8;;x\nTarn;8;;y\n", Options{},
			`t.csv:3: value "x": column 4 has no name in the header and a value here: name it or clear it`},
		{"too many fields, semicolons", "adhesive;strength_mpa\nTarn;8;;\n", Options{},
			"t.csv:2: expected 2 fields, as in the header, and found 4: enclose a value that holds a separator in quotation marks, and name every column"},
		{"semicolons in the header, commas below", "adhesive;strength_mpa\nTarn,8.1\nFell,8.2\n", Options{},
			"t.csv:2: mixed separators: the header is separated by semicolons and this row by commas: use one throughout\n" +
				"t.csv:3: mixed separators: the header is separated by semicolons and this row by commas: use one throughout"},
		{"semicolons and decimal commas under a header with commas", "adhesive,strength_mpa\nTarn;8,1\n", Options{},
			"t.csv:2: commas and semicolons both divide this row as the header: use one throughout, and enclose a value that holds the other in quotation marks"},
		{"decimal marks mixed, commas are rarer", "adhesive;strength_mpa;moisture_pct\nTarn;8.1;12\nTarn;8,1;11.5\nTarn;8;11,5\nTarn;8.2;\n", Options{},
			"t.csv:3: column \"strength_mpa\": value \"8,1\": the file mixes decimal points, as in 8.1, and decimal commas, as in 8,1: write one kind throughout\n" +
				"t.csv:4: column \"moisture_pct\": value \"11,5\": the file mixes decimal points, as in 8.1, and decimal commas, as in 8,1: write one kind throughout"},
		{"decimal marks mixed, points are rarer", "adhesive;strength_mpa\nTarn;8,1\nTarn;8,2\nTarn;8.3\n", Options{},
			`t.csv:4: column "strength_mpa": value "8.3": the file mixes decimal points, as in 8.3, and decimal commas, as in 8,1: write one kind throughout`},
		{"everything at once, in the order of lines", "specimen,adhesive,strength_mpa,wood_failure_pct\nA,Tarn,x,120\nA,tarn,,20\nB\n", Options{},
			"t.csv:2: column \"strength_mpa\": value \"x\": not a number\n" +
				"t.csv:2: column \"wood_failure_pct\": value \"120\": a share in percent is from 0 to 100\n" +
				"t.csv:3: column \"specimen\": value \"A\": is on line 2 too: each specimen has one row and a code of its own\n" +
				"t.csv:3: column \"adhesive\": value \"tarn\": differs only in case or spacing from \"Tarn\" on line 2: write one name in one way\n" +
				"t.csv:3: column \"strength_mpa\": blank: write what was read, or give a reason in set_aside\n" +
				"t.csv:4: expected 4 fields, as in the header, and found 1: each column needs a field, blank where there is no value"},
		{"the line of a field, not of its row", "adhesive,note,strength_mpa\nTarn,\"first\r\nsecond\",x\nTarn,,y\n", Options{},
			"t.csv:3: column \"strength_mpa\": value \"x\": not a number\nt.csv:4: column \"strength_mpa\": value \"y\": not a number"},
		{"lines before the header count", "# made in May\n\nadhesive,strength_mpa\n\n#1,x\n", Options{},
			`t.csv:5: column "strength_mpa": value "x": not a number`},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := problemsOf(t, c.text, c.opt); got != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", got, c.want)
			}
		})
	}
}

func TestNotText(t *testing.T) {
	const ask = "save the table as CSV (UTF-8) and give that file"
	for _, c := range []struct{ name, text, want string }{
		{"workbook", "PK\x03\x04\x14\x00\x06\x00", "t.csv: is a spreadsheet workbook or another zip archive, not a text file: " + ask},
		{"empty archive", "PK\x05\x06", "t.csv: is an empty zip archive, not a text file: " + ask},
		{"old workbook", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\x00", "t.csv: is a spreadsheet workbook or another office document, not a text file: " + ask},
		{"PDF", "%PDF-1.7\n", "t.csv: is a PDF document, not a text file: " + ask},
		{"gzip", "\x1f\x8b\x08", "t.csv: is a gzip archive, not a text file: " + ask},
		{"rich text", "{\\rtf1 adhesive}", "t.csv: is a rich-text document, not a text file: " + ask},
		{"web page", " <!DOCTYPE html><table>", "t.csv: is a web page or XML document, not a table: " + ask},
		{"XML", "\xef\xbb\xbf<?xml version=\"1.0\"?>", "t.csv: is a web page or XML document, not a table: " + ask},
		{"zero byte", "adhesive,strength_mpa\nTarn,8\x001\n", "t.csv:2: holds a zero byte, so it is not a text file: " + ask},
		{"UTF-16 without a mark", "a\x00,\x00\n\x00", "t.csv:1: holds a zero byte, so it is not a text file: " + ask},
		{"zero byte and no UTF-8", "a\xff\n\x00", "t.csv:2: holds a zero byte, so it is not a text file: " + ask},
		{"UTF-32", "\xff\xfe\x00\x00a\x00\x00\x00", "t.csv: is encoded in UTF-32, which is not read: " + ask},
		{"UTF-32, big end first", "\x00\x00\xfe\xff\x00\x00\x00a", "t.csv: is encoded in UTF-32, which is not read: " + ask},
		{"half of UTF-16", "\xff\xfea\x00b", "t.csv: is UTF-16 text with half a character at its end: " + ask},
		{"damaged UTF-16", "\xff\xfea\x00\n\x00\x00\xd8b\x00", "t.csv:2: is damaged UTF-16 text: " + ask},
		{"UTF-16 with a zero", "\xfe\xff\x00a\x00\x00", "t.csv:1: holds a zero byte, so it is not a text file: " + ask},
		{"marked UTF-8, damaged", "\xef\xbb\xbfadhesive\nTarn\xff\n", "t.csv:2: begins as UTF-8 but is damaged here: " + ask},
		{"UTF-8 and another encoding", "adhesive\nCafé\nCaf\xe9\n", "t.csv:3: is not UTF-8 here, while other places are: " + ask},
		{"no known encoding", "adhesive\n\nTarn\x81\xff\n", "t.csv:3: is neither UTF-8 nor Windows-1252 text (byte 0x81): " + ask},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := problemsOf(t, c.text, Options{}); got != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", got, c.want)
			}
		})
	}
}

func TestTooLarge(t *testing.T) {
	text := "adhesive,strength_mpa\nTarn,8.1\n"
	if _, err := Read(strings.NewReader(text), "t.csv", Options{MaxBytes: int64(len(text))}); err != nil {
		t.Errorf("a file of exactly the limit: %v", err)
	}
	want := fmt.Sprintf("t.csv: is larger than %d bytes, too large for a table of readings: give a file with one row for each specimen", len(text)-1)
	if got := problemsOf(t, text, Options{MaxBytes: int64(len(text) - 1)}); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	// The default limit, with a reader that never ends.
	_, err := Read(endless{}, "t.csv", Options{})
	if want := "t.csv: is larger than 64 MiB, too large for a table of readings: give a file with one row for each specimen"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %q", err, want)
	}
}

type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = '\n'
	}
	return len(p), nil
}

func TestFilesThatCannotBeRead(t *testing.T) {
	dir := t.TempDir()
	_, err := ReadFile(filepath.Join(dir, "none.csv"), Options{})
	if !errors.Is(err, fs.ErrNotExist) || !strings.HasPrefix(err.Error(), "cannot open "+filepath.Join(dir, "none.csv")+": ") || strings.Count(err.Error(), "none.csv") != 1 {
		t.Errorf("a missing file: %v", err)
	}
	if _, err := ReadFile(dir, Options{}); err == nil || err.Error() != dir+": is a folder: name a file in it" {
		t.Errorf("a folder: %v", err)
	}
	big := filepath.Join(dir, "big.csv")
	if err := os.WriteFile(big, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(big, DefaultMaxBytes+1); err != nil {
		t.Fatal(err)
	}
	if _, err := ReadFile(big, Options{}); err == nil || !strings.HasPrefix(err.Error(), big+": is larger than 64 MiB") {
		t.Errorf("a large file: %v", err)
	}
	broken := errors.New("unplugged")
	_, err = Read(io.MultiReader(strings.NewReader("adhesive"), iotest.ErrReader(broken)), "t.csv", Options{})
	if !errors.Is(err, broken) || err.Error() != "cannot read t.csv: unplugged" {
		t.Errorf("a reader that fails: %v", err)
	}
}

func TestProblemsAreCountedBeyondTheLimit(t *testing.T) {
	text := "adhesive,strength_mpa\n" + strings.Repeat("Tarn,x\n", MaxProblems+2)
	_, err := Read(strings.NewReader(text), "t.csv", Options{})
	var list *Errors
	if !errors.As(err, &list) || len(list.Problems) != MaxProblems || list.More != 2 {
		t.Fatalf("%d problems and %d more, want %d and 2", len(list.Problems), list.More, MaxProblems)
	}
	if s := err.Error(); !strings.HasSuffix(s, "\nt.csv: and 2 more problems") || strings.Count(s, "\n") != MaxProblems {
		t.Errorf("the message ends %q and has %d lines", s[len(s)-40:], strings.Count(s, "\n"))
	}
}

func TestTooManyRows(t *testing.T) {
	text := "adhesive,strength_mpa\nTarn,8.1\n\nTarn,8.2\nTarn,8.3\nTarn,8.4\n"
	opt := Options{maxReadings: 3}
	if got, want := problemsOf(t, text, opt), "t.csv:6: more than 3 rows: give a file with one row for each specimen"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	opt.maxReadings = 4
	if _, err := Read(strings.NewReader(text), "t.csv", opt); err != nil {
		t.Errorf("a file with exactly as many rows as the limit: %v", err)
	}
}

func TestLongAndOddValuesInMessages(t *testing.T) {
	long := strings.Repeat("é", 100)
	got := problemsOf(t, "adhesive,strength_mpa\nTarn,\""+long+"\"\nTarn,\"a\nb\x1b\"\n", Options{})
	want := `t.csv:2: column "strength_mpa": value "` + strings.Repeat("é", 60) + `…": not a number` + "\n" +
		`t.csv:3: column "strength_mpa": value "a\nb\x1b": an invisible control character: remove it` + "\n" +
		`t.csv:3: column "strength_mpa": value "a b\x1b": not a number`
	if got != want {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
}
