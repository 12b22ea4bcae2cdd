package howmany

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// mixture draws log scatters together. What the readings say of each is what a sum
// of squares would: a log likelihood
//
//	−df·(x + r·e^(−2(x−at))/2),  r = 1 + slope/df
//
// that has the slope found at the place at. Given the spread ω between them the log
// scatters are normal about a common level, which has a flat prior and is
// integrated out. ω is averaged over a grid, by Laplace's approximation at each.
// The likelihoods lean to the right, which lifts means above modes: by half the
// third derivatives times variances, to first order (Tierney and Kadane 1986),
// scaled so that it is exact for a single scatter, as is the variance.
type mixture struct {
	at, slope, df []float64
	up            []float64 // df·logMean(df)
	lean          []float64 // third derivatives over those of the likelihood above

	mean       []float64
	mode, each [][]float64 // given each ω: modes and means
	curve      [][]float64 // curvature at the mode
	level      []float64   // variance of the common level given each ω
	weight     []float64
	pull, row  []float64 // working memory, and the next
	third      []float64
	less       []float64 // what is shared, as it lowers the covariance, of each ω
	shared     float64   // curvature that every pair of log scatters shares
	cross      []float64 // g, o: third derivatives, once in g and twice in o
	crossed    bool
	started    bool
}

// start forgets what was said before.
func (m *mixture) start() {
	m.started, m.crossed, m.shared = false, false, 0
	for g := range m.lean {
		m.lean[g] = 1
	}
}

// spreads is the grid of ω, even on the log scale.
var spreads = func() (grid []float64) {
	for k := range 12 {
		grid = append(grid, 0.015*math.Exp(float64(k)*math.Log(1.5/0.015)/11))
	}
	return grid
}()

// mostLift is how far a mean is put above a mode at most: what one degree of freedom
// gives. Where there is less the first order does not hold.
const mostLift = 0.64

// logMean is the mean, and logVariance the variance, of log(df/X) for X ~ χ² with
// df degrees of freedom; the variance is short of a term of order df⁻³, so that
// dfOf, which inverts it, is simple.
func logMean(df float64) float64 { return math.Log(df/2) - mathext.Digamma(df/2) }

func logVariance(df float64) float64 { return 2/df + 2/(df*df) }

func dfOf(variance float64) float64 { return (1 + math.Sqrt(1+2*variance)) / variance }

func newMixture(groups int) mixture {
	m := mixture{weight: make([]float64, len(spreads)), level: make([]float64, len(spreads)), less: make([]float64, len(spreads)), cross: make([]float64, groups*groups)}
	for _, x := range []*[]float64{&m.at, &m.slope, &m.df, &m.up, &m.lean, &m.mean, &m.pull, &m.row, &m.third} {
		*x = make([]float64, groups)
	}
	for _, x := range []*[][]float64{&m.mode, &m.each, &m.curve} {
		for range spreads {
			*x = append(*x, make([]float64, groups))
		}
	}
	return m
}

// say tells the mixture the slope of a log likelihood at a log scatter, and the
// degrees of freedom behind it.
func (m *mixture) say(g int, at, slope, df float64) {
	df = max(df, 0.5)
	m.at[g], m.slope[g], m.df[g], m.up[g] = at, max(slope, -0.95*df), df, df*logMean(df)
}

// solve computes the mean of every log scatter.
func (m *mixture) solve() {
	if len(m.at) == 1 {
		df := m.df[0]
		m.mean[0] = m.at[0] + 0.5*math.Log1p(m.slope[0]/df) + 0.5*m.lean[0]*logMean(df)
		return
	}
	best := math.Inf(-1)
	for k := range spreads {
		if !m.started {
			copy(m.mode[k], m.at)
		}
		m.weight[k] = m.given(k)
		best = max(best, m.weight[k])
	}
	m.started = true
	sum := 0.0
	for k, w := range m.weight {
		m.weight[k] = math.Exp(w - best)
		sum += m.weight[k]
	}
	clear(m.mean)
	for k := range m.weight {
		m.weight[k] /= sum
		for g, x := range m.each[k] {
			m.mean[g] += m.weight[k] * x
		}
	}
}

// given takes a step of Newton's method towards the modes for one ω, computes the
// means there and returns the log of the weight of ω.
//
// Without what the readings share, the covariance of the log scatters is, with c the
// curvatures and p = 1/(1 + ω²c),
//
//	C = diag(ω²p) + level·p·pᵀ
//
// and what they share adds shared to every element of the inverse (Sherman and
// Morrison 1950).
func (m *mixture) given(k int) float64 {
	w2 := spreads[k] * spreads[k]
	mode, curve, each := m.mode[k], m.curve[k], m.each[k]
	a, az, product, logLik, moved := 0.0, 0.0, 1.0, 0.0, 0.0
	for g, x := range mode {
		e := (m.df[g] + m.slope[g]) * math.Exp(-2*(x-m.at[g]))
		logLik -= m.df[g]*x + 0.5*e
		moved += x - m.at[g]
		curve[g] = 2 * e
		each[g] = x + (e-m.df[g])/curve[g]
		v := w2 + 1/curve[g]
		a += 1 / v
		az += each[g] / v
		product *= 1 + w2*curve[g]
	}
	level, pulls := az/a, 0.0
	m.level[k] = 1 / a
	for g := range mode {
		m.pull[g] = 1 / (w2*curve[g] + 1)
		pulls += m.pull[g]
	}
	steps, rows := 0.0, 0.0
	for g, p := range m.pull {
		each[g] += (level - each[g]) * p
		steps += each[g] - mode[g]
		m.row[g] = p * (w2 + pulls/a)
		rows += m.row[g]
	}
	m.less[k] = m.shared / (1 + m.shared*rows)
	back := m.less[k] * (moved + steps)
	ss, mean := 0.0, 0.0
	for g := range mode {
		x := each[g] - m.row[g]*back
		mode[g] = min(max(x, mode[g]-1), mode[g]+1)
		mean += mode[g] / float64(len(mode))
	}
	moved = 0
	for g, x := range mode {
		ss += (x - mean) * (x - mean) / w2
		moved += x - m.at[g]
	}
	m.lift(k)
	r := spreads[k] / spreadScale
	return math.Log(spreads[k]) - 0.5*(priorDF+1)*math.Log1p(r*r/priorDF) + logLik -
		0.5*(math.Log(product*a)+ss+m.shared*moved*moved+math.Log1p(m.shared*rows))
}

// lift puts the means above the modes.
func (m *mixture) lift(k int) {
	w2 := spreads[k] * spreads[k]
	along, across := 0.0, 0.0
	for g, p := range m.pull {
		own := w2*p + p*p*m.level[k] - m.less[k]*m.row[g]*m.row[g]
		m.third[g] = own * m.curve[k][g] * m.up[g] * m.lean[g]
		if m.crossed {
			n := len(m.pull)
			for o, q := range m.pull {
				if o == g {
					continue
				}
				m.third[g] += 0.5 * m.cross[g*n+o] * (w2*q + q*q*m.level[k] - m.less[k]*m.row[o]*m.row[o])
				m.third[g] += m.cross[o*n+g] * (p*q*m.level[k] - m.less[k]*m.row[g]*m.row[o])
			}
		}
	}
	for g, p := range m.pull {
		along += p * m.third[g]
		across += m.row[g] * m.third[g]
	}
	for g, p := range m.pull {
		up := w2*p*m.third[g] + m.level[k]*p*along - m.less[k]*m.row[g]*across
		m.each[k][g] = m.mode[k][g] + min(max(up, 0), mostLift)
	}
}

// covariance returns the covariance of the log scatters, by the weights of the last
// solve, in out.
func (m *mixture) covariance(out []float64) {
	n := len(m.at)
	if n == 1 {
		out[0] = logVariance(m.df[0]) / 4
		return
	}
	clear(out)
	for k, omega := range spreads {
		w2, pulls := omega*omega, 0.0
		for g := range m.pull {
			m.pull[g] = 1 / (1 + w2*m.curve[k][g]/(1+1/m.df[g]))
			pulls += m.pull[g]
		}
		for g, p := range m.pull {
			m.row[g] = p * (w2 + pulls*m.level[k])
			for o := range g + 1 {
				x := (m.each[k][g]-m.mean[g])*(m.each[k][o]-m.mean[o]) + p*m.pull[o]*m.level[k] - m.less[k]*m.row[g]*m.row[o]
				if o == g {
					x += w2 * p
				}
				out[g*n+o] += m.weight[k] * x
				out[o*n+g] = out[g*n+o]
			}
		}
	}
}
