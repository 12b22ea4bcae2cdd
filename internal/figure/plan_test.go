package figure

import (
	"strings"
	"testing"
)

// plans are what the figure of a plan is tried with.
func plans() []Plan {
	var few, many PlanWood
	few.Wood = "thermally modified ash from the upper valley, quarter-sawn and very long"
	for n := 2; n <= 12; n++ {
		few.N, few.Found, few.Limited = append(few.N, n), append(few.Found, float64(n-2)/10), append(few.Limited, 0.35)
	}
	for n := 2; n <= 60; n++ {
		many.N, many.Found, many.Limited = append(many.N, n), append(many.Found, float64(n-2)/58), append(many.Limited, 0)
	}
	one := PlanWood{N: []int{5}, Found: []float64{0.5}, Limited: []float64{0.5}}
	return []Plan{
		{"25 %", 0.8, 9, []PlanWood{few, few}},
		{"12.5 %", 0.9, 0, []PlanWood{many}},
		{"10 %", 0.8, 5, []PlanWood{one}},
	}
}

func TestPlanChance(t *testing.T) {
	if PlanChance(Plan{}, Column()) != nil || PlanChance(Plan{Woods: []PlanWood{{Wood: "ash"}}}, Column()) != nil {
		t.Error("a figure of nothing")
	}
	alt := PlanChance(plans()[0], Column()).Alt
	for _, want := range []string{"25 % is found, wanted 80 %", "very long: 2 specimens <1 %, the wood ends 35 %", "12 specimens >99 %, the wood ends 35 %."} {
		if !strings.Contains(alt, want) {
			t.Errorf("no %q in %s", want, alt)
		}
	}
}
