package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"

	"bondtrial"
)

// DemoFactor is the column of the demo's factor: whether the faces were dampened
// before glueing.
const DemoFactor = "surface"

// DemoSeed is the seed of the readings that "bondtrial demo" writes.
const DemoSeed = 7

// DemoControls are the two adhesives of the demo that were in the crew's trial of
// the year before.
var DemoControls = []string{"Pemmet white", "Quavik foam"}

// Demo is the trial that the demo invents: a crew that repairs outdoor school
// benches of larch and ash wants to know which of six adhesives to carry, and
// whether faces dampened by the weather matter. Names, products and strengths are
// made up. The pattern is that of the trade (common practice, no source): two
// permanently flexible products about equal, stiff ones two to four times as
// strong, and a softwood that gives way before the strongest do.
func Demo() *Truth {
	return &Truth{
		Adhesives: []Adhesive{
			{Name: "Ombrin two-part", Strength: []float64{10.8, 10.4}, SD: 0.13},
			{Name: "Pemmet white", Strength: []float64{6.6, 6.0}, SD: 0.12},
			{Name: "Quavik foam", Strength: []float64{9.6, 8.6}, SD: 0.15},
			{Name: "Rastel flex", Strength: []float64{3.4, 3.3}, SD: 0.14},
			{Name: "Sundrel flex", Strength: []float64{3.5, 3.4}, SD: 0.14},
			{Name: "Tolmar paste", Strength: []float64{14.2, 13.4}, SD: 0.13},
		},
		Woods: []Wood{
			{Name: "ash", Strength: 13.2, SD: 0.13, Boards: 6},
			{Name: "larch", Strength: 9.2, SD: 0.14, Boards: 6},
		},
		Factor:   &Factor{Name: DemoFactor, Levels: []string{"damp", "dry"}, Ratio: []float64{0.95, 1}},
		BoardSD:  0.07,
		RigLimit: 15,
		Least:    3,
		Most:     5,
	}
}

// DemoReadings invents the demo's readings: those of Demo, rounded as a display
// shows them, with three specimens spoiled and set aside.
func DemoReadings(seed uint64) []bondtrial.Reading {
	rng := rand.New(rand.NewPCG(seed, 0xb01d))
	rs := Demo().Readings(rng)
	for i := range rs {
		rs[i].Strength = bondtrial.Megapascal(math.Round(float64(rs[i].Strength)*100) / 100)
	}
	spoiled := rng.Perm(len(rs))
	for k, reason := range []string{"slipped in the grips", "pieces shifted while clamping", "knocked off the bench before the break"} {
		r := &rs[spoiled[k]]
		r.SetAside = reason
		r.RigLimited = false
		if k > 0 {
			r.Strength, r.WoodFailure, r.BreakOrder = 0, bondtrial.Percent(math.NaN()), 0
		}
	}
	return rs
}

// DemoStory says in two sentences what the demo is about.
func DemoStory() string {
	t := Demo()
	return fmt.Sprintf("A crew repairs outdoor school benches of %s and %s. Which of %d adhesives should be in the van, and does it matter that faces are damp? "+
		"%s and %s were in last year's trial and are here as controls.",
		t.Woods[1].Name, t.Woods[0].Name, len(t.Adhesives), DemoControls[0], DemoControls[1])
}
