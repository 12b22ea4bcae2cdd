package order_test

import (
	"slices"
	"testing"

	"bondtrial/internal/plan/order"
)

// What a seed gives stays as it is: whoever changes it gives Algorithm another
// version. Computed by this package (mirror orders, version 1) with
// rand.New(rand.NewPCG(7, 1)).
func TestFrozenOrders(t *testing.T) {
	if order.Algorithm != "mirror orders, version 1" {
		t.Errorf("frozen orders of another algorithm than %q", order.Algorithm)
	}
	batched := alike(3, 4, 3)
	for i := range batched {
		batched[i].Batch = 3
	}
	for _, c := range []struct {
		name            string
		specimens       []order.Specimen
		sequence, batch []int
	}{
		{"even and odd cells, one alone, N odd", trial([]int{4, 3}, []int{3, 1, 1}, []int{2}, []int{1}, []int{6, 2}),
			[]int{22, 2, 17, 12, 8, 11, 6, 15, 4, 1, 18, 19, 3, 9, 20, 7, 10, 5, 14, 13, 16, 0, 21}, nil},
		{"N odd", trial([]int{4, 3}, []int{3, 1, 1}, []int{2}, []int{9}),
			[]int{10, 3, 5, 17, 20, 22, 16, 7, 9, 2, 12, 14, 13, 1, 6, 4, 21, 18, 19, 15, 8, 0, 11}, nil},
		{"batches of at most 3", batched,
			[]int{20, 15, 16, 4, 3, 12, 7, 9, 0, 6, 13, 10, 17, 19, 11, 8, 14, 18, 1, 2, 5}, []int{4, 9, 9, 2, 2, 9, 4, 3, 7, 3, 5, 7, 3, 5, 8, 1, 1, 6, 8, 6, 1}},
	} {
		o := draw(c.specimens, 7)
		if !slices.Equal(o.Sequence, c.sequence) || !slices.Equal(o.Batch, c.batch) {
			t.Errorf("%s: %#v, batches %#v", c.name, o.Sequence, o.Batch)
		}
		for k, i := range o.Sequence {
			if o.Places()[i] != k+1 {
				t.Errorf("%s: specimen %d is at place %d of Places and %d of the sequence", c.name, i, o.Places()[i], k+1)
			}
		}
	}
}
