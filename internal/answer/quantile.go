package answer

import (
	"math"
	"runtime"
	"sync"
)

// quantile is the quantile p of the values.
func quantile(values []float64, p float64) float64 { return quantiles(values, p)[0] }

// quantiles returns the quantiles p, which must ascend, of the values, linear
// between the order statistics (definition 7 of Hyndman and Fan 1996). An answer
// asks for a few quantiles of hundreds of long lists: they are selected (Hoare
// 1961) and the rest is left unsorted.
func quantiles(values []float64, p ...float64) []float64 {
	work := append([]float64(nil), values...)
	q := make([]float64, len(p))
	from := 0
	for k, p := range p {
		h := p * float64(len(work)-1)
		i := int(h)
		selectNth(work[from:], i-from)
		q[k] = work[i]
		if rest := work[i+1:]; len(rest) > 0 && h > float64(i) {
			next := math.Inf(1)
			for _, x := range rest {
				next = min(next, x)
			}
			q[k] += (h - float64(i)) * (next - work[i])
		}
		from = i
	}
	return q
}

// selectNth puts the n-th smallest value at index n, nothing larger before it and
// nothing smaller after it.
func selectNth(x []float64, n int) {
	lo, hi := 0, len(x)-1
	for lo < hi {
		// The middle of three as the pivot keeps sorted and constant lists quick.
		mid := lo + (hi-lo)/2
		if x[mid] < x[lo] {
			x[mid], x[lo] = x[lo], x[mid]
		}
		if x[hi] < x[lo] {
			x[hi], x[lo] = x[lo], x[hi]
		}
		if x[hi] < x[mid] {
			x[hi], x[mid] = x[mid], x[hi]
		}
		pivot := x[mid]
		i, j := lo, hi
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for x[j] > pivot {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i++
				j--
			}
		}
		switch {
		case n <= j:
			hi = j
		case n >= i:
			lo = i
		default:
			return
		}
	}
}

// inParallel calls f for 0 to n−1, several at a time.
func inParallel(n int, f func(i int)) {
	var wg sync.WaitGroup
	next := make(chan int)
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := range next {
				f(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
}
