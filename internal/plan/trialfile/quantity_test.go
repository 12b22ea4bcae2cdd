package trialfile

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Sums of units, by their definitions: minute 60 s, hour 60 min, day 24 h, week 7 d.
func TestParseTime(t *testing.T) {
	for _, c := range []struct {
		text  string
		want  time.Duration
		plain string
	}{
		{"20 min", 20 * time.Minute, "20 min"},
		{"20min", 20 * time.Minute, "20 min"},
		{" 24 H ", 24 * time.Hour, "24 h"},
		{"7 d", 168 * time.Hour, "7 d"},
		{"1 week", 168 * time.Hour, "7 d"},
		{"2 weeks", 336 * time.Hour, "14 d"},
		{"1 h 30 min", 90 * time.Minute, "1 h 30 min"},
		{"1h30min", 90 * time.Minute, "1 h 30 min"},
		{"1 hour, 30 minutes", 90 * time.Minute, "1 h 30 min"},
		{"1.5 h", 90 * time.Minute, "1 h 30 min"},
		{"0.1 min", 6 * time.Second, "6 s"},
		{"90 s", 90 * time.Second, "1 min 30 s"},
		{"45 seconds", 45 * time.Second, "45 s"},
		{"2 days 3 hrs", 51 * time.Hour, "2 d 3 h"},
		{"none", 0, "0 min"},
		{"0 min", 0, "0 min"},
		{"366 d", 366 * 24 * time.Hour, "366 d"},
	} {
		got, err := parseTime(c.text)
		if err != nil || got != c.want {
			t.Errorf("%q: %v, %v; want %v", c.text, got, err, c.want)
		}
		if p := plainTime(c.want); p != c.plain {
			t.Errorf("%v is written %q, want %q", c.want, p, c.plain)
		}
	}
}

func TestParseTimeRefuses(t *testing.T) {
	for _, text := range []string{"", " ", "5", "min", "5 x", "5 m", "5 mo", "5-10 min", "5 to 10 min", "5 – 10 min", "-1 h", "1,5 h", "1 h 30",
		"1..5 h", "1e3 s", "0x10 min", "inf h", "nan h", "20 min!", "20 minn", "367 d", "99999999999999999999 h", "½ h"} {
		if got, err := parseTime(text); err == nil {
			t.Errorf("%q: %v without an error", text, got)
		}
	}
}

// What plainTime writes is read back.
func TestTimeAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := time.Duration(rapid.Int64Range(0, int64(longestTime/time.Second)).Draw(t, "seconds")) * time.Second
		got, err := parseTime(plainTime(d))
		if err != nil || got != d {
			t.Fatalf("%v is written %q and read as %v, %v", d, plainTime(d), got, err)
		}
	})
}

// Any date that Go's calendar has is read, and the day after the last of a month
// is not.
func TestDateAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := dateOf(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 73048).Draw(t, "days")))
		got, err := parseDate(d.String())
		if err != nil || got != d {
			t.Fatalf("%v is read as %v, %v", d, got, err)
		}
		if d.Next().Compare(d) <= 0 || d.Next().At(0, time.UTC).Sub(d.At(0, time.UTC)) != 24*time.Hour {
			t.Fatalf("after %v comes %v", d, d.Next())
		}
		if d.Next().Day == 1 {
			d.Day++
			if got, err := parseDate(d.String()); err == nil {
				t.Fatalf("%v is read as %v", d, got)
			}
		}
	})
}

// Clocks in Berlin go forward from 2:00 to 3:00 on the last Sunday in March, by EU
// law the 28th in 2027: so noon of that day is 11 hours after midnight.
func TestDateAtClock(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	d := Date{2027, time.March, 28}
	if h := d.At(12*time.Hour, berlin).Sub(d.At(0, berlin)); h != 11*time.Hour {
		t.Errorf("noon is %v after midnight, want 11 h", h)
	}
	if got := d.At(9*time.Hour+30*time.Minute, berlin).Format("15:04 MST"); got != "09:30 CEST" {
		t.Errorf("half past nine is %s", got)
	}
}

func TestParseMoneyAndContent(t *testing.T) {
	for text, want := range map[string]Money{"8.90 EUR": {8.9, "EUR"}, "USD 12": {12, "USD"}, "1200JPY": {1200, "JPY"}, "0 EUR": {0, "EUR"}} {
		if got, err := parseMoney(text); err != nil || got != want {
			t.Errorf("%q: %v, %v", text, got, err)
		}
	}
	for text, want := range map[string]Content{"500 g": {500, "g"}, "0.5 kg": {500, "g"}, "290ml": {290, "ml"}, "0.75 l": {750, "ml"}, "1 L": {1000, "ml"}} {
		if got, err := parseContent(text); err != nil || got != want {
			t.Errorf("%q: %v, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "EUR", "8.90", "8.90 eur", "EUR 8 EUR", "$8", "8 Euro", "99999999 EUR"} {
		if got, err := parseMoney(text); err == nil {
			t.Errorf("%q: %v without an error", text, got)
		}
	}
}

// A label of A4 in 3 columns and 8 rows, margins 7 and 10 mm, gap 2 mm: worked by
// hand, (210 - 14 - 4)/3 = 64 and (297 - 20)/8 = 34.625 mm.
func TestLabelSize(t *testing.T) {
	w, h := LabelSheet{"A4", 210, 297, 8, 3, 10, 10, 7, 7, 2, 0}.LabelSize()
	if w != 64 || h != 34.625 {
		t.Errorf("%v by %v mm", w, h)
	}
}
