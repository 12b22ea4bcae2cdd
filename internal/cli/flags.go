package cli

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// percentValue is a flag of per cent: 15, 15% or "15 %".
type percentValue float64

func (p *percentValue) String() string { return strconv.FormatFloat(float64(*p), 'f', -1, 64) }
func (p *percentValue) Type() string   { return "percent" }

func (p *percentValue) Set(s string) error {
	number, _ := strings.CutSuffix(strings.TrimSpace(s), "%")
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if err != nil {
		return errors.New("not a number of per cent")
	}
	*p = percentValue(v)
	return nil
}

// wants says what to write for a flag of a type.
var wants = map[string]string{
	"percent": "a number of per cent, such as 15",
	"float64": "a number, such as 250",
	"int":     "a whole number, such as 40000",
	"uint64":  "a whole number from 0 on, such as 7",
	"bool":    "nothing, or =true or =false",
}

// flagError says which flag is wrong and what to write instead.
func flagError(c *cobra.Command, err error) error {
	see := fmt.Sprintf("see \"%s --help\"", c.CommandPath())
	var bad *pflag.InvalidValueError
	if !errors.As(err, &bad) {
		return fmt.Errorf("%w; %s", err, see)
	}
	want, ok := wants[bad.GetFlag().Value.Type()]
	if !ok {
		return fmt.Errorf("%w; %s", err, see)
	}
	return fmt.Errorf("--%s %q: write %s; %s", bad.GetFlag().Name, bad.GetValue(), want, see)
}
