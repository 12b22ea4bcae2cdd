package quad

import "math"

// rootTol is the width of the bracket at which a root counts as found. It is a
// step in log q, so it is the relative error of q.
const rootTol = 1e-13

// IncreasingRoot returns the root of an increasing function, looking first near
// x and moving away from it in steps that double. It returns NaN if the function
// does.
func IncreasingRoot(f func(float64) float64, x, step float64) float64 {
	a, fa := x, f(x)
	if fa == 0 {
		return a
	}
	if fa > 0 {
		step = -step
	}
	for {
		b := a + step
		fb := f(b)
		if math.IsNaN(fb) || math.IsNaN(fa) {
			return math.NaN()
		}
		if (fb > 0) != (fa > 0) {
			return bracketedRoot(f, a, fa, b, fb)
		}
		a, fa = b, fb
		step *= 2
	}
}

// bracketedRoot finds a root between a and b, at which f has the values fa and
// fb of different sign. Each step is inverse quadratic interpolation where the
// last three points say that it is safe, and bisection otherwise (Chandrupatla
// 1997).
func bracketedRoot(f func(float64) float64, a, fa, b, fb float64) float64 {
	c, fc := a, fa
	t := 0.5
	for {
		x := a + t*(b-a)
		fx := f(x)
		if math.IsNaN(fx) {
			return fx
		}
		// b is the new point's neighbour of other sign, c the point left behind.
		if (fx > 0) == (fa > 0) {
			c, fc = a, fa
		} else {
			c, b = b, a
			fc, fb = fb, fa
		}
		a, fa = x, fx
		best := a
		if math.Abs(fb) < math.Abs(fa) {
			best = b
		}
		if fx == 0 {
			return x
		}
		width := math.Abs(b - a)
		tol := rootTol + 4e-16*math.Abs(best)
		if width <= tol {
			return best
		}
		xi, phi := (a-b)/(c-b), (fa-fb)/(fc-fb)
		t = 0.5
		if phi*phi < xi && (1-phi)*(1-phi) < 1-xi {
			t = fa/(fb-fa)*fc/(fb-fc) + (c-a)/(b-a)*fa/(fc-fa)*fb/(fc-fb)
		}
		tl := 0.5 * tol / width
		t = min(max(t, tl), 1-tl)
	}
}
