package record

import (
	"context"
	"slices"
	"strings"
)

// Things are what stands beside the trials: the shelf, the rack, the rig, and the
// settings of the logbook.
type Things struct {
	Shelf  []Adhesive // in the order of their names
	Rack   []Board    // in the order of woods and names
	Rig    *RigAt     // nil: not described
	Checks []Checked  // of the rig, the latest first
	// Calibrations are those of the rig, the latest written first.
	Calibrations []CalibratedAt
	Settings     Settings
	SettingsAt   Stamp // Seq 0: never set
	Devices      []Met
	Entries      []Entry
}

// Adhesive is an adhesive on the shelf with its entry.
type Adhesive struct {
	Stamp
	Name string
	OnShelf
}

// Board is a board on the rack with its entry.
type Board struct {
	Stamp
	OnRack
}

// RigAt is the rig with its entry.
type RigAt struct {
	Stamp
	Rig
}

// Checked is a known mass on the rig with its entry.
type Checked struct {
	Stamp
	RigCheck
}

// Met is a device that was let in.
type Met struct {
	Stamp
	ID string
	DeviceMet
}

// StandardGravity turns a mass into the force that it hangs with, m/s². It is exact
// by definition (NIST SP 811, appendix B.8); local gravity differs by up to 0.3 %.
const StandardGravity = 9.80665

// Off returns by which share the display read high, 0.01 for 1 %, taking standard
// gravity.
func (c RigCheck) Off() float64 {
	shown, err := Force(c.Shown, c.Unit)
	if err != nil || c.MassKG <= 0 {
		return 0
	}
	return shown/(c.MassKG*StandardGravity) - 1
}

// Things returns what stands beside the trials.
func (b *Book) Things(ctx context.Context) (*Things, error) {
	t, err := b.refresh(ctx, "", b.mark(""))
	if err != nil {
		return nil, err
	}
	first := chains(t.Entries)
	th := &Things{Entries: t.Entries, Settings: Settings{Units: "si"}}
	for _, e := range t.Entries {
		if !e.Live {
			continue
		}
		at := stampOf(e, first)
		switch c := e.Content.(type) {
		case OnShelf:
			th.Shelf = append(th.Shelf, Adhesive{at, e.Subject, c})
		case OnRack:
			th.Rack = append(th.Rack, Board{at, c})
		case Rig:
			th.Rig = &RigAt{at, c}
		case RigCheck:
			th.Checks = append(th.Checks, Checked{at, c})
		case Calibrated:
			th.Calibrations = append(th.Calibrations, CalibratedAt{at, c})
		case Settings:
			th.Settings, th.SettingsAt = c, at
		case DeviceMet:
			th.Devices = append(th.Devices, Met{at, e.Subject, c})
		}
	}
	slices.SortStableFunc(th.Shelf, func(a, b Adhesive) int { return strings.Compare(a.Name, b.Name) })
	slices.SortStableFunc(th.Rack, func(a, b Board) int {
		if c := strings.Compare(a.Wood, b.Wood); c != 0 {
			return c
		}
		return strings.Compare(a.Name, b.Name)
	})
	slices.Reverse(th.Checks)
	slices.Reverse(th.Calibrations)
	return th, nil
}
