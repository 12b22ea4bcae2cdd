package order

// The limits are kept in whole numbers, so that whether an order keeps them does
// not hang on the rounding of a platform. The deviation of an adhesive is twice
// the sum of its places less n(N+1), n its count: 0 when its mean place is the
// middle, and 2n for a place off.
const (
	// |mean - middle| ≤ 2 % of N is |deviation| ≤ N·n/25.
	meanLimit = 25
	// r² is 3·deviation²/(n·(N-n)·(N²-1)) for places 1 to N, so that |r| ≤ 1/20 is
	// deviation² ≤ n·(N-n)·(N²-1)/1200.
	rLimit = 1200
)

// limits returns the largest deviation allowed to each adhesive; -1 is without
// limit, for an adhesive of one unit.
func limits(count []int, total int) []int {
	singles := 0
	for _, n := range count {
		if n == 1 {
			singles++
		}
	}
	limit := make([]int, len(count))
	for a, n := range count {
		if n == 1 {
			limit[a] = -1
			continue
		}
		parity := n * (total + 1) % 2
		d := min(total*n/meanLimit, root(n*(total-n)*(total*total-1)/rLimit))
		d -= (d + parity) % 2 // the deviation is as odd as n(N+1)
		least := parity
		if singles%2 == 1 {
			// The one that stands alone pushes the others to the side by half a
			// place each, and their own deviation comes to it.
			least += n
		}
		limit[a] = max(d, least)
	}
	return limit
}

// root returns the whole part of the square root of n ≥ 0.
func root(n int) int {
	if n < 2 {
		return n
	}
	r := n
	for next := (r + 1) / 2; next < r; next = (r + n/r) / 2 {
		r = next
	}
	return r
}

// excess returns by how much the worst adhesive is beyond its limit, in
// thousandths of a place of its mean, and 0 when all keep it.
func excess(sequence []int, units []unit, count, limit []int) int {
	deviation := make([]int, len(count))
	for k, i := range sequence {
		deviation[units[i].adhesive] += 2*(k+1) - len(sequence) - 1
	}
	worst := 0
	for a, d := range deviation {
		if d = max(d, -d); limit[a] >= 0 && d > limit[a] {
			worst = max(worst, 500*(d-limit[a])/count[a], 1)
		}
	}
	return worst
}

// reach returns the widest window in which pairs may be mixed: so wide that the
// limit of every adhesive is four standard deviations of what the mixing does to
// its sum.
//
// Within a window of w pairs the difference of old and new rank has variance
// (w²-1)/6; a rank is distances/pairs places, and an adhesive of n units has n/2
// pairs at most.
func reach(count, limit []int, pairs, distances int) int {
	widest := pairs
	for a, n := range count {
		if n > 1 {
			ratio := 3 * limit[a] * limit[a] / (16 * n)
			widest = min(widest, root(1+ratio*pairs/distances*pairs/distances))
		}
	}
	return max(widest, 2)
}
