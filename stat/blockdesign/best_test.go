package blockdesign

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

var restarts = flag.Int("restarts", 0, "compute the best efficiencies anew, by so many restarted descents")

// exhaust returns the best efficiency of all designs for p.
func exhaust(p Problem) float64 {
	counts := make([][]int, len(p.Blocks))
	for b := range counts {
		counts[b] = make([]int, len(p.Replications))
	}
	best := 0.0
	left := append([]int(nil), p.Replications...)
	var fill func(b, i, room int)
	fill = func(b, i, room int) {
		if b == len(counts) {
			if sum(left) == 0 {
				best = math.Max(best, Efficiency(counts, p.Weights))
			}
			return
		}
		if i == len(left) {
			if b+1 < len(counts) {
				fill(b+1, 0, p.Blocks[b+1])
			} else {
				fill(b+1, 0, 0)
			}
			return
		}
		for n := range min(left[i], room) + 1 {
			counts[b][i] = n
			left[i] -= n
			fill(b, i+1, room-n)
			left[i] += n
		}
		counts[b][i] = 0
	}
	fill(0, 0, p.Blocks[0])
	return best
}

// All designs of tiny problems, enumerated. Most have unequal blocks or
// replications, some places to spare, some are trees that any exchange can part.
func TestExhaustive(t *testing.T) {
	for i, p := range []Problem{
		{Blocks: []int{2, 2, 2, 2}, Replications: []int{2, 2, 2, 1, 1}},
		{Blocks: []int{2, 3, 3}, Replications: []int{2, 2, 2, 2}},
		{Blocks: []int{2, 2, 3, 3}, Replications: []int{4, 2, 2, 2}},
		{Blocks: []int{1, 2, 3, 4}, Replications: []int{4, 3, 2, 1}},
		{Blocks: []int{3, 3, 3, 3}, Replications: []int{3, 3, 3}},
		{Blocks: []int{5, 4, 3}, Replications: []int{5, 4, 3}},
		{Blocks: []int{3, 3, 3}, Replications: []int{2, 2, 1, 1, 1}},
		{Blocks: []int{6, 2, 2}, Replications: []int{2, 2, 2, 1}},
		{Blocks: []int{2, 2, 2, 4}, Replications: []int{3, 2, 2}, Weights: control(3)},
		{Blocks: []int{3, 3, 3}, Replications: []int{3, 2, 2, 2}, Weights: control(4)},
		{Blocks: []int{2, 2, 2, 2, 2}, Replications: []int{3, 2, 2, 2}},
		{Blocks: []int{2, 2, 1, 0}, Replications: []int{2, 2, 1}},
	} {
		want := exhaust(p)
		for seed := range uint64(3) {
			d := search(t, p, seed, Options{Proposals: 5000})
			if math.Abs(d.Efficiency-want) > rounding {
				t.Errorf("problem %d, seed %d: efficiency %v, best of all %v\n%v", i, seed, d.Efficiency, want, d.Count)
			}
			if d.Bound < want-rounding {
				t.Errorf("problem %d: bound %v below the best, %v", i, d.Bound, want)
			}
		}
	}
}

// descent returns the efficiency that exchanges lead to from a random design, each
// design evaluated afresh. Where there is room, a random choice of blocks is left out.
func descent(p Problem, rng *rand.Rand) float64 {
	var block, held []int
	out := make([]bool, len(p.Blocks))
	spare := p.places() - p.units()
	for _, b := range rng.Perm(len(p.Blocks))[:rng.IntN(len(p.Blocks))] {
		if p.Blocks[b] <= spare {
			out[b] = true
			spare -= p.Blocks[b]
		}
	}
	for b, k := range p.Blocks {
		for range k {
			if out[b] {
				break
			}
			block = append(block, b)
			held = append(held, -1)
		}
	}
	at := 0
	for i, r := range p.Replications {
		for range r {
			held[at] = i
			at++
		}
	}
	rng.Shuffle(len(held), func(a, b int) { held[a], held[b] = held[b], held[a] })
	counts := make([][]int, len(p.Blocks))
	value := func() float64 {
		for b := range counts {
			counts[b] = make([]int, len(p.Replications))
		}
		for place, i := range held {
			if i >= 0 {
				counts[block[place]][i]++
			}
		}
		return Efficiency(counts, p.Weights) - 0.001*float64(len(Components(counts))-1)
	}
	best := value()
	for tried, pairs := 0, len(held)*len(held); tried < 2*pairs; tried++ {
		a, b := rng.IntN(len(held)), rng.IntN(len(held))
		if held[a] == held[b] || block[a] == block[b] {
			continue
		}
		held[a], held[b] = held[b], held[a]
		if v := value(); v > best+1e-9 {
			best, tried = v, 0
		} else {
			held[a], held[b] = held[b], held[a]
		}
	}
	return best
}

// Problems of unequal blocks or replications against the best that a long run of
// restarted descent found (testdata/README.md): nothing worse will do.
func TestBest(t *testing.T) {
	for _, row := range records(t, "best.csv") {
		p := Problem{Blocks: integers(t, row[1]), Replications: integers(t, row[2])}
		if row[3] == "control" {
			p.Weights = control(len(p.Replications))
		}
		if *restarts > 0 {
			rng := rand.New(rand.NewPCG(1, 1))
			best := 0.0
			for range *restarts {
				best = math.Max(best, descent(p, rng))
			}
			fmt.Printf("%s: %.6f by %d descents\n", row[0], best, *restarts)
		}
		want := number(t, row[4])
		for seed := range uint64(2) {
			d := search(t, p, seed, Options{})
			t.Logf("%s, seed %d: %.6f, descents %.6f, bound %.6f", row[0], seed, d.Efficiency, want, d.Bound)
			// The last digit of the file is rounded.
			if d.Efficiency < want-0.5e-6 {
				t.Errorf("%s, seed %d: efficiency %.6f, best known %.6f", row[0], seed, d.Efficiency, want)
			}
			if d.Bound < want-0.5e-6 {
				t.Errorf("%s: bound %.6f below the best known, %.6f", row[0], d.Bound, want)
			}
		}
	}
}

// search runs Search and checks what holds for every design.
func search(t testing.TB, p Problem, seed uint64, opts Options) *Design {
	t.Helper()
	d, err := Search(context.Background(), p, rand.New(rand.NewPCG(seed, 1)), opts)
	if err != nil {
		t.Fatal(err)
	}
	checkDesign(t, p, d)
	return d
}

type fataler interface {
	Helper()
	Fatalf(format string, args ...any)
}

func checkDesign(t fataler, p Problem, d *Design) {
	t.Helper()
	for b, row := range d.Count {
		if sum(row) > p.Blocks[b] {
			t.Fatalf("block %d has %d units for %d places", b, sum(row), p.Blocks[b])
		}
	}
	for i, r := range replications(d.Count) {
		if r != float64(p.Replications[i]) {
			t.Fatalf("treatment %d has %v units, want %d", i, r, p.Replications[i])
		}
	}
	fewest, err := p.FewestComponents()
	if err != nil {
		t.Fatalf("%v", err)
	}
	if len(d.Components) != fewest || d.Connected != (fewest == 1) {
		t.Fatalf("components %v, connected %t, want %d", d.Components, d.Connected, fewest)
	}
	if d.Efficiency > d.Bound+rounding {
		t.Fatalf("efficiency %v above the bound %v", d.Efficiency, d.Bound)
	}
	if e := Efficiency(d.Count, p.Weights); e != d.Efficiency {
		t.Fatalf("efficiency %v, want %v", d.Efficiency, e)
	}
}
