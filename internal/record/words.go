package record

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Words says in a few words what an entry records, without its subject. Adhesives go
// by what pages may call them. t may be nil.
func Words(t *Trial, e Entry) string {
	switch c := e.Content.(type) {
	case Asked:
		return "the question and what goes with it"
	case Planned:
		return fmt.Sprintf("a plan of %d specimens", len(c.Specimens))
	case Added:
		return "a specimen that is in no plan"
	case Glued:
		if c.Spoiled != "" {
			return "spoiled: " + c.Spoiled
		}
		return "glued"
	case Broken:
		return c.Words()
	case Marks:
		return "handling: " + c.words()
	case Cured:
		return "cure check: " + c.words()
	case Climate:
		s := number(c.Celsius) + " °C"
		if c.Humidity != nil {
			s += ", " + number(*c.Humidity) + " % humidity"
		}
		return s
	case Noted:
		if c.Text != "" {
			return "remark: " + c.Text
		}
		return "a photo"
	case KeyOpened:
		return fmt.Sprintf("the key to the blind letters opened, with %d of %d broken", c.Broken, c.Of)
	case PutAway:
		return "the trial put away"
	case TookBack:
		return takenBack(t, e)
	case OnShelf:
		return "an adhesive on the shelf"
	case OnRack:
		return "a board on the rack" + c.words()
	case Rig:
		return "the rig: " + c.Name
	case RigCheck:
		return fmt.Sprintf("a known mass on the rig: %s kg, shown %s %s", number(c.MassKG), number(c.Shown), c.Unit)
	case Calibrated:
		return c.words()
	case Settings:
		return "settings"
	case DeviceMet:
		return "a device let in: " + c.Name
	}
	return "an entry of another version"
}

func takenBack(t *Trial, e Entry) string {
	if t != nil {
		for _, old := range t.Entries {
			if old.Seq == e.Undoes && old.Kind != e.Kind {
				return "taken back: " + Words(t, old)
			}
			if old.Seq == e.Undoes {
				return "brought back"
			}
		}
	}
	return "taken back"
}

// Words says what a break gave, such as "2140 N, 80 % wood".
func (b Broken) Words() string {
	var parts []string
	switch {
	case b.Unit != "":
		parts = append(parts, b.read())
	case b.Strength > 0:
		parts = append(parts, fmt.Sprintf("%.3g MPa", b.Strength))
	}
	if b.WoodShare != nil {
		parts = append(parts, number(*b.WoodShare)+" % wood")
	}
	if b.Failure != "" {
		parts = append(parts, b.Failure)
	}
	if b.RigLimited {
		parts = append(parts, "rig at its limit")
	}
	if b.SetAside != "" {
		parts = append(parts, "set aside: "+b.SetAside)
	}
	return strings.Join(parts, ", ")
}

// ByWords says who recorded an entry and when, such as "by Ida on phone 2 at 14:03",
// in the trial's time zone; with the date where it is not of the day of now.
func ByWords(t *Trial, e Entry) string {
	by := e.By
	if by == "" {
		by = "somebody"
	}
	zone := time.Local
	if t != nil {
		zone = t.Zone
	}
	if e.Device != "" {
		by += " on " + e.Device
	}
	return "recorded by " + by + " at " + e.At.In(zone).Format("15:04 on 2 January 2006")
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func (m Marks) words() string {
	var parts []string
	for _, k := range []struct {
		what string
		mark int
	}{{"spreads", m.Spreads}, {"squeezes out", m.Squeezes}, {"holds a gap", m.HoldsGap}} {
		if k.mark > 0 {
			parts = append(parts, fmt.Sprintf("%s %d of 5", k.what, k.mark))
		}
	}
	return joined(parts, m.Note)
}

func (c Cured) words() string {
	var parts []string
	if c.Hardness > 0 {
		parts = append(parts, fmt.Sprintf("hardness %d of 5", c.Hardness))
	}
	if c.Flexible > 0 {
		parts = append(parts, fmt.Sprintf("flexibility %d of 5", c.Flexible))
	}
	return joined(parts, c.Note)
}

func (o OnRack) words() string {
	var parts []string
	if o.LengthMM > 0 {
		parts = append(parts, fmt.Sprintf("%s × %s × %s mm", number(o.LengthMM), number(o.WidthMM), number(o.ThickMM)))
	}
	if o.Pieces > 0 {
		parts = append(parts, fmt.Sprintf("%d pieces at hand", o.Pieces))
	}
	if s := joined(parts, o.Note); s != "" {
		return ": " + s
	}
	return ""
}

// joined lists parts with a remark at the end.
func joined(parts []string, note string) string {
	if note != "" {
		parts = append(parts, note)
	}
	return strings.Join(parts, ", ")
}
