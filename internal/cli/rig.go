package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bondtrial/internal/rig"
)

// mostCalibration is the largest calibration table that is read, bytes.
const mostCalibration = 16 << 20

// rigFlags are the flags of rig as they were given.
type rigFlags struct {
	conditions       rig.Conditions
	latitude, height float64
	gravity          float64
	read             []float64
	zero             float64
	json             bool
}

func newRig() *cobra.Command {
	var f rigFlags
	c := &cobra.Command{
		Use:   "rig TABLE",
		Short: "Calibrate a rig from known weights, and read it with its uncertainty",
		Long: `Rig reads a calibration table, a row for each known weight that hung on the rig,
and says how well the rig reads: the curve from what it shows to the force, why
it is straight or bent, how well it repeats, comes down as it went up and returns
to zero, and which classes of ISO 7500-1 its figures would meet. It is a
self-check and no accredited certificate.

Columns of the table, in any order:
  series      which time the weights were hung up: 1, 2, 3
  direction   up where a weight was reached by hanging up, down by taking down
  mass_kg     all that hangs, 0 for nothing; or mass_g, mass_lb, force_n, force_kn,
              force_lbf, force_kgf
  shown       what the sensor showed: counts, or the number on the display
Begin each series with nothing on the hook, and hang all weights up and take them
down at least three times. A falling weight and a loaded lever hurt: keep feet and
hands from under them.

With --read it also turns what was shown at a break into a force, with where its
uncertainty comes from.`,
		Example: `  bondtrial rig weights.csv --unit counts --resolution 1 --latitude 52.5
  bondtrial rig weights.csv --unit N --read 1840 --zero 2`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("name one calibration table; see \"%s --help\"", c.CommandPath())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args[0]) },
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.StringVar(&f.conditions.ShownUnit, "unit", "counts", "`UNIT` of what is shown: counts, or what the display says, such as N, kN, lbf or kg")
	fl.Float64Var(&f.conditions.Resolution, "resolution", 0, "smallest `STEP` of what is shown (required)")
	fl.StringVar(&f.conditions.Sensor, "sensor", "sensor", "`NAME` of the sensor")
	fl.StringVar(&f.conditions.Date, "date", "", "`DATE` of the calibration, year-month-day; without it, today")
	fl.StringVar(&f.conditions.Expires, "expires", "", "`DATE` on which it is to be made again")
	fl.Float64Var(&f.conditions.Weights.AccuracyPct, "weights", 0, "`PERCENT` within which each weight is what is written on it")
	fl.Float64Var(&f.latitude, "latitude", 0, "`DEGREES` of latitude of the place, for gravity there; needed for weights in kg, unless --gravity is given")
	fl.Float64Var(&f.height, "height", 0, "`METRES` of the place above the sea")
	fl.Float64Var(&f.gravity, "gravity", 0, "gravity of the place in `M_S2`, where it is known better")
	fl.Float64SliceVar(&f.read, "read", nil, "`SHOWN`: turn this reading into a force; may be given more than once")
	fl.Float64Var(&f.zero, "zero", 0, "what was `SHOWN` at no load just before")
	fl.BoolVar(&f.json, "json", false, "write the calibration for programs (JSON) instead of for people")
	return c
}

func (f *rigFlags) run(c *cobra.Command, path string) error {
	text, err := readCalibration(c.InOrStdin(), path)
	if err != nil {
		return err
	}
	points, err := rig.ParsePoints(text, filepath.Base(path))
	if err != nil {
		return err
	}
	switch fl := c.Flags(); {
	case !fl.Changed("resolution"):
		return fmt.Errorf("--resolution is missing: give the smallest step of what is shown, such as 1 for counts or 0.5 for a display in steps of 0.5 %s", f.conditions.ShownUnit)
	case fl.Changed("gravity"):
		f.conditions.Gravity = &rig.Gravity{Value: f.gravity, How: "given"}
	case fl.Changed("latitude"):
		g, err := rig.LocalGravity(f.latitude, f.height)
		if err != nil {
			return err
		}
		f.conditions.Gravity = &g
	}
	if f.conditions.Date == "" {
		f.conditions.Date = time.Now().Format(time.DateOnly)
	}
	k, err := rig.Calibrate(points, f.conditions)
	if err != nil {
		return err
	}
	out := c.OutOrStdout()
	if f.json {
		e := json.NewEncoder(out)
		e.SetIndent("", "  ")
		return e.Encode(k)
	}
	fmt.Fprint(out, k.Certificate())
	for _, shown := range f.read {
		if err := writeForce(out, k, shown, f.zero); err != nil {
			return err
		}
	}
	return nil
}

// writeForce writes what force a reading stands for, and where its uncertainty
// comes from.
func writeForce(out io.Writer, k *rig.Calibration, shown, zero float64) error {
	force, err := k.Force(shown, zero)
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "\n%v %s, with %v at no load:\n", shown, k.ShownUnit, zero)
	if force.Words != "" {
		fmt.Fprintln(out, force.Words)
	}
	_, err = fmt.Fprintln(out, strings.TrimRight(force.Budget.String(), "\n"))
	return err
}

func readCalibration(stdin io.Reader, path string) (string, error) {
	from := stdin
	if path != "-" {
		file, err := os.Open(path)
		if err != nil {
			return "", err
		}
		defer file.Close()
		from = file
	}
	content, err := io.ReadAll(io.LimitReader(from, mostCalibration+1))
	if err != nil {
		return "", err
	}
	if len(content) > mostCalibration {
		return "", fmt.Errorf("%s is larger than %d MB: that is no calibration table", path, mostCalibration>>20)
	}
	return strings.TrimPrefix(string(content), "\uFEFF"), nil
}
