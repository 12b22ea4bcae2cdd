package trialfile

import "testing"

// Days, hours, clamps and labels. Each refusal with the whole message,
// as the person reads it.
func TestWorkProblems(t *testing.T) { refused(t, workProblems) }

var workProblems = []refusal{
	{"a day that does not exist", []string{"2027-04-12", "2027-02-29"},
		"t.toml:26: [work]: key \"start\": value \"2027-02-29\": does not exist: February 2027 has 28 days"},
	{"a month that does not exist", []string{"2027-04-12", "2027-13-12"},
		"t.toml:26: [work]: key \"start\": value \"2027-13-12\": does not exist: there is no month 13; write year, month and day, as in 2027-04-12"},
	{"a day in another order", []string{"2027-04-12", "\"12.4.2027\""},
		"t.toml:26: [work]: key \"start\": value \"12.4.2027\": is no date: write year, month and day, as in 2027-04-12"},
	{"a year too far", []string{"2027-04-12", "20277-04-12"},
		"t.toml:26: key \"start\": value \"20277-04-12\": is no date: write year, month and day, as in 2027-04-12"},
	{"a year long ago", []string{"2027-04-12", "1027-04-12"},
		"t.toml:26: [work]: key \"start\": value \"1027-04-12\": is not in the years 2000 to 2199: check the year"},
	{"a day with a time", []string{"2027-04-12", "2027-04-12T08:00:00"},
		"t.toml:26: [work]: key \"start\": value \"2027-04-12T08:00:00\": is a day with a time: write the day alone, as in start = 2027-04-12"},
	{"a start that is a number", []string{"2027-04-12", "20270412"},
		"t.toml:26: [work]: key \"start\": value \"20270412\": is a number, which is not what belongs here: write start = 2027-04-12"},
	{"a place that is no zone", []string{"Europe/Berlin", "Berlin"},
		"t.toml:27: [work]: key \"time_zone\": value \"Berlin\": is no name of a time zone: write a place of the zone as in \"Europe/Berlin\" or \"America/New_York\", or \"UTC\""},
	{"a zone that does not exist", []string{"Europe/Berlin", "Europe/Brelin"},
		"t.toml:27: [work]: key \"time_zone\": value \"Europe/Brelin\": is no name of a time zone: write a place of the zone as in \"Europe/Berlin\" or \"America/New_York\", or \"UTC\""},
	{"a zone of this computer", []string{"Europe/Berlin", "Local"},
		"t.toml:27: [work]: key \"time_zone\": value \"Local\": differs from computer to computer: write a place of the zone as in \"Europe/Berlin\" or \"America/New_York\", or \"UTC\""},
	{"days off", []string{"clamps = 12", "clamps = 12\ndays_off = [\"1 May\", 2027-06-31, \"2027-07-09 to 2027-07-05\", 5, \"2027-01-01 to 2099-01-01\"]"},
		"t.toml:29: [work]: key \"days_off\": value \"1 May\": is no date: write year, month and day, as in 2027-04-12\n" +
			"t.toml:29: [work]: key \"days_off\": value \"2027-06-31\": does not exist: June 2027 has 30 days\n" +
			"t.toml:29: [work]: key \"days_off\": value \"2027-07-09 to 2027-07-05\": ends before it begins\n" +
			"t.toml:29: [work]: key \"days_off\": value \"5\": is a number, which is not what belongs here: write days_off = [\"2027-05-01\", \"2027-07-05 to 2027-07-16\"]\n" +
			"t.toml:29: [work]: key \"days_off\": names more than 1000 days: check the years"},
	{"no clamps given", []string{"clamps = 12\n", ""},
		"t.toml:25: [work]: key \"clamps\": is missing, and adhesive \"Tarn\" is clamped for 1 h: write how many specimens can be under pressure at once, as in clamps = 12"},
	{"no clamps", []string{"clamps = 12", "clamps = 0"},
		"t.toml:28: [work]: key \"clamps\": value \"0\": must be a whole number from 1 to 10000"},
	{"paces", []string{"clamps = 12", "clamps = 12\nglue_up = 4\nbreak = \"0 min\""},
		"t.toml:29: [work]: key \"glue_up\": value \"4\": has no unit: write a time with its unit, such as \"20 min\", \"24 h\", \"7 d\" or \"1 h 30 min\"\n" +
			"t.toml:30: [work]: key \"break\": value \"0 min\": is shorter than 1 s: write break = \"3 min\""},
	{"hours that end before they begin", []string{"clamps = 12\n", "clamps = 12\n[work.hours]\nmonday = \"17:00-9:00\"\n"},
		"t.toml:30: [work.hours]: key \"monday\": value \"17:00-9:00\": ends before it begins, or as it begins: for work past midnight, write until 24:00 and the rest on the next day"},
	{"hours that overlap", []string{"clamps = 12\n", "clamps = 12\n[work.hours]\nmonday = \"9:00-13:00, 12:00-17:00\"\n"},
		"t.toml:30: [work.hours]: key \"monday\": value \"9:00-13:00, 12:00-17:00\": \"12:00-17:00\" begins before the stretch before it ends: write the stretches one after the other"},
	{"hours that no clock shows", []string{"clamps = 12\n", "clamps = 12\n[work.hours]\nmonday = \"9:75-13:00\"\ntuesday = \"9-25\"\n"},
		"t.toml:30: [work.hours]: key \"monday\": value \"9:75-13:00\": has a time that no clock shows: write from-to on the 24-hour clock, as in \"9:00-12:00, 13:00-17:00\", or \"off\"\n" +
			"t.toml:31: [work.hours]: key \"tuesday\": value \"9-25\": has a time that no clock shows: write from-to on the 24-hour clock, as in \"9:00-12:00, 13:00-17:00\", or \"off\""},
	{"hours on the 12-hour clock", []string{"clamps = 12\n", "clamps = 12\n[work.hours]\nmonday = \"9 am-5 pm\"\n"},
		"t.toml:30: [work.hours]: key \"monday\": value \"9 am-5 pm\": has am or pm: write from-to on the 24-hour clock, as in \"9:00-12:00, 13:00-17:00\", or \"off\""},
	{"hours in words", []string{"clamps = 12\n", "clamps = 12\n[work.hours]\nmonday = \"morning\"\n"},
		"t.toml:30: [work.hours]: key \"monday\": value \"morning\": are no working hours: write from-to on the 24-hour clock, as in \"9:00-12:00, 13:00-17:00\", or \"off\""},
	{"no hours at all", []string{"clamps = 12\n", "clamps = 12\n[work.hours]\nmonday = \"off\"\n"},
		"t.toml:29: [work.hours]: has no working hours at all: write some, as in weekdays = \"9:00-17:00\""},
	{"hours of an unknown day", []string{"clamps = 12\n", "clamps = 12\n[work.hours]\nmoonday = \"9-17\"\n"},
		"t.toml:30: [work.hours]: key \"moonday\": is not known here: is monday meant?"},
	{"hours as one text", []string{"clamps = 12", "clamps = 12\nhours = \"9-17\""},
		"t.toml:29: [work]: key \"hours\": value \"9-17\": is to be a section: write [work.hours] on a line of its own, and its keys below"},
	{"a page", []string{"[work]", "[labels]\npage = \"A5\"\nrows = 0\ncolumns = 2.5\n\n[work]"},
		"t.toml:26: [labels]: key \"page\": value \"A5\": is no page that is known: write page = \"A4\" or page = \"letter\"\n" +
			"t.toml:27: [labels]: key \"rows\": value \"0\": must be a whole number from 1 to 60\n" +
			"t.toml:28: [labels]: key \"columns\": value \"2.5\": must be a whole number from 1 to 60"},
}
