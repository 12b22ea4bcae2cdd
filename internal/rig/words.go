package rig

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"text/tabwriter"
	"time"
)

// Key is a short name that stands for exactly this calibration: 12 hexadecimal
// digits of the SHA-256 of its JSON. A reading that notes it can always be held
// against the calibration it was made with.
func (k *Calibration) Key() string {
	raw, err := json.Marshal(k)
	if err != nil {
		panic("rig: a calibration holds a number that is not finite")
	}
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:6])
}

// Words describes the calibration in plain sentences, one an entry.
func (k *Calibration) Words() []string {
	f := k.Figures
	inN := func(shown float64) string { return newtons(shown * f.NewtonsPerUnit) }
	ways := "going up only"
	if f.Reversibility != nil {
		ways = "going up and down"
	}
	words := []string{
		fmt.Sprintf("%s was calibrated on %s with %d known loads from %s to %s, %s, %d readings in %d series.",
			k.name(), k.Date, len(k.Steps), newtons(k.LowN), newtons(k.HighN), ways, k.Curve.N, f.Series),
		upper(k.Choice.Why) + ".",
		fmt.Sprintf("In the middle of the range 1 %s is %s.", k.one(), newtons(f.NewtonsPerUnit)),
	}
	if f.Repeated {
		words = append(words, fmt.Sprintf("The same load read again differs by a standard deviation of %s.", inN(f.Repeatability)))
	} else {
		words = append(words, fmt.Sprintf("No load was read twice in one direction; readings scatter about the curve with a standard deviation of %s.", inN(f.Repeatability)))
	}
	words = append(words, fmt.Sprintf("The mean of a load lies at most %s from the curve.", inN(f.Departure)))
	if f.Reversibility != nil {
		words = append(words, fmt.Sprintf("Reached from above and from below, a load reads at most %s apart.", inN(*f.Reversibility)))
	}
	switch {
	case f.Zero != nil:
		words = append(words, fmt.Sprintf("At no load it comes back to within %s of where it began.", inN(*f.Zero)))
	case !k.FromZero:
		words = append(words, "Nothing was read at no load, so what is shown counts as it stands.")
	}
	for _, at := range []float64{k.LowN, k.HighN} {
		words = append(words, k.uncertainWords(at))
	}
	words = append(words, k.ClassWords(), fmt.Sprintf("It holds from %s to %s and nowhere else.", newtons(k.LowN), newtons(k.HighN)))
	if k.Expires != "" {
		words = append(words, fmt.Sprintf("Calibrate again by %s.", k.Expires))
	}
	return words
}

// uncertainWords says how well a force is known at a load.
func (k *Calibration) uncertainWords(at float64) string {
	shown := k.Curve.At(at)
	c, err := k.chain(shown, 0)
	if err != nil {
		panic("rig: a calibration cannot be read inside its own range")
	}
	b := c.budget("force", "N")
	most := b.Largest()[0]
	return fmt.Sprintf("A force of %s is known to ± %s (%s %%, at 95 %%), mostly for %s.", newtons(at), newtons(b.Expanded), brief(100*b.Expanded/at, 2), most.Name)
}

// String joins the Words.
func (k *Calibration) String() string { return strings.Join(k.Words(), " ") }

// name is the sensor's name in a sentence.
func (k *Calibration) name() string {
	if k.Sensor == "" {
		return "The sensor"
	}
	return k.Sensor
}

// one is the unit of what is shown, in the singular.
func (k *Calibration) one() string {
	if k.ShownUnit == "counts" {
		return "count"
	}
	return k.ShownUnit
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// Certificate is a page of plain text about the calibration: what it is, what was
// found, each load with its errors, and what it is not.
func (k *Calibration) Certificate() string {
	var s strings.Builder
	fmt.Fprintf(&s, "Calibration of %s, %s\n%s\nKey %s\n\n", strings.TrimPrefix(k.name(), "The "), k.Date, upper(SelfCheck), k.Key())
	for _, w := range k.Words() {
		s.WriteString(w + "\n")
	}
	s.WriteString("\nEach load, the curve applied; errors are per cent of the load\n\n")
	tw := tabwriter.NewWriter(&s, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(tw, "load\tforce N\treadings\tindicated N\terror\trepeatability\treversibility\tresolution\tclass\t")
	for _, p := range k.Steps {
		class := p.Class
		if class == "" {
			class = "none"
		}
		fmt.Fprintf(tw, "%v %s\t%s\t%d\t%s\t%.3f\t%s\t%s\t%.3f\t%s\t\n", p.Load, p.Unit, round(p.ForceN, 6), p.Readings, round(p.IndicatedN, 6),
			p.ErrorPct, percent(p.RepeatabilityPct), percent(p.ReversibilityPct), p.ResolutionPct, class)
	}
	tw.Flush()
	if z := k.ZeroPct(); z != nil {
		fmt.Fprintf(&s, "\nThe zero changed by at most %.3f %% of the largest load.\n", *z)
	}
	if k.Gravity != nil {
		fmt.Fprintf(&s, "\nGravity %.5f m/s² (standard uncertainty %.5f)", k.Gravity.Value, k.Gravity.U)
		if k.Gravity.How != "" {
			s.WriteString(", " + k.Gravity.How)
		}
		s.WriteString(".\n")
	}
	fmt.Fprintf(&s, "The known loads are known to a standard uncertainty of %s %%.\n", brief(k.Figures.ReferencePct, 2))
	for _, w := range k.Warnings {
		s.WriteString("Note: " + w + ".\n")
	}
	fmt.Fprintf(&s, "\nThe loads that made the curve are those it is judged by, and nobody else looked on: this is %s.\nClass: %s.\n", SelfCheck, ClassSource)
	return s.String()
}

func percent(v *float64) string {
	if v == nil {
		return "not known"
	}
	return fmt.Sprintf("%.3f", *v)
}

// Standing says whether the calibration holds on a day (year-month-day): the words
// are empty where it does and nothing is near. The error says that the day is no
// date.
func (k *Calibration) Standing(on string) (holds bool, words string, err error) {
	now, err := day("date", on)
	if err != nil {
		return false, "", err
	}
	made, err := day("date", k.Date)
	if err != nil {
		return false, "", err
	}
	if now.Before(made) {
		return false, fmt.Sprintf("%s is before the calibration of %s: check the clock, or the date of the calibration", on, k.Date), nil
	}
	if k.Expires == "" {
		return true, "", nil
	}
	ends, err := day("expiry", k.Expires)
	if err != nil {
		return false, "", err
	}
	left := int(math.Round(ends.Sub(now).Hours() / 24))
	switch {
	case left < 0:
		return false, fmt.Sprintf("the calibration of %s ended on %s, %s ago: calibrate again, or check it with a mass and say so", k.Date, k.Expires, days(-left)), nil
	case left <= soonDays:
		return true, fmt.Sprintf("the calibration of %s ends on %s, in %s", k.Date, k.Expires, days(left)), nil
	}
	return true, "", nil
}

// soonDays is how long before its end a calibration is reminded of.
const soonDays = 30

func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

// onDay names a day in a sentence.
func onDay(t time.Time) string { return t.Format("Monday, 2 January 2006") }
