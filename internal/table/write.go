package table

import (
	"bytes"
	"io"
	"math"
	"strconv"
	"strings"

	"bondtrial"
)

// column is a known column with how its values are written.
type column struct {
	role  role
	value func(r *bondtrial.Reading) string
}

var writeColumns = []column{
	{specimenCol, func(r *bondtrial.Reading) string { return r.Code }},
	{trialCol, func(r *bondtrial.Reading) string { return r.Trial }},
	{adhesiveCol, func(r *bondtrial.Reading) string { return r.Adhesive }},
	{woodCol, func(r *bondtrial.Reading) string { return r.Wood }},
	{boardCol, func(r *bondtrial.Reading) string { return r.Board }},
	{batchCol, func(r *bondtrial.Reading) string { return r.Batch }},
	{sessionCol, func(r *bondtrial.Reading) string { return r.Session }},
	{glueOrderCol, func(r *bondtrial.Reading) string { return order(r.GlueOrder) }},
	{breakOrderCol, func(r *bondtrial.Reading) string { return order(r.BreakOrder) }},
	{moistureCol, func(r *bondtrial.Reading) string { return number(float64(r.MoisturePct)) }},
	{strengthMPaCol, func(r *bondtrial.Reading) string {
		if r.Strength == 0 {
			return ""
		}
		return number(float64(r.Strength))
	}},
	{woodFailureCol, func(r *bondtrial.Reading) string { return share(float64(r.WoodFailure)) }},
	{failureCol, func(r *bondtrial.Reading) string { return string(r.Failure) }},
	{rigLimitedCol, func(r *bondtrial.Reading) string {
		if r.RigLimited {
			return "yes"
		}
		return ""
	}},
	{setAsideCol, func(r *bondtrial.Reading) string { return r.SetAside }},
	{noteCol, func(r *bondtrial.Reading) string { return r.Note }},
}

func order(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func number(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// share writes per cent, with the sign where a fraction could be meant.
func share(v float64) string {
	if 0 < v && v < 1 {
		return number(v) + "%"
	}
	return number(v)
}

// Write writes readings as a comma-separated table that Read takes in again:
// strengths in MPa in full precision, only columns in which some reading has a
// value, the factors last. A value that holds a separator of any kind is quoted.
func Write(w io.Writer, readings []bondtrial.Reading, factors []string) error {
	var cols []column
	var header []string
	for _, c := range writeColumns {
		for i := range readings {
			if c.role == adhesiveCol || c.role == strengthMPaCol || c.value(&readings[i]) != "" {
				cols = append(cols, c)
				header = append(header, c.role.String())
				break
			}
		}
	}
	rows := [][]string{append(header, factors...)}
	for i := range readings {
		var row []string
		for _, c := range cols {
			row = append(row, c.value(&readings[i]))
		}
		for _, f := range factors {
			row = append(row, readings[i].Factors[f])
		}
		rows = append(rows, row)
	}
	var b bytes.Buffer
	for _, row := range rows {
		for i, text := range row {
			if i > 0 {
				b.WriteByte(',')
			}
			if quoted := text != strings.TrimSpace(text) || strings.ContainsAny(text, ",;\t\"\r\n"); quoted || text == "" && len(row) == 1 {
				text = `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
			}
			b.WriteString(text)
		}
		b.WriteByte('\n')
	}
	_, err := b.WriteTo(w)
	return err
}
