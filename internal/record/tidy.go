package record

import (
	"strings"

	"bondtrial"
	"bondtrial/internal/table"
)

// tidied returns a content as it is kept: names as package table keeps them, so that
// a trial that is written out as a table reads the same again; texts without space
// around them and with plain line ends; no zero with a sign.
func tidied(c Content) Content {
	switch c := c.(type) {
	case Asked:
		c.Name, c.Question, c.Control, c.Table = table.Name(c.Name), lines(c.Question), table.Name(c.Control), table.Name(c.Table)
		var factors []string
		for _, f := range c.Factors {
			factors = append(factors, table.Name(f))
		}
		c.Factors = factors
		return c
	case Added:
		return Added{c.Joint.tidied()}
	case Glued:
		c.Spoiled, c.Batch, c.Note = table.Name(c.Spoiled), table.Name(c.Batch), lines(c.Note)
		return c
	case Marks:
		c.Batch, c.Note = table.Name(c.Batch), lines(c.Note)
		return c
	case Climate:
		c.Station, c.Celsius, c.Humidity = table.Name(c.Station), c.Celsius+0, unsigned(c.Humidity)
		return c
	case Cured:
		c.Adhesive, c.Note = table.Name(c.Adhesive), lines(c.Note)
		return c
	case Broken:
		return c.tidied()
	case Noted:
		c.Station, c.Text = table.Name(c.Station), lines(c.Text)
		return c
	case PutAway:
		c.Why = lines(c.Why)
		return c
	case OnRack:
		c.Wood, c.Name, c.Note = table.Name(c.Wood), table.Name(c.Name), lines(c.Note)
		return c
	case RigCheck:
		c.Shown, c.Zero, c.Note = c.Shown+0, c.Zero+0, lines(c.Note)
		return c
	case OnShelf:
		c.Note = lines(c.Note)
		return c
	}
	return c
}

func (b Broken) tidied() Broken {
	b.Peak, b.AreaMM2, b.Strength = b.Peak+0, b.AreaMM2+0, b.Strength+0
	b.Zero = b.Zero + 0
	b.WoodShare, b.Moisture = unsigned(b.WoodShare), unsigned(b.Moisture)
	b.SetAside, b.Note = table.Name(b.SetAside), lines(b.Note)
	if f, err := bondtrial.ParseFailure(b.Failure); err == nil {
		b.Failure = string(f)
	}
	if b.Joint != nil {
		j := b.Joint.tidied()
		b.Joint = &j
	}
	return b
}

func (j Joint) tidied() Joint {
	j.Adhesive, j.Wood, j.Board = table.Name(j.Adhesive), table.Name(j.Wood), table.Name(j.Board)
	j.Batch, j.Session, j.Trial = table.Name(j.Batch), table.Name(j.Session), table.Name(j.Trial)
	var factors map[string]string
	for f, level := range j.Factors {
		if f, level = table.Name(f), table.Name(level); level != "" {
			if factors == nil {
				factors = make(map[string]string, len(j.Factors))
			}
			factors[f] = level
		}
	}
	j.Factors = factors
	return j
}

// lines is a text of several lines as it is kept.
func lines(s string) string {
	return strings.TrimSpace(strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(s))
}

// unsigned is a number without the sign of a zero.
func unsigned(x *float64) *float64 {
	if x == nil {
		return nil
	}
	v := *x + 0
	return &v
}

// spellings gives every name the spelling that it was written in first, as long as
// package table takes two spellings for one name.
type spellings map[string]string

// keep returns the first spelling of a name among its kind. Names of one kind are
// compared within a scope, such as boards within their wood.
func (s spellings) keep(kind, scope, name string) string {
	if name == "" {
		return ""
	}
	key := kind + "\x00" + scope + "\x00" + table.Spelling(name)
	if first, ok := s[key]; ok {
		return first
	}
	s[key] = name
	return name
}
