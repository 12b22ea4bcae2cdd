package figure

import (
	"context"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"

	"bondtrial"
	"bondtrial/internal/answer"
	"bondtrial/internal/simulate"
)

// sample is an answer to draw. The numbers in it are of no interest here; what
// matters is that it has every kind of cell, name and order.
type sample struct {
	name  string
	units bondtrial.Units
	make  func() (*answer.Answer, error)
}

// fewDraws make a rough answer, which is as good to draw as another.
const fewDraws = 1500

func compute(readings []bondtrial.Reading, control string, factors ...string) (*answer.Answer, error) {
	set := answer.DefaultSettings()
	set.Draws, set.Control, set.Factors = fewDraws, control, factors
	return answer.Compute(context.Background(), readings, set)
}

func adhesives(woods int, sd float64, names ...string) []simulate.Adhesive {
	var out []simulate.Adhesive
	for k, n := range names {
		a := simulate.Adhesive{Name: n, SD: sd}
		for w := range woods {
			a.Strength = append(a.Strength, 9.6-1.1*float64(k)/float64(max(len(names)/6, 1))+0.6*float64(w))
		}
		out = append(out, a)
	}
	return out
}

// workshop is 6 adhesives on 2 woods, damp and dry, some ninety specimens: a
// third wood-limited, four set aside, two at the rig's limit.
func workshop() []bondtrial.Reading {
	t := simulate.Truth{
		Adhesives: adhesives(2, 0.11, "Tarn", "Skerry", "Fell two-part", "Ghyll", "Holm quick", "Beck hide"),
		Woods:     []simulate.Wood{{Name: "ash", Strength: 9.6, SD: 0.08, Boards: 5}, {Name: "larch", Strength: 7.9, SD: 0.09, Boards: 5}},
		Factor:    &simulate.Factor{Name: "prep", Levels: []string{"dry", "damp"}, Ratio: []float64{1, 0.82}},
		BoardSD:   0.05, Least: 3, Most: 5,
	}
	rs := t.Readings(rand.New(rand.NewPCG(7, 11)))
	for _, k := range []int{5, 30, 51, 80} {
		rs[k].SetAside = "slipped in the grips"
	}
	rs[1].RigLimited, rs[40].RigLimited = true, true
	return rs
}

func samples() []sample {
	return []sample{
		{"workshop", bondtrial.SI, func() (*answer.Answer, error) { return compute(workshop(), "", "prep") }},
		{"psi", bondtrial.US, func() (*answer.Answer, error) { return compute(workshop(), "", "prep") }},
		{"control", bondtrial.SI, func() (*answer.Answer, error) { return compute(workshop(), "Ghyll", "prep") }},
		{"single", bondtrial.SI, func() (*answer.Answer, error) {
			t := simulate.Truth{Adhesives: adhesives(1, 0.1, "Tarn"), Woods: []simulate.Wood{{Strength: 10, SD: 0.1, Boards: 1}}, Least: 12, Most: 12}
			rs := t.Readings(rand.New(rand.NewPCG(1, 2)))
			for k := range rs {
				rs[k].Board = ""
			}
			return compute(rs, "")
		}},
		{"long", bondtrial.SI, func() (*answer.Answer, error) {
			t := simulate.Truth{
				Adhesives: adhesives(1, 0.1, "Slow-setting two-component casein dispersion, batch of May",
					"Slow-setting two-component casein dispersion, batch of June", "Donaudampfschifffahrtsgesellschaftsleimpulver", "Tarn"),
				Woods:  []simulate.Wood{{Name: "thermally modified ash from the upper valley, quarter-sawn", Strength: 9.8, SD: 0.08, Boards: 4}},
				Factor: &simulate.Factor{Name: "prep", Levels: []string{"planed the same day and wiped", "stored for six weeks"}, Ratio: []float64{1, 0.9}},
				Least:  5, Most: 6}
			return compute(t.Readings(rand.New(rand.NewPCG(3, 4))), "", "prep")
		}},
		{"escape", bondtrial.SI, func() (*answer.Answer, error) {
			t := simulate.Truth{Adhesives: adhesives(1, 0.1, `<b>&"'</b>`, "Pérolé-Grønland №5 Łyżka", "", "胶水\x00\x1b", "]]>&amp;"),
				Woods: []simulate.Wood{{Name: `frêne & <ash>"`, Strength: 9, SD: 0.08, Boards: 3}}, Least: 5, Most: 6}
			return compute(t.Readings(rand.New(rand.NewPCG(5, 6))), "")
		}},
		{"twelve", bondtrial.SI, func() (*answer.Answer, error) {
			var names []string
			for k := range 12 {
				names = append(names, []string{"Tarn", "Skerry", "Fell", "Ghyll", "Holm", "Beck"}[k%6]+fmt.Sprintf(" %c", 'A'+k/6))
			}
			t := simulate.Truth{Adhesives: adhesives(1, 0.12, names...),
				Woods: []simulate.Wood{{Name: "beech", Strength: 10.5, SD: 0.08, Boards: 6}}, BoardSD: 0.05, Least: 6, Most: 8}
			return compute(t.Readings(rand.New(rand.NewPCG(8, 9))), "")
		}},
		{"built", bondtrial.SI, func() (*answer.Answer, error) { return built(), nil }},
		{"cut", bondtrial.US, func() (*answer.Answer, error) {
			a := built()
			a.Cells = a.Cells[4:5]
			a.Cells[0].High, a.Counts.Used = 2000, 3
			return a, nil
		}},
	}
}

var computed sync.Map // name → func() (*answer.Answer, error)

func (s sample) answer(t testing.TB) *answer.Answer {
	t.Helper()
	once, _ := computed.LoadOrStore(s.name, sync.OnceValues(s.make))
	a, err := once.(func() (*answer.Answer, error))()
	if err != nil {
		t.Fatalf("%s: %v", s.name, err)
	}
	return a
}
