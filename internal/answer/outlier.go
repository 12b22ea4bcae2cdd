package answer

import (
	"math"
	"slices"
	"sort"

	"bondtrial"
)

// Limits from which a reading is pointed out. All but outlierZ are common practice,
// no source.
const (
	// Of normal readings one in 16,000 lies so many standard deviations from the
	// middle: 2Φ(−4) = 6.3e-5.
	outlierZ = 4
	// A decimal point out of its place makes 10 times, and so does kgf for N.
	slipTimes = 3
	// What is nearer than that is pointed out where it is oddTimes off and outlierZ of
	// a scatter that it does not stretch itself.
	oddTimes = 2
	// Readings that happen to be alike make no scatter less than this.
	leastScatter = 0.05
	// Fewer are no kind that one could be far from.
	fewestLike = 3
	// More in one kind are no slips.
	mostSlips = 50
)

// kind is readings that are looked at together, and those they are held against.
type kind struct {
	readings []int        // indices into bench.readings
	isLike   map[int]bool // of those held against
	like     []float64    // their log strengths, in order
}

// outliers points out readings far from others like them, in the order of the
// readings. None is taken out.
func (f *fitted) outliers(set Settings) []Outlier {
	b := f.bench
	kinds := b.kinds(set)
	var all []float64
	scatters := make([]float64, len(kinds))
	for n := range kinds {
		d := kinds[n].distances(b, set)
		scatters[n] = robust(d)
		all = append(all, d...)
	}
	usual, far := robust(all), f.farByModel(set)
	var out []Outlier
	for n := range kinds {
		k := &kinds[n]
		found := k.slips(b, set, max(usual, scatters[n], leastScatter))
		for _, i := range k.readings {
			if far[i] && !slices.Contains(found, i) {
				found = append(found, i)
			}
		}
		for _, i := range found {
			lo, hi := k.middle(b, i)
			out = append(out, Outlier{i, math.Exp(b.log(i) - (lo+hi)/2)})
		}
	}
	slices.SortFunc(out, func(x, y Outlier) int { return x.Reading - y.Reading })
	return out
}

func (b *bench) log(i int) float64 { return math.Log(float64(b.readings[i].Strength)) }

// kinds are the cells, each held against its bond breaks. Cells of few bond breaks
// are taken together by adhesive and wood, and held against all bond breaks of these;
// where those are few too, against all readings. What is few then is in no kind.
func (b *bench) kinds(set Settings) []kind {
	type of struct{ adhesive, wood string }
	var kinds []kind
	var order []of
	small, broke, used := make(map[of][]int), make(map[of][]int), make(map[of][]int)
	for c := range b.cells {
		cell := &b.cells[c]
		var bonds []int
		for _, i := range cell.Readings {
			if b.readings[i].State(set.Threshold) == bondtrial.BondBroke {
				bonds = append(bonds, i)
			}
		}
		at := of{cell.Adhesive, cell.Wood}
		broke[at], used[at] = append(broke[at], bonds...), append(used[at], cell.Readings...)
		if len(bonds) >= fewestLike {
			kinds = append(kinds, b.kind(cell.Readings, bonds))
			continue
		}
		if small[at] == nil {
			order = append(order, at)
		}
		small[at] = append(small[at], cell.Readings...)
	}
	for _, at := range order {
		switch {
		case len(broke[at]) >= fewestLike:
			kinds = append(kinds, b.kind(small[at], broke[at]))
		case len(used[at]) >= fewestLike:
			kinds = append(kinds, b.kind(small[at], used[at]))
		}
	}
	return kinds
}

func (b *bench) kind(readings, like []int) kind {
	k := kind{readings: readings, isLike: make(map[int]bool, len(like))}
	for _, i := range like {
		k.isLike[i] = true
		k.like = append(k.like, b.log(i))
	}
	slices.Sort(k.like)
	return k
}

// middle returns the two middle ones of the log strengths that a reading is held
// against, itself left out; where their number is odd both are the same.
func (k *kind) middle(b *bench, i int) (lo, hi float64) {
	n, own := len(k.like), len(k.like)
	if k.isLike[i] {
		n--
		own = sort.SearchFloat64s(k.like, b.log(i))
	}
	at := func(j int) float64 {
		if j >= own {
			j++
		}
		return k.like[j]
	}
	return at((n - 1) / 2), at(n / 2)
}

// distances are those of the bond breaks from the middle of the others.
func (k *kind) distances(b *bench, set Settings) []float64 {
	var d []float64
	for _, i := range k.readings {
		if b.readings[i].State(set.Threshold) == bondtrial.BondBroke {
			lo, hi := k.middle(b, i)
			d = append(d, math.Abs(b.log(i)-(lo+hi)/2))
		}
	}
	return d
}

// robust is the standard deviation of normal numbers whose distances from the middle
// are these, by their median, which a few wild ones do not move: 1/Φ⁻¹(3/4) = 1.4826.
func robust(distances []float64) float64 {
	if len(distances) == 0 {
		return 0
	}
	return 1.4826 * quantile(distances, 0.5)
}

// slips finds the readings that are far by slipTimes or oddTimes, the farthest
// first. Each is left out of what the next are held against, so that one that is ten
// times too high makes no other look low.
func (k *kind) slips(b *bench, set Settings, scatter float64) []int {
	var found []int
	for len(k.like) >= fewestLike && len(found) < min(len(k.readings)/2, mostSlips) {
		farthest, at := 0.0, -1
		for _, i := range k.readings {
			if d, far := k.far(b, set, i, scatter); far && d > farthest && !slices.Contains(found, i) {
				farthest, at = d, i
			}
		}
		if at < 0 {
			break
		}
		found = append(found, at)
		if k.isLike[at] {
			own := sort.SearchFloat64s(k.like, b.log(at))
			k.like = slices.Delete(k.like, own, own+1)
			k.isLike[at] = false
		}
	}
	return found
}

// far is how far a reading is from the middle of the others, and whether that is too
// far. A bound may be low for reasons of its own: the wood's, or the rig's.
func (k *kind) far(b *bench, set Settings, i int, scatter float64) (distance float64, far bool) {
	lo, hi := k.middle(b, i)
	x, state := b.log(i), b.readings[i].State(set.Threshold)
	above := x > hi
	distance = max(x-hi, lo-x)
	switch {
	case distance > math.Log(slipTimes):
		return distance, above || state != bondtrial.RigLimited
	case distance > math.Log(oddTimes) && distance > outlierZ*scatter:
		return distance, above || state == bondtrial.BondBroke
	}
	return distance, false
}

// farByModel says which readings are far from the middle of their cell in units of
// the adhesive's scatter, or of twice the adhesives' middle scatter where that is
// less: an adhesive's own is stretched by the very reading that is looked for.
func (f *fitted) farByModel(set Settings) map[int]bool {
	b := f.bench
	scatters := make([]float64, len(f.post.Sigma))
	for g, draws := range f.post.Sigma {
		scatters[g] = quantile(draws, 0.5)
	}
	usual, between := quantile(scatters, 0.5), 0.0
	for _, tau := range f.post.TermSD {
		between += math.Pow(quantile(tau, 0.5), 2)
	}
	far := make(map[int]bool)
	for k := range b.cells {
		c := &b.cells[k]
		if c.N < fewestLike || c.OnlyAtLeast {
			continue
		}
		logs := make([]float64, len(c.Readings))
		for j, i := range c.Readings {
			logs[j] = b.log(i)
		}
		middle := quantile(logs, 0.5)
		sd := math.Sqrt(math.Pow(min(scatters[f.group[k]], 2*usual), 2) + between)
		for j, i := range c.Readings {
			z := (logs[j] - middle) / sd
			if z > outlierZ || z < -outlierZ && b.readings[i].State(set.Threshold) == bondtrial.BondBroke {
				far[i] = true
			}
		}
	}
	return far
}
