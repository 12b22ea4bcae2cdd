package table

import (
	"math"
	"slices"
	"strings"
	"testing"

	"bondtrial"
)

// A column is known under each of these names.
func TestOtherNamesOfMeasures(t *testing.T) {
	for name, want := range map[string]role{
		"force_n": peakNCol, "load_n": peakNCol, "peak_force_n": peakNCol, "max_load_n": peakNCol, "Peak (N)": peakNCol,
		"Max. load at break [N]": peakNCol, "FORCE N": peakNCol,
		"force_kn": peakKNCol, "Peak force (kN)": peakKNCol, "load, kN": peakKNCol, "peak_kn": peakKNCol,
		"force_lbf": peakLbfCol, "Peak force (lbf)": peakLbfCol, "max load (lbf)": peakLbfCol,
		"load_kgf": peakKgfCol, "Breaking load [kgf]": peakKgfCol,
		"stress_mpa": strengthMPaCol, "Shear strength (MPa)": strengthMPaCol, "Bond strength / MPa": strengthMPaCol,
		"strength_n/mm2": strengthMPaCol, "Shear stress (N/mm²)": strengthMPaCol, "strength N/mm^2": strengthMPaCol, "strength_n_mm2": strengthMPaCol,
		"stress_psi": strengthPSICol, "shear_strength_psi": strengthPSICol,
		"area_mm2": areaCol, "Area (mm²)": areaCol, "Bonded area (sq mm)": areaCol, "Area mm^2": areaCol,
		"AREA (CM²)": areaCm2Col, "area_cm2": areaCm2Col,
		"area_in2": areaIn2Col, "Area [in²]": areaIn2Col, "Glue area, sq. in.": areaIn2Col, "area (in^2)": areaIn2Col,
		// What is something else, or does not say its unit, is not known.
		"force": noRole, "clamp_force_n": noRole, "old_peak_n": noRole, "wood_strength_mpa": noRole, "strength_n": noRole, "load_mpa": noRole,
		"force_lb": noRole, "max_load_kg": noRole, "area": noRole, "area_m2": noRole, "wood_failure_area_mm2": noRole, "n": noRole, "mpa": noRole, "max_n": noRole,
	} {
		if got := roleOf(normalise(name)); got != want {
			t.Errorf("%q is column %d, want %d", name, got, want)
		}
	}
}

// The conversion factors are those of NIST SP 811, appendix B.8 (from memory,
// unconfirmed); the areas are exact: an inch is 25.4 mm, so 1 in² is 645.16 mm².
func TestUnitsUnderOtherNames(t *testing.T) {
	for _, c := range []struct {
		header, row string
		area        float64
		want        float64 // MPa
	}{
		{"Peak force (kN)", "4", 400, 10},
		{"Stress (N/mm²)", "8.1", 0, 8.1},
		{"Load (N),Area (cm²)", "4000,4", 0, 10},
		{"Load (N),Area (in²)", "6451.6,1", 0, 10},
		{"Load (lbf),Area (in²)", "1000,1", 0, 6.894757},
		{"Load (N),Area (in²)", "4000,", 400, 10}, // blank: the area given
	} {
		got := mustRead(t, "Adhesive,"+c.header+"\nTarn,"+c.row+"\n", Options{AreaMM2: c.area})
		// The printed factor has seven digits: 1 in the last is 1.5e-7.
		if s := float64(got.Readings[0].Strength); math.Abs(s-c.want) > 1.5e-7*c.want {
			t.Errorf("%s %s: %v MPa, want %v", c.header, c.row, s, c.want)
		}
	}
}

func TestNotesNameColumnsAsWritten(t *testing.T) {
	got := mustRead(t, "adhesive,Max load (lbf),Bond area (in²)\nTarn,800,1\n", Options{})
	if want := "strength is 'Max load (lbf)' over 'Bond area (in²)'"; !slices.Contains(got.Notes, want) {
		t.Errorf("%q is not among the notes %q", want, got.Notes)
	}
}

func TestTwoColumnsThatMeanTheSame(t *testing.T) {
	for _, c := range []struct{ header, want string }{
		{"adhesive,peak_n,Load (N),area_mm2", `t.csv:1: column "Load (N)": means the same as 'peak_n': keep one, and remove the other or give it another name`},
		{"adhesive,stress_mpa,Strength (N/mm²)", `t.csv:1: column "Strength (N/mm²)": means the same as 'stress_mpa': keep one, and remove the other or give it another name`},
		{"adhesive,Stress (MPa),Stress (psi)", `t.csv:1: 'Stress (MPa)' and 'Stress (psi)' each give the strength: keep 'Stress (MPa)', and remove the others or give them names like old_strength_psi`},
		{"adhesive,peak_n,area_mm2,Area (in²)", `t.csv:1: area_mm2 and area_in2 each give the bonded area: keep one, and remove the others or give them names like old_area_in2`},
	} {
		if got := problemsOf(t, c.header+"\n"+strings.Repeat("9,", strings.Count(c.header, ","))+"9\n", Options{}); got != c.want {
			t.Errorf("%s: got\n%s\nwant\n%s", c.header, got, c.want)
		}
	}
}

// A column that the answer would miss is not passed over because of its name.
func TestNamesThatAreNearlyRead(t *testing.T) {
	for column, meant := range map[string]string{
		"Species": "wood", "timber": "wood", "Wood species": "wood", "type of wood": "wood", "woods": "wood", "Lumber": "wood", "tree species": "wood",
		"bord": "board", "board_no": "board", "Board ID": "board", "plank": "board", "Plank no.": "board", "boards": "board",
		"Test day": "session", "sesion": "session", "trail": "trial", "Trial no": "trial",
		"MC (%)": "moisture_pct", "Moisture content (%)": "moisture_pct", "moisture": "moisture_pct", "glued order": "glue_order", "breakorder": "break_order",
		"wood_failure": "wood_failure_pct", "Wood failure percent": "wood_failure_pct", "wf": "wood_failure_pct", "% wood": "wood_failure_pct",
		"failures": "failure", "Failure mode": "failure", "rig limit": "rig_limited", "setaside": "set_aside",
	} {
		got := problemsOf(t, "adhesive,strength_mpa,"+column+"\nTarn,8,20\n", Options{})
		want := `t.csv:1: column "` + column + `": is not read under this name: name it ` + meant + ` if that is meant, otherwise give it another name`
		if got != want {
			t.Errorf("got\n%s\nwant\n%s", got, want)
		}
	}
	for _, c := range []struct{ name, text string }{
		{"what is there already is not meant", "adhesive,wood,board,strength_mpa,glue,species,plank\nTarn,ash,1,8,x,x,x\n"},
		{"words of their own", "adhesive,strength_mpa,room,operator,date,glue_date,food,clamp_force_n,strength_kpa,comment,notes\nTarn,8,,,,,,,,,\n"},
		{"a failure in words beside the share", "adhesive,strength_mpa,wood_failure_pct,failure mode\nTarn,8,20,mixed\n"},
	} {
		if _, err := Read(strings.NewReader(c.text), "t.csv", Options{}); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	if _, err := Read(strings.NewReader("adhesive,strength_mpa,species\nTarn,8,ash\n"), "t.csv", Options{Factors: []string{"species"}}); err != nil {
		t.Errorf("a factor: %v", err)
	}
}

// Whatever is wrong with a header is said at once.
func TestAllProblemsOfAHeaderAtOnce(t *testing.T) {
	got := problemsOf(t, "Glue,Timber,bord,Strength,wf,Load (N)\nTarn,ash,1,8,20,900\n", Options{})
	want := `t.csv:1: column "Strength": does not say its unit, and a unit is never guessed: name the column ` + strengthChoice + "\n" +
		`t.csv:1: column "Load (N)": a force needs the bonded area: add a column area_mm2, area_cm2 or area_in2, or give one area for all readings with --area, in mm²` + "\n" +
		`t.csv:1: column adhesive is missing; the header has: Glue, Timber, bord, Strength, wf, Load (N); if 'Glue' is meant, name it adhesive` + "\n" +
		`t.csv:1: column "Timber": is not read under this name: name it wood if that is meant, otherwise give it another name` + "\n" +
		`t.csv:1: column "bord": is not read under this name: name it board if that is meant, otherwise give it another name` + "\n" +
		`t.csv:1: column "wf": is not read under this name: name it wood_failure_pct if that is meant, otherwise give it another name`
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// Columns under names that are nearly right are looked through in the same run.
func TestRowsUnderNamesThatAreNearlyRead(t *testing.T) {
	got := problemsOf(t, "Glue,Species,Strength\nTarn,ash,8\ntarn,,x\n", Options{})
	want := `t.csv:1: column "Strength": does not say its unit, and a unit is never guessed: name the column ` + strengthChoice + "\n" +
		`t.csv:1: column adhesive is missing; the header has: Glue, Species, Strength; if 'Glue' is meant, name it adhesive` + "\n" +
		`t.csv:1: column "Species": is not read under this name: name it wood if that is meant, otherwise give it another name` + "\n" +
		`t.csv:3: column "Glue": value "tarn": differs only in case or spacing from "Tarn" on line 2: write one name in one way` + "\n" +
		`t.csv:3: column "Species": blank: name the wood, or leave the column out` + "\n" +
		`t.csv:3: column "Strength": value "x": not a number`
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestForceWithoutAnArea(t *testing.T) {
	// A page has fields and no options.
	if got := problemsOf(t, "adhesive,peak_n\nTarn,2310\n", Options{OnPage: true}); strings.Contains(got, "--") || !strings.HasSuffix(got, "or fill in Bonded area, in mm², which then goes for all readings") {
		t.Errorf("on a page: %s", got)
	}
	const needs, give = "a force needs the bonded area: ", "or give one area for all readings with --area, in mm²"
	for column, want := range map[string]string{
		"":              "add a column area_mm2, area_cm2 or area_in2, ",
		"Bond area":     "'Bond area' may hold it: name it area_mm2, area_cm2 or area_in2, by its unit, ",
		"area":          "'area' may hold it: name it area_mm2, area_cm2 or area_in2, by its unit, ",
		"area of joint": "'area of joint' may hold it: name it area_mm2, area_cm2 or area_in2, by its unit, ",
		"aera_mm2":      "'aera_mm2' may hold it: name it area_mm2, area_cm2 or area_in2, by its unit, ",
	} {
		text := "adhesive,Force (N)," + column + "\nTarn,800,400\n"
		if column == "" {
			text = "adhesive,Force (N)\nTarn,800\n"
		}
		want = `t.csv:1: column "Force (N)": ` + needs + want + give
		if got := problemsOf(t, text, Options{}); got != want {
			t.Errorf("%q: got\n%s\nwant\n%s", column, got, want)
		}
	}
	got := mustRead(t, "adhesive,peak_n,area,failure\nTarn,800,1,CF\n", Options{AreaMM2: 400})
	if want := "column 'area' is not used: the bonded area is the one given"; !slices.Contains(got.Warnings, want) || got.Readings[0].Strength != 2 {
		t.Errorf("%q is not among %q", want, got.Warnings)
	}
}

// A line above the header does not hide the rest.
func TestTitleAboveTheHeader(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"one line", "Bench trial 2026,,\nadhesive,wood,strength_mpa\nTarn,ash,8\n",
			`t.csv:1: value "Bench trial 2026": the header must be the first line, and line 2 looks like it: delete what stands above, or begin it with #`},
		{"several lines, another separator", "Bench trial, 2026\nat home\n\nadhesive;wood;strength_mpa\nTarn;ash;8,1\n",
			`t.csv:1: value "Bench trial": the header must be the first line, and line 4 looks like it: delete what stands above, or begin it with #`},
		{"the rest is looked at too", "# a remark\nWood,,\nGlue,Timber,Strength (MPa)\nTarn,ash,x\n",
			`t.csv:2: value "Wood": the header must be the first line, and line 3 looks like it: delete what stands above, or begin it with #` + "\n" +
				`t.csv:3: column adhesive is missing; the header has: Glue, Timber, Strength (MPa); if 'Glue' is meant, name it adhesive` + "\n" +
				`t.csv:3: column "Timber": is not read under this name: name it wood if that is meant, otherwise give it another name` + "\n" +
				`t.csv:4: column "Strength (MPa)": value "x": not a number`},
		{"too far below", "a\nb\n" + strings.Repeat("c\n", 30) + "adhesive,strength_mpa\nTarn,8\n",
			`t.csv:1: no column gives the strength: name one ` + strengthChoice + "; the header has: a\n" +
				`t.csv:1: column adhesive is missing; the header has: a; no comma, semicolon or tab separates columns in it`},
	} {
		if got := problemsOf(t, c.text, Options{}); got != c.want {
			t.Errorf("%s: got\n%s\nwant\n%s", c.name, got, c.want)
		}
	}
	// What stands below a header is no header.
	mustRead(t, "adhesive,strength_mpa,a,b\nTarn,8,wood,board\n", Options{})
}

// Every accepted unit leads to the same strength as its value in N and mm².
func TestEveryUnitAgreesWithNewtonAndSquareMillimetre(t *testing.T) {
	newton := map[role]float64{peakNCol: 1, peakKNCol: 1000, peakLbfCol: bondtrial.NewtonPerPoundForce, peakKgfCol: bondtrial.NewtonPerKilogramForce}
	square := map[role]float64{areaCol: 1, areaCm2Col: 100, areaIn2Col: 645.16}
	for force, n := range newton {
		for area, mm2 := range square {
			got := mustRead(t, "adhesive,"+force.String()+","+area.String()+"\nTarn,7,3\n", Options{})
			// A handful of roundings.
			if s, want := float64(got.Readings[0].Strength), 7*n/(3*mm2); math.Abs(s-want) > 1e-15*want {
				t.Errorf("7 %s over 3 %s: %v MPa, want %v", force, area, s, want)
			}
		}
	}
}

// A table may have German columns.
func TestGermanColumns(t *testing.T) {
	tab := mustRead(t, "Leim;Holz;Kraft (N);Klebfläche (mm²);Holzbruch (%);Bemerkung\nTarn;Esche;2310,5;250;20;sauber\n", Options{})
	r := tab.Readings[0]
	// 2310.5 N over 250 mm².
	if r.Adhesive != "Tarn" || r.Wood != "Esche" || r.Strength != 2310.5/250 || r.WoodFailure != 20 || r.Note != "sauber" {
		t.Errorf("%+v", r)
	}
	want := `t.csv:1: column "Bruchlast": does not say its unit`
	if got := problemsOf(t, "Kleber,Bruchlast,area_mm2\nTarn,2310,250\n", Options{}); !strings.HasPrefix(got, want) {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
