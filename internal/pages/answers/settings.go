package answers

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/record"
	"bondtrial/internal/table"
)

// asked are the settings that an answer is asked with. The address of the page says
// them, so that a link can be passed on.
type asked struct {
	answer.Settings
	Units bondtrial.Units
	query url.Values // those that are not the usual ones
}

// Query writes the settings that are not the usual ones as they stand in an address,
// "" or "?margin=10".
func (a asked) Query() string {
	if len(a.query) == 0 {
		return ""
	}
	return "?" + a.query.Encode()
}

// typed are the settings as they stand in the form.
type typed struct {
	Control, Margin, Threshold, Family, Required, Seed, Draws, Units string
	Pooled                                                           bool
	Wrong                                                            map[string]string // what is wrong with a field, by its name
	Names                                                            []string          // that the control may be one of
}

// Changed reports whether a setting is not the usual one, or wrong.
func (a asked) Changed() bool { return len(a.query) > 0 }

// settings reads the settings of an address. usual is the system of units where it
// does not say. What is wrong is in typed.Wrong, in the words of the command line.
func settings(q url.Values, t *record.Trial, usual bondtrial.Units) (asked, typed) {
	a := asked{Settings: answer.DefaultSettings(), Units: usual, query: make(url.Values)}
	a.Factors = t.Factors()
	in := typed{Control: t.Control(), Margin: "15", Threshold: strconv.FormatFloat(float64(bondtrial.DefaultThreshold), 'f', -1, 64),
		Family: "wood", Seed: "1", Draws: strconv.Itoa(a.Draws), Units: unitsName(usual), Wrong: make(map[string]string), Names: t.Adhesives()}
	for name, to := range map[string]*string{"control": &in.Control, "margin": &in.Margin, "threshold": &in.Threshold, "family": &in.Family,
		"required": &in.Required, "seed": &in.Seed, "draws": &in.Draws, "units": &in.Units} {
		if q.Has(name) {
			*to = strings.TrimSpace(q.Get(name))
		}
	}
	in.Pooled = slices.Contains([]string{"1", "on", "true", "yes"}, q.Get("pooled"))
	a.take(&in, t)
	if !slices.Contains(in.Names, in.Control) && in.Control != "" {
		in.Names = append(slices.Clone(in.Names), in.Control)
	}
	return a, in
}

// take sets what was typed, and notes what is wrong with it.
func (a *asked) take(in *typed, t *record.Trial) {
	wrong := func(field, format string, args ...any) { in.Wrong[field] = fmt.Sprintf(format, args...) }
	other := func(field, value string, usual bool) {
		if !usual {
			a.query.Set(field, value)
		}
	}
	a.Control = adhesiveNamed(in.Control, t)
	in.Control = a.Control
	other("control", a.Control, a.Control == t.Control())
	a.Factors = slices.Clone(a.Factors)

	margin, err := percent(in.Margin)
	switch {
	case err != nil:
		wrong("margin", "%q: write a number of per cent, such as 15", in.Margin)
	case !(margin > 0 && margin < 100):
		wrong("margin", "%v: give per cent above 0 and below 100", margin)
	default:
		a.Margin = margin / 100
		other("margin", number(margin), margin == 15)
	}
	threshold, err := percent(in.Threshold)
	switch {
	case err != nil:
		wrong("threshold", "%q: write a number of per cent, such as 75", in.Threshold)
	case !(threshold > 0 && threshold <= 100):
		wrong("threshold", "%v: give per cent above 0, at most 100", threshold)
	default:
		a.Threshold = bondtrial.Percent(threshold)
		other("threshold", number(threshold), a.Threshold == bondtrial.DefaultThreshold)
	}
	switch in.Family {
	case "wood":
		a.Family = answer.WithinWood
	case "all":
		a.Family = answer.AllWoods
		other("family", "all", false)
	default:
		wrong("family", "%q: write wood or all", in.Family)
	}
	if in.Required != "" {
		if a.Required, err = bondtrial.ParseStress(in.Required); err != nil {
			wrong("required", "%v", err)
		}
		other("required", in.Required, false)
	}
	if a.Seed, err = strconv.ParseUint(in.Seed, 0, 64); err != nil {
		wrong("seed", "%q: write a whole number from 0 on, such as 7", in.Seed)
	}
	other("seed", strconv.FormatUint(a.Seed, 10), a.Seed == 1)
	draws, err := strconv.Atoi(in.Draws)
	if err != nil || draws < leastDraws || draws > mostDraws {
		wrong("draws", "%q: give a whole number from %d to %d", in.Draws, leastDraws, mostDraws)
	} else {
		other("draws", strconv.Itoa(draws), draws == a.Draws)
		a.Draws = draws
	}
	a.PooledScatter = in.Pooled
	other("pooled", "1", !in.Pooled)
	usual := a.Units
	if a.Units, err = bondtrial.ParseUnits(in.Units); err != nil {
		wrong("units", "%v", err)
	}
	in.Units = cmp.Or(in.Units, unitsName(usual))
	other("units", unitsName(a.Units), a.Units == usual)
}

// How many draws may be asked for, as on the command line.
const leastDraws, mostDraws = 4000, 2_000_000

// percent reads 15, 15% or "15 %".
func percent(s string) (float64, error) {
	s, _ = strings.CutSuffix(strings.TrimSpace(s), "%")
	return strconv.ParseFloat(strings.TrimSpace(s), 64)
}

// number writes a number so that reading it gives the same number.
func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func unitsName(u bondtrial.Units) string {
	if u == bondtrial.US {
		return "us"
	}
	return "si"
}

// adhesiveNamed returns the adhesive of the trial that is called name but for
// capitals, or name itself where there is not exactly one.
func adhesiveNamed(name string, t *record.Trial) string {
	name = table.Name(name)
	found := ""
	for _, a := range t.Adhesives() {
		switch a = table.Name(a); {
		case a == name:
			return name
		case !strings.EqualFold(a, name):
		case found != "":
			return name
		default:
			found = a
		}
	}
	return cmp.Or(found, name)
}

// Command is the command line that gives the same answer from a table of the name.
func (a asked) Command(table string) string {
	parts := []string{"bondtrial", "answer", table}
	add := func(flag, value string) {
		if strings.HasPrefix(value, "-") {
			parts = append(parts, flag+"="+value)
		} else {
			parts = append(parts, flag, value)
		}
	}
	if a.Control != "" {
		add("--control", a.Control)
	}
	for _, f := range a.Factors {
		add("--factor", f)
	}
	for _, name := range []string{"margin", "threshold", "family", "required", "seed", "draws"} {
		if a.query.Has(name) {
			add("--"+name, a.query.Get(name))
		}
	}
	if a.PooledScatter {
		parts = append(parts, "--pooled-scatter")
	}
	if a.Units != bondtrial.SI {
		add("--units", unitsName(a.Units))
	}
	for i := range parts {
		parts[i] = quoted(parts[i])
	}
	return strings.Join(parts, " ")
}

// quoted writes an argument as a shell takes it: in double quotes, which every shell
// has, where these keep it as it is; else in single ones, as sh and PowerShell have.
func quoted(s string) string {
	plain := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-_./=", r)
	}
	switch {
	case s != "" && !strings.ContainsFunc(s, func(r rune) bool { return !plain(r) }):
		return s
	case !strings.ContainsAny(s, "\"\\$`!%"):
		return `"` + s + `"`
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}
