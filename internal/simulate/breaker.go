package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"

	"bondtrial"
)

// Breaker breaks specimens of a truth one by one, in any order. The shifts of boards
// are drawn as boards turn up.
type Breaker struct {
	truth *Truth
	rng   *rand.Rand
	board map[string]*[2]float64 // of wood and board: the bond's shift and the wood's
}

// Breaker returns a breaker that draws from a source.
func (t *Truth) Breaker(rng *rand.Rand) *Breaker {
	return &Breaker{truth: t, rng: rng, board: make(map[string]*[2]float64)}
}

// Break returns the strength of a specimen, MPa, the share of wood on its faces and
// whether the rig stopped first; then there is no share. level is of the truth's
// factor, empty where it has none. What the truth does not know panics.
func (b *Breaker) Break(adhesive, wood, board, level string) (mpa float64, share bondtrial.Percent, rigLimited bool) {
	t := b.truth
	key := wood + "\x00" + board
	shift, ok := b.board[key]
	if !ok {
		shift = &[2]float64{t.BoardSD * b.rng.NormFloat64(), t.BoardSD * b.rng.NormFloat64()}
		b.board[key] = shift
	}
	a, w := t.adhesive(adhesive), t.wood(wood)
	ratio := 1.0
	if t.Factor != nil {
		ratio = 0
		for i, l := range t.Factor.Levels {
			if l == level {
				ratio = t.Factor.Ratio[i]
			}
		}
		if ratio == 0 {
			panic("simulate: no such level: " + level)
		}
	}
	atBond := math.Log(t.strength(adhesive, wood)*ratio) + shift[0] + a.SD*b.rng.NormFloat64()
	atWood := math.Log(w.Strength) + shift[1] + w.SD*b.rng.NormFloat64()
	share = woodShare(atWood < atBond, b.rng)
	mpa = math.Exp(min(atBond, atWood))
	if t.RigLimit > 0 && mpa >= t.RigLimit {
		return t.RigLimit, bondtrial.Percent(math.NaN()), true
	}
	return mpa, share, false
}

func (t *Truth) adhesive(name string) Adhesive {
	for _, a := range t.Adhesives {
		if a.Name == name {
			return a
		}
	}
	panic("simulate: no such adhesive: " + name)
}

func (t *Truth) wood(name string) Wood {
	for _, w := range t.Woods {
		if w.Name == name {
			return w
		}
	}
	panic("simulate: no such wood: " + name)
}

// DemoTrialFile is the trial file of the demo's planned trial: Demo with its
// families, labels and boards made up, work to begin on a day.
func DemoTrialFile(year, month, day int) []byte {
	return fmt.Appendf(nil, demoTrialFile, year, month, day)
}

const demoTrialFile = `name = "School benches"
question = "Which adhesive should be in the van, and does it matter that faces are damp?"
seed = 7
blind = false
control = "Pemmet white"
specimens_per_cell = 4

[[adhesive]]
name = "Ombrin two-part"
family = "epoxy"
price = "11.40 EUR"
content = "50 ml"
specimens_per_batch = 8

[[adhesive]]
name = "Pemmet white"
family = "pva"
price = "6.20 EUR"
content = "750 g"
retested = true

[[adhesive]]
name = "Quavik foam"
family = "polyurethane"
price = "9.80 EUR"
content = "250 g"
retested = true

[[adhesive]]
name = "Rastel flex"
family = "construction"
clamp = "24 h"
price = "7.10 EUR"
content = "290 ml"

[[adhesive]]
name = "Sundrel flex"
family = "hybrid"
open = "10 min"
clamp = "24 h"
cure = "14 d"
price = "8.90 EUR"
content = "290 ml"

[[adhesive]]
name = "Tolmar paste"
family = "epoxy"
price = "24.00 EUR"
content = "400 g"
specimens_per_batch = 8

[[wood]]
name = "ash"
strength = "13.2 MPa"
boards = 6
length_mm = 900
width_mm = 120
thickness_mm = 25

[[wood]]
name = "larch"
strength = "9.2 MPa"
boards = 6
length_mm = 900
width_mm = 120
thickness_mm = 25

[[factor]]
name = "surface"
levels = ["damp", "dry"]

[specimen]
joint = "lap"
length_mm = 80
width_mm = 20
thickness_mm = 8
overlap_mm = 12.5

[work]
start = %04d-%02d-%02d
time_zone = "Europe/Berlin"
clamps = 24
one_cartridge = true
`
