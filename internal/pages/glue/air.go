package glue

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"bondtrial"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/record"
	"bondtrial/internal/wood"
)

// lookAgain is how long a look at the thermometer is good for.
const lookAgain = 4 * time.Hour

// air is what the page shows of the shop's air.
type air struct {
	Key     string
	Unit    string // °C, or °F where units are US
	Last    *record.Aired
	Words   string // the last look
	Wood    string // the moisture that wood takes on in it
	Old     bool   // look again
	TooCold string // it is colder than a label allows

	Temperature, Humidity string // as typed
	Sure                  string // the temperature that was asked about
	Wrong                 map[string]string
}

func airOf(d *frame.Desk, r *http.Request, t *record.Trial, f *trialfile.Trial, now time.Time) air {
	a := air{Key: d.NewKey(), Unit: "°C"}
	us := d.Units(r, t) == bondtrial.US
	if us {
		a.Unit = "°F"
	}
	if len(t.Climates) == 0 {
		return a
	}
	last := t.Climates[len(t.Climates)-1]
	a.Last, a.Words = &last, degrees(last.Celsius, us)
	a.Old = now.Sub(last.When()) > lookAgain
	if last.Humidity != nil {
		a.Words += fmt.Sprintf(", %s %% humidity", oneDigit(*last.Humidity))
		if emc, err := wood.Equilibrium(last.Celsius, bondtrial.Percent(*last.Humidity)); err == nil {
			a.Wood = fmt.Sprintf("Wood left in this air comes to %.1f %% moisture.", float64(emc))
		} else {
			a.Wood = "What moisture wood takes on is not known for such air."
		}
	}
	if f == nil {
		return a
	}
	a.TooCold = tooCold(f, last.Celsius, us)
	return a
}

// tooCold says that it is colder than an adhesive of the trial wants it, without saying
// which one, as that may go by a letter; empty: it is not. What its label says goes before
// what is usual for its kind, which the trial file takes where it is not given.
func tooCold(f *trialfile.Trial, celsius float64, us bool) string {
	label, usual := math.Inf(-1), math.Inf(-1)
	for _, x := range f.Adhesives {
		of := &label
		taken := fmt.Sprintf("adhesive %q: lowest_temperature_c", x.Name)
		if slices.ContainsFunc(f.Assumed, func(s trialfile.Assumption) bool { return s.What == taken }) {
			of = &usual
		}
		*of = math.Max(*of, orLower(float64(x.Lowest)))
	}
	switch {
	case celsius < label:
		return fmt.Sprintf("That is colder than the labels of this trial allow: one of its adhesives wants at least %s.", degrees(label, us))
	case celsius < usual:
		return fmt.Sprintf("That is colder than is usual for a kind of adhesive in this trial: at least %s. Look at the labels; the trial file does not say what they allow.", degrees(usual, us))
	}
	return ""
}

// orLower is a lowest temperature, below all others where none is known (NaN).
func orLower(x float64) float64 {
	if math.IsNaN(x) {
		return math.Inf(-1)
	}
	return x
}

// Air outside of these is asked about before it is written down, °C: a shop is seldom
// so hot or so cold, and the unit is easily mixed up.
const askAbove, askBelow = 45.0, -20.0

// usualAir returns an error that asks about a temperature that a shop seldom has, unless
// it was asked about.
func usualAir(celsius float64, typed, sure string) error {
	if celsius <= askAbove && celsius >= askBelow || typed == sure {
		return nil
	}
	return &record.Refused{Field: "celsius", Message: fmt.Sprintf("temperature: %s is %s; is that so, and its unit? If it is, write it down again", degrees(celsius, false), degrees(celsius, true))}
}

func degrees(celsius float64, us bool) string {
	if us {
		return oneDigit(celsius*9/5+32) + " °F"
	}
	return oneDigit(celsius) + " °C"
}

func oneDigit(x float64) string {
	return strings.Replace(strconv.FormatFloat(math.Round(x*10)/10+0, 'f', -1, 64), "-", "−", 1)
}

// Climate takes down temperature and humidity of the shop.
func Climate(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	t, err := d.Trial(r)
	if err != nil {
		return err
	}
	c := record.Climate{Station: "glue"}
	c.Celsius, err = Temperature(r.FormValue("temperature"), r.FormValue("unit") == "°F")
	typed := strings.TrimSpace(r.FormValue("temperature"))
	if err == nil {
		err = usualAir(c.Celsius, typed, r.FormValue("sure"))
	}
	if err == nil {
		c.Humidity, err = Humidity(r.FormValue("humidity"))
	}
	var e record.Entry
	if err == nil {
		e, err = d.Book.Add(r.Context(), d.Who(r), t.ID, "", c)
	}
	if err != nil {
		p := build(d, r, t, "")
		p.Air.Temperature, p.Air.Humidity, p.Air.Wrong = r.FormValue("temperature"), r.FormValue("humidity"), wrongs(err)
		p.Air.Sure = typed
		return again(d, w, r, t, p, err)
	}
	if frame.WantsJSON(r) {
		return frame.JSON(w, http.StatusOK, map[string]any{"seq": e.Seq})
	}
	return frame.Back(w, r, "/trials/"+t.ID+"/glue")
}

// Temperature reads a temperature as a person types it, such as "21,5", "70 °F" or
// "−3 C", and returns it in °C to a hundredth. Without a letter it is in °F where
// fahrenheit is set, else in °C. Errors are *record.Refused of the field celsius.
func Temperature(s string, fahrenheit bool) (float64, error) {
	text := strings.TrimSpace(s)
	for _, u := range []struct {
		suffix string
		f      bool
	}{{"F", true}, {"f", true}, {"C", false}, {"c", false}} {
		if number, ok := strings.CutSuffix(text, u.suffix); ok {
			text, fahrenheit = strings.TrimSpace(number), u.f
			break
		}
	}
	text = strings.TrimSpace(strings.TrimSuffix(text, "°"))
	x, ok := number(text)
	if !ok {
		return 0, &record.Refused{Field: "celsius", Message: "temperature: write a number of degrees, such as 21 or 70 °F"}
	}
	if fahrenheit {
		x = (x - 32) * 5 / 9
	}
	if x < -60 || x > 80 {
		return 0, &record.Refused{Field: "celsius", Message: "temperature: no shop is that cold or that hot; look at the number and its unit"}
	}
	return math.Round(x*100)/100 + 0, nil
}

// Humidity reads a relative humidity in percent; nil where nothing is typed. Errors
// are *record.Refused of the field humidity.
func Humidity(s string) (*float64, error) {
	text := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), "%"))
	if text == "" {
		return nil, nil
	}
	x, ok := number(text)
	if !ok || x < 0 || x > 100 {
		return nil, &record.Refused{Field: "humidity", Message: "humidity: write a number from 0 to 100, or leave it empty"}
	}
	return &x, nil
}

// number reads a decimal number with a point or a comma.
func number(s string) (x float64, ok bool) {
	if len(s) > 20 || strings.ContainsAny(s, "xXpP_nNiI") { // no hexadecimal, no NaN, no infinity
		return 0, false
	}
	if strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		s = strings.Replace(s, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(strings.Replace(s, "−", "-", 1), 64)
	return x, err == nil
}
