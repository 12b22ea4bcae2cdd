package gibbs

import "math"

// RHat is the rank-normalised split R-hat of draws from several chains, the
// larger of the plain and the folded one (Vehtari et al. 2021, section 4). Draws
// holds the chains one after another, all of one length. It is 1 where the
// chains agree; above 1.01 they should not be used. It is NaN where all draws
// are equal. RHat panics unless chains divides len(draws) and leaves at least 4
// draws a chain.
func RHat(draws []float64, chains int) float64 {
	bulk := plainRHat(normalScores(splitChains(draws, chains)), 2*chains)
	return max(bulk, plainRHat(normalScores(splitChains(folded(draws), chains)), 2*chains))
}

// ESSBulk is the effective sample size of the rank-normalised split draws: how
// many independent draws would tell as much of the middle of the distribution
// (Vehtari et al. 2021, section 4). Arguments as for RHat.
func ESSBulk(draws []float64, chains int) float64 {
	return ess(normalScores(splitChains(draws, chains)), 2*chains)
}

// ESSTail is the smaller of the effective sample sizes of the 5 % and the 95 %
// quantile (Vehtari et al. 2021, section 4). Arguments as for RHat.
func ESSTail(draws []float64, chains int) float64 {
	checkShape(draws, chains)
	inOrder := sorted(draws)
	return essTail(draws, inOrder, chains)
}

func essTail(draws, sorted []float64, chains int) float64 {
	least := math.Inf(1)
	for _, p := range []float64{0.05, 0.95} {
		q := quantileSorted(sorted, p)
		below := make([]float64, len(draws))
		for i, x := range draws {
			if x <= q {
				below[i] = 1
			}
		}
		least = min(least, ess(splitChains(below, chains), 2*chains))
	}
	return least
}

// ESSMean is the effective sample size of the mean of the draws as they are,
// without ranks. Arguments as for RHat.
func ESSMean(draws []float64, chains int) float64 {
	return ess(splitChains(draws, chains), 2*chains)
}

func checkShape(draws []float64, chains int) {
	if chains < 1 || len(draws)%chains != 0 || len(draws)/chains < 4 {
		panic("gibbs: draws must hold chains of equal length, at least 4 each")
	}
}

// splitChains checks the shape and drops the middle draw of chains of odd
// length, so that every chain can be taken as two.
func splitChains(draws []float64, chains int) []float64 {
	checkShape(draws, chains)
	n := len(draws) / chains
	if n%2 == 0 {
		return draws
	}
	split := make([]float64, 0, len(draws)-chains)
	for k := range chains {
		c := draws[k*n : (k+1)*n]
		split = append(append(split, c[:n/2]...), c[n/2+1:]...)
	}
	return split
}

func folded(x []float64) []float64 {
	inOrder := sorted(x)
	return foldedAbout(x, quantileSorted(inOrder, 0.5))
}

func foldedAbout(x []float64, middle float64) []float64 {
	f := make([]float64, len(x))
	for i, v := range x {
		f[i] = math.Abs(v - middle)
	}
	return f
}

// normalScores replaces each value by Φ⁻¹((rank − 3/8)/(n + 1/4)), ranks of ties
// averaged.
func normalScores(x []float64) []float64 {
	n := len(x)
	order := ascending(x)
	z := make([]float64, n)
	for i := 0; i < n; {
		j := i + 1
		for j < n && order[j].key == order[i].key {
			j++
		}
		rank := float64(i+j+1) / 2
		score := normalQuantile((rank - 0.375) / (float64(n) + 0.25))
		for ; i < j; i++ {
			z[order[i].at] = score
		}
	}
	return z
}

func normalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// moments returns the mean and the sample variance.
func moments(x []float64) (mean, variance float64) {
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	for _, v := range x {
		variance += (v - mean) * (v - mean)
	}
	return mean, variance / float64(len(x)-1)
}

// plainRHat is Vehtari et al. 2021, equations 1 to 4.
func plainRHat(x []float64, chains int) float64 {
	n := len(x) / chains
	means := make([]float64, chains)
	within := 0.0
	for k := range means {
		m, v := moments(x[k*n : (k+1)*n])
		means[k] = m
		within += v / float64(chains)
	}
	_, between := moments(means)
	return math.Sqrt((float64(n-1)/float64(n)*within + between) / within)
}

// ess is the effective sample size by Geyer's initial monotone sequence over the
// combined autocorrelation of the chains (Vehtari et al. 2021, equations 10 to
// 13), at most n·log10(n) for n draws.
func ess(x []float64, chains int) float64 {
	n := len(x) / chains
	total := float64(len(x))
	centred := make([]float64, len(x))
	means := make([]float64, chains)
	within := 0.0
	for k := range means {
		m, v := moments(x[k*n : (k+1)*n])
		means[k] = m
		within += v / float64(chains)
		for i := k * n; i < (k+1)*n; i++ {
			centred[i] = x[i] - m
		}
	}
	_, between := moments(means)
	plus := float64(n-1)/float64(n)*within + between
	rho := func(lag int) float64 {
		if lag == 0 {
			return 1
		}
		sum := 0.0
		for k := range means {
			c := centred[k*n : (k+1)*n]
			for i := lag; i < n; i++ {
				sum += c[i] * c[i-lag]
			}
		}
		return 1 - (within-sum/total)/plus
	}
	tau, last := -1.0, math.Inf(1)
	for lag := 0; ; lag += 2 {
		even := rho(lag)
		pair := even + rho(lag+1)
		if !(pair > 0) || lag+5 >= n {
			// Of the pair that ends the sequence a positive first half still counts.
			tau += max(even, 0)
			break
		}
		last = min(last, pair)
		tau += 2 * last
	}
	return total / max(tau, 1/math.Log10(total))
}

// quantileSorted is the quantile p of sorted values, linear between the order
// statistics (definition 7 of Hyndman and Fan 1996).
func quantileSorted(sorted []float64, p float64) float64 {
	h := p * float64(len(sorted)-1)
	i := int(h)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}

// Diagnosis is how well chains agree and how much their draws are worth.
type Diagnosis struct{ RHat, Bulk, Tail float64 }

// Diagnose returns RHat, ESSBulk and ESSTail together, at less work.
func Diagnose(draws []float64, chains int) Diagnosis {
	scores := normalScores(splitChains(draws, chains))
	inOrder := sorted(draws)
	fold := foldedAbout(draws, quantileSorted(inOrder, 0.5))
	return Diagnosis{
		RHat: max(plainRHat(scores, 2*chains), plainRHat(normalScores(splitChains(fold, chains)), 2*chains)),
		Bulk: ess(scores, 2*chains),
		Tail: essTail(draws, inOrder, chains),
	}
}
