package answer

import (
	"fmt"
	"math"

	"bondtrial"
	"bondtrial/internal/wood"
)

// dryMoisture is the moisture content that the handbook gives strengths at, and
// that is taken where the readings record none.
const dryMoisture bondtrial.Percent = 12

// A wood that the trial puts far from the handbook points at the rig, the area or
// the unit. Single boards and small joints depart from a species' average by a
// good part (the handbook's own coefficient of variation for shear is 14 %, from
// memory, unconfirmed); half as much again is beyond that.
const (
	handbookHigh = 1.5
	handbookLow  = 0.5
)

// compare puts the handbook's shear strength beside the wood's own, at the mean
// moisture content that the readings record.
func (w *WoodLimit) compare(b *bench) {
	if w.Wood == "" {
		return
	}
	match, err := wood.Find(w.Wood)
	if err != nil {
		w.HandbookNote = "not in the handbook's table"
		return
	}
	moisture, recorded := b.meanMoisture(w.Wood)
	shear, err := match.Shear(moisture)
	if err != nil {
		w.HandbookNote = err.Error()
		return
	}
	w.Handbook = Value(shear.Mean)
	at := fmt.Sprintf("at %.0f %% moisture", float64(moisture))
	if !recorded {
		at += ", as none is recorded"
	}
	switch {
	case shear.Species > 1:
		w.HandbookNote = fmt.Sprintf("mean of %d American species, %s", shear.Species, at)
	case match.GenusOnly:
		w.HandbookNote = fmt.Sprintf("%s, the American species of the genus in the table, %s", match.Species[0].Name(), at)
	default:
		w.HandbookNote = fmt.Sprintf("%s, %s", match.Species[0].Name(), at)
	}
	switch {
	case w.Low.Exists() && float64(w.Low) > handbookHigh*float64(shear.High):
		w.Flag = w.misfit(float64(w.Typical) / float64(shear.High))
	case w.High.Exists() && float64(w.High) < handbookLow*float64(shear.Low):
		w.Flag = w.misfit(float64(w.Typical) / float64(shear.Low))
	}
}

func (w *WoodLimit) misfit(ratio float64) string {
	return fmt.Sprintf("The rig puts the wood's own strength of %s at %.1f times the handbook's shear strength: check the force, the bonded area and their units. "+
		"(If the joint was not loaded in shear, the comparison does not apply.)", w.Wood, ratio)
}

// meanMoisture is the mean moisture content of the used readings of a wood that
// record one.
func (b *bench) meanMoisture(name string) (mean bondtrial.Percent, recorded bool) {
	n := 0.0
	for _, i := range b.used {
		r := &b.readings[i]
		if r.Wood == name && !math.IsNaN(float64(r.MoisturePct)) {
			mean += r.MoisturePct
			n++
		}
	}
	if n == 0 {
		return dryMoisture, false
	}
	return mean / bondtrial.Percent(n), true
}
