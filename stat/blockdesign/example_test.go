package blockdesign_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"

	"bondtrial/stat/blockdesign"
)

// Seven treatments, three units of each, in seven blocks of three. A balanced design
// exists, and no design is better.
func ExampleSearch() {
	p := blockdesign.Problem{
		Blocks:       []int{3, 3, 3, 3, 3, 3, 3},
		Replications: []int{3, 3, 3, 3, 3, 3, 3},
	}
	d, err := blockdesign.Search(context.Background(), p, rand.New(rand.NewPCG(1, 1)), blockdesign.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("efficiency %.4f, bound %.4f, connected %t\n", d.Efficiency, d.Bound, d.Connected)
	// Output:
	// efficiency 0.7778, bound 0.7778, connected true
}

// Blocks of one unit compare nothing. That is a design, if a useless one; too few
// places are an error.
func ExampleSearch_impossible() {
	p := blockdesign.Problem{Blocks: []int{1, 1, 1, 1}, Replications: []int{2, 2}}
	rng := rand.New(rand.NewPCG(1, 1))
	d, err := blockdesign.Search(context.Background(), p, rng, blockdesign.Options{})
	fmt.Println(d.Connected, d.Components, err)

	p.Replications = []int{4, 3}
	_, err = blockdesign.Search(context.Background(), p, rng, blockdesign.Options{})
	var size *blockdesign.SizeError
	if errors.As(err, &size) {
		fmt.Println(size.Short(), "places short")
	}
	// Output:
	// false [[0] [1]] <nil>
	// 3 places short
}

// Two blocks of three and a pair: treatment 3 is seen only beside treatment 2.
func ExamplePairVariances() {
	counts := [][]int{
		{1, 1, 1, 0},
		{1, 1, 1, 0},
		{0, 0, 1, 1},
	}
	v := blockdesign.PairVariances(counts)
	fmt.Printf("%.1f %.1f %.1f\n", v.At(0, 1), v.At(2, 3), v.At(0, 3))
	// Output:
	// 1.0 2.0 3.0
}
