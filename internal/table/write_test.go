package table

import (
	"math"
	"strconv"
	"strings"

	"bondtrial"
)

// dialect says how a test writes a table.
type dialect struct {
	sep   string
	comma bool   // decimal comma
	end   string // of a line
	quote bool   // every field
	names func(role) string
	last  bool // a line end after the last row
}

var plainDialect = dialect{sep: ",", end: "\n", last: true}

// written returns readings as the text of a file with the known columns given
// and the factors as further columns.
func written(rs []bondtrial.Reading, cols []role, factors []string, d dialect) string {
	var rows [][]string
	var header []string
	for _, c := range cols {
		name := c.String()
		if d.names != nil {
			name = d.names(c)
		}
		header = append(header, name)
	}
	rows = append(rows, append(header, factors...))
	for _, r := range rs {
		var row []string
		for _, c := range cols {
			row = append(row, d.value(r, c))
		}
		for _, f := range factors {
			row = append(row, r.Factors[f])
		}
		rows = append(rows, row)
	}
	var b strings.Builder
	for i, row := range rows {
		for j, v := range row {
			if j > 0 {
				b.WriteString(d.sep)
			}
			if d.quote || strings.ContainsAny(v, "\"\r\n,;\t") {
				v = `"` + strings.ReplaceAll(v, `"`, `""`) + `"`
			}
			b.WriteString(v)
		}
		if i < len(rows)-1 || d.last {
			b.WriteString(d.end)
		}
	}
	return b.String()
}

func (d dialect) value(r bondtrial.Reading, c role) string {
	switch c {
	case specimenCol:
		return r.Code
	case adhesiveCol:
		return r.Adhesive
	case woodCol:
		return r.Wood
	case boardCol:
		return r.Board
	case batchCol:
		return r.Batch
	case sessionCol:
		return r.Session
	case trialCol:
		return r.Trial
	case strengthMPaCol:
		if r.Strength == 0 {
			return ""
		}
		return d.number(float64(r.Strength))
	case woodFailureCol:
		s := d.number(float64(r.WoodFailure))
		if 0 < r.WoodFailure && r.WoodFailure < 1 {
			s += "%" // a column of nothing else would be taken for fractions
		}
		return s
	case failureCol:
		return string(r.Failure)
	case rigLimitedCol:
		if r.RigLimited {
			return "yes"
		}
		return ""
	case setAsideCol:
		return r.SetAside
	case noteCol:
		return r.Note
	case glueOrderCol, breakOrderCol:
		n := r.GlueOrder
		if c == breakOrderCol {
			n = r.BreakOrder
		}
		if n == 0 {
			return ""
		}
		return strconv.Itoa(n)
	case moistureCol:
		return d.number(float64(r.MoisturePct))
	}
	panic("table: no test writes this column")
}

func (d dialect) number(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	s := strconv.FormatFloat(v, 'g', -1, 64)
	if d.comma {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}

// allColumns are the columns that written can write.
var allColumns = []role{
	specimenCol, adhesiveCol, woodCol, boardCol, batchCol, sessionCol, trialCol, strengthMPaCol, woodFailureCol, failureCol,
	rigLimitedCol, setAsideCol, noteCol, glueOrderCol, breakOrderCol, moistureCol,
}
