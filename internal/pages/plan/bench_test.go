package plan

import "testing"

// Numbers of pieces are written as short as they can be read.
func TestRanges(t *testing.T) {
	for _, c := range []struct {
		numbers []int
		want    string
	}{{nil, ""}, {[]int{3}, "3"}, {[]int{2, 1}, "1, 2"}, {[]int{3, 1, 2, 2}, "1–3"}, {[]int{1, 2, 3, 5, 7, 8}, "1–3, 5, 7, 8"}} {
		if got := ranges(c.numbers); got != c.want {
			t.Errorf("%v is written %q, want %q", c.numbers, got, c.want)
		}
	}
}
