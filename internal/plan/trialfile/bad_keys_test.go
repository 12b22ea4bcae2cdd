package trialfile

import "testing"

// Keys that are not known, not there, or there twice. Each refusal with the whole message,
// as the person reads it.
func TestKeyProblems(t *testing.T) { refused(t, keyProblems) }

var keyProblems = []refusal{
	{"a key misspelt", []string{"family = \"polyurethane\"", "familly = \"polyurethane\""},
		"t.toml:9: adhesive \"Fell\": key \"familly\": is not known here: is family meant?"},
	{"a key misspelt that may be left out", []string{"family = \"pva\"\n", "family = \"pva\"\nclmap = \"1 h\"\n"},
		"t.toml:6: adhesive \"Tarn\": key \"clmap\": is not known here: is clamp meant?"},
	{"a key with a word more", []string{"family = \"pva\"\n", "family = \"pva\"\nopen_time = \"5 min\"\n"},
		"t.toml:6: adhesive \"Tarn\": key \"open_time\": is not known here: is open meant?"},
	{"a key with a word less", []string{"name = \"Benches\"", "name = \"Benches\"\nscatter = 12"},
		"t.toml:2: key \"scatter\": is not known here: is scatter_pct meant?"},
	{"a hyphen", []string{"name = \"Benches\"", "name = \"Benches\"\nspecimens-per-cell = 6"},
		"t.toml:2: key \"specimens-per-cell\": is not known here: is specimens_per_cell meant?"},
	{"a key of the top in a section", []string{"clamps = 12\n", "clamps = 12\nseed = 4\n"},
		"t.toml:29: [work]: key \"seed\": is not known here: its place is the top of the file, before the first [section]"},
	{"a key of a section at the top", []string{"name = \"Benches\"", "name = \"Benches\"\nclamps = 3"},
		"t.toml:2: key \"clamps\": is not known here: its place is [work]"},
	{"a key of another section, with a near one", []string{"clamps = 12", "clamps = 12\ncure = \"7 d\""},
		"t.toml:29: [work]: key \"cure\": is not known here: its place is [[adhesive]]"},
	{"a key of another section, with a near one that is missing", []string{"clamps = 12", "clamp = 12"},
		"t.toml:28: [work]: key \"clamp\": is not known here: write clamps, or put it at [[adhesive]]"},
	{"a key that nothing resembles", []string{"joint = \"lap\"", "joint = \"lap\"\ncolour = \"red\""},
		"t.toml:20: [specimen]: key \"colour\": is not known here; the keys here are joint, length_mm, length_in, width_mm, width_in, thickness_mm, thickness_in, overlap_mm, overlap_in, area_mm2, area_in2"},
	{"an unknown section", []string{"[specimen]", "[sheet]\nrows = 3\n\n[specimen]"},
		"t.toml:18: key \"sheet\": is not known here; the keys here are name, question, units, seed, blind, control, smallest_difference_pct, scatter_pct, chance_pct, specimens_per_cell, pairs, adhesive, wood, board, reused, factor, specimen, cutting, work, labels"},
	{"a section misspelt", []string{"[specimen]", "[specimn]"},
		"t.toml:18: key \"specimn\": is not known here: is specimen meant?"},
	{"a section of a section at the top", []string{"clamps = 12\n", "clamps = 12\n[hours]\nmonday = \"9-12\"\n"},
		"t.toml:29: key \"hours\": is not known here: its place is [work]"},
	{"a length without a unit", []string{"length_mm = 900", "length = 900"},
		"t.toml:14: wood \"ash\": key \"length\": does not say its unit: name it length_mm or length_in"},
	{"a length with two units", []string{"width_mm = 120", "width_mm = 120\nwidth_in = 5"},
		"t.toml:16: wood \"ash\": key \"width_in\": value \"5\": says the same as width_mm: keep one of them"},
	{"a key twice", []string{"family = \"pva\"\n", "family = \"pva\"\nfamily = \"epoxy\"\n"},
		"t.toml:6: key \"family\": is there twice, first on line 5: keep one"},
	{"a section twice", []string{"clamps = 12\n", "clamps = 12\n[specimen]\njoint = \"lap\"\n"},
		"t.toml:29: key \"specimen\": is there twice, first on line 18: keep one"},
	{"a single section with two brackets", []string{"[work]", "[[work]]"},
		"t.toml:25: key \"work\": is to be a section: write [work] on a line of its own, and its keys below"},
	{"an array with one bracket", []string{"[[wood]]", "[wood]"},
		"t.toml:11: key \"wood\": write [[wood]] with two brackets on a line of its own, once for each"},
	{"an array with one bracket, twice", []string{"[[adhesive]]", "[adhesive]", "[[adhesive]]", "[adhesive]"},
		"t.toml:3: key \"adhesive\": write [[adhesive]] with two brackets on a line of its own, once for each\n" +
			"t.toml:7: key \"adhesive\": is there twice, first on line 3: keep one"},
	{"a list where a section belongs", []string{"[specimen]", "[[specimen]]"},
		"t.toml:18: key \"specimen\": is to be a section: write [specimen] on a line of its own, and its keys below"},
	{"a value where a section belongs", []string{"name = \"Benches\"", "name = \"Benches\"\nlabels = \"A4\""},
		"t.toml:2: key \"labels\": value \"A4\": is to be a section: write [labels] on a line of its own, and its keys below"},
	{"a value where an array belongs", []string{"name = \"Benches\"", "name = \"Benches\"\nfactor = \"surface\""},
		"t.toml:2: key \"factor\": value \"surface\": write [[factor]] with two brackets on a line of its own, once for each"},
	{"a section within a value", []string{"clamps = 12\n", "clamps = 12\n[name.of]\nx = 1\n"},
		"t.toml:29: key \"name\": is there twice, first on line 1: keep one"},
	{"required keys", []string{"name = \"Benches\"\n", "", "family = \"pva\"\n", "", "name = \"ash\"\n", "", "joint = \"lap\"\n", "", "start = 2027-04-12\ntime_zone = \"Europe/Berlin\"\n", ""},
		"t.toml: key \"name\": is missing: write name = \"Glue for benches\"\n" +
			"t.toml:2: adhesive \"Tarn\": key \"family\": is missing: write family = \"pva\"\n" +
			"t.toml:9: wood 1: key \"name\": is missing: write name = \"ash\"\n" +
			"t.toml:15: [specimen]: key \"joint\": is missing: write joint = \"lap\"\n" +
			"t.toml:21: [work]: key \"start\": is missing: write start = 2027-04-12\n" +
			"t.toml:21: [work]: key \"time_zone\": is missing: write time_zone = \"Europe/Berlin\""},
	{"required sections", []string{minimal[18:], ""},
		"t.toml: key \"specimen\": is missing: write [specimen] with joint, length_mm, width_mm, thickness_mm and overlap_mm\n" +
			"t.toml: key \"adhesive\": is missing: write [[adhesive]], once for each\n" +
			"t.toml: key \"wood\": is missing: write [[wood]], once for each\n" +
			"t.toml: key \"work\": is missing: write [work] with start, time_zone and clamps"},
	{"nothing but a remark", []string{minimal, "# a trial\n"},
		"t.toml: key \"name\": is missing: write name = \"Glue for benches\"\n" +
			"t.toml: key \"specimen\": is missing: write [specimen] with joint, length_mm, width_mm, thickness_mm and overlap_mm\n" +
			"t.toml: key \"adhesive\": is missing: write [[adhesive]], once for each\n" +
			"t.toml: key \"wood\": is missing: write [[wood]], once for each\n" +
			"t.toml: key \"work\": is missing: write [work] with start, time_zone and clamps"},
}
