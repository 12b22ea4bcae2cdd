package trialfile

import "testing"

// What cannot be, with what is short and by how much. Each refusal with the whole message,
// as the person reads it.
func TestImpossible(t *testing.T) { refused(t, impossibleProblems) }

var impossibleProblems = []refusal{
	{"open time shorter than one glue-up", []string{"family = \"pva\"\n", "family = \"pva\"\nopen = \"4 min\"\n", "clamps = 12", "clamps = 12\nglue_up = \"6 min\""},
		"t.toml:3: adhesive \"Tarn\": key \"open\": the open time, 4 min, is 2 min too short for one glue-up, 6 min (glue_up): be quicker, or take an adhesive that leaves more time"},
	{"open time shorter than one glue-up, as is usual", []string{"\"pva\"", "\"epoxy-fast\"", "clamps = 12", "clamps = 12\nglue_up = \"4 min\""},
		"t.toml:3: adhesive \"Tarn\": key \"open\": the open time, 3 min, is 1 min too short for one glue-up, 4 min (glue_up): be quicker, or take an adhesive that leaves more time"},
	{"open and closed time shorter than one glue-up", []string{"family = \"pva\"\n", "family = \"pva\"\nopen = \"4 min\"\nclosed = \"3 min\"\n", "clamps = 12", "clamps = 12\nglue_up = \"7 min 30 s\""},
		"t.toml:3: adhesive \"Tarn\": key \"open\": open and closed time together, 7 min, is 30 s too short for one glue-up, 7 min 30 s (glue_up): be quicker, or take an adhesive that leaves more time"},
	{"a shop too cold", []string{"clamps = 12", "clamps = 12\ntemperature_c = 7.5"},
		"t.toml:3: adhesive \"Tarn\": key \"lowest_temperature_c\": the shop, at 7.5 °C, is 2.5 °C too cold for it: it needs 10 °C\n" +
			"t.toml:7: adhesive \"Fell\": key \"lowest_temperature_c\": the shop, at 7.5 °C, is 2.5 °C too cold for it: it needs 10 °C"},
	{"a day too short", []string{"clamps = 12\n", "clamps = 12\nbreak = \"2 h\"\n[work.hours]\nweekdays = \"9:00-10:30\"\n"},
		"t.toml:30: [work]: key \"break\": one break takes 2 h, which is 30 min longer than the longest stretch of work, 1 h 30 min"},
	{"a board too small", []string{"length_mm = 900\nwidth_mm = 120\nthickness_mm = 25", "length_mm = 79\nwidth_mm = 19.5\nthickness_mm = 7"},
		"t.toml:13: board \"1\" of ash: is 1 mm too short for one piece: it has 79 mm, a piece needs 80 mm\n" +
			"t.toml:13: board \"1\" of ash: is 0.5 mm too narrow for one piece: it has 19.5 mm, a piece needs 20 mm\n" +
			"t.toml:13: board \"1\" of ash: is 1 mm too thin for one piece: it has 7 mm, a piece needs 8 mm"},
	{"too few pieces, counted", []string{"length_mm = 900\nwidth_mm = 120\nthickness_mm = 25", "pieces_per_board = 2", "boards = 4", "boards = 3"},
		"t.toml:11: wood \"ash\": its boards give at most 6 pieces, and the trial needs at least 8 (two for each specimen; two in each cell, the least there is): 2 short"},
	{"too few pieces, by size", []string{"boards = 4", "boards = 1", "length_mm = 900\nwidth_mm = 120", "length_mm = 100\nwidth_mm = 45"},
		"t.toml:11: wood \"ash\": its boards give at most 6 pieces, and the trial needs at least 8 (two for each specimen; two in each cell, the least there is): 2 short"},
	{"too few pieces for the number that is wanted", []string{"name = \"Benches\"", "name = \"Benches\"\nspecimens_per_cell = 200"},
		"t.toml:12: wood \"ash\": its boards give at most 592 pieces, and the trial needs at least 800 (two for each specimen; specimens_per_cell): 208 short"},
	{"labels too small", []string{"[work]", "[labels]\nrows = 20\ncolumns = 8\n\n[work]"},
		"t.toml:25: [labels]: key \"columns\": a label would be 23.75 mm wide, 12.25 mm less than a readable one, 36 mm: take fewer columns, or smaller margins and gaps\n" +
			"t.toml:25: [labels]: key \"rows\": a label would be 13.85 mm high, 2.15 mm less than a readable one, 16 mm: take fewer rows, or smaller margins and gaps"},
	{"margins wider than the page", []string{"[work]", "[labels]\nleft_mm = 110\n\n[work]"},
		"t.toml:25: [labels]: key \"columns\": a label would be 0 mm wide, 36 mm less than a readable one, 36 mm: take fewer columns, or smaller margins and gaps"},
}
