package frametest

import (
	"context"
	"testing"

	"bondtrial/internal/logbook"
	"bondtrial/internal/record"
	"bondtrial/internal/rig"
)

// CalibrationTable holds the readings of a rig that shows about 10 counts a newton
// from about 810 at no load: five masses up to 80 kg, hung up and taken down in three
// series. Made up.
const CalibrationTable = `series,direction,mass_kg,shown
1,up,0,812
1,up,10,1796
1,up,20,2770
1,up,40,4742
1,up,60,6697
1,up,80,8666
1,down,60,6701
1,down,40,4746
1,down,20,2783
1,down,10,1798
1,down,0,814
2,up,0,815
2,up,10,1800
2,up,20,2772
2,up,40,4742
2,up,60,6702
2,up,80,8662
2,down,60,6716
2,down,40,4746
2,down,20,2789
2,down,10,1800
2,down,0,816
3,up,0,809
3,up,10,1792
3,up,20,2765
3,up,40,4738
3,up,60,6697
3,up,80,8655
3,down,60,6704
3,down,40,4744
3,down,20,2777
3,down,10,1802
3,down,0,808
`

// Calibrated returns the calibration that CalibrationTable gives, made on a date.
func (b *Bench) Calibrated(date string) record.Calibrated { return CalibrationOf(b.t, date) }

// CalibrationOf returns the calibration that CalibrationTable gives, made on a date.
func CalibrationOf(t testing.TB, date string) record.Calibrated {
	t.Helper()
	points, err := rig.ParsePoints(CalibrationTable, "weights.csv")
	if err != nil {
		t.Fatal(err)
	}
	g, err := rig.LocalGravity(52, 40)
	if err != nil {
		t.Fatal(err)
	}
	k, err := rig.Calibrate(points, rig.Conditions{Sensor: "Bench cell", ShownUnit: "counts", Resolution: 1, Date: date, Gravity: &g, Weights: rig.Weights{AccuracyPct: 0.1}})
	if err != nil {
		t.Fatal(err)
	}
	return record.Calibrated{Key: k.Key(), Calibration: k}
}

// Calibrate writes the calibration that CalibrationTable gives, made on a date.
func (b *Bench) Calibrate(date string) *rig.Calibration {
	b.t.Helper()
	c := b.Calibrated(date)
	table := logbook.File{Role: "calibration", Name: "weights.csv", MediaType: "text/csv", Content: []byte(CalibrationTable)}
	if _, err := b.Book.Add(context.Background(), record.Who{By: "Ida"}, "", "", c, table); err != nil {
		b.t.Fatal(err)
	}
	return c.Calibration
}
