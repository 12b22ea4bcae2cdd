package gibbs

import "slices"

// denseMost is the largest number of parameters left after elimination for which
// they are drawn together; beyond it the blocks are drawn in turn. Tests lower it.
var denseMost = 250

// system is the shape of the linear system behind the means and levels, the same
// for all chains. Its blocks are the cells and each term; within a block the
// precision matrix is diagonal. The largest block is eliminated, the rest is a
// dense system.
type system struct {
	out    int   // the eliminated block: 0 the cells, 1+t term t
	size   []int // of each block
	offset []int // of each block other than out in the dense system
	dim    int   // of the dense system

	links []link    // of each stratum; none where the dense system is too large
	near  [][]int32 // eliminated position → dense positions that share a stratum with it, ascending
	cross []int32   // eliminated position → where its precisions with near begin; one more at the end
}

// link says where a stratum adds to the system.
type link struct {
	out   int32   // eliminated position, −1 for the cell of a learned mean
	cross []int32 // places of the precisions between eliminated and dense positions
	vec   []int32 // dense positions
	dense []int32 // places in the lower triangle of the dense matrix, by rows
}

func newSystem(l *layout) *system {
	s := &system{size: []int{l.cells}, offset: make([]int, 1+len(l.terms))}
	for _, t := range l.terms {
		s.size = append(s.size, t.Levels)
	}
	for k, n := range s.size {
		if n > s.size[s.out] {
			s.out = k
		}
	}
	for k, n := range s.size {
		if k != s.out {
			s.offset[k] = s.dim
			s.dim += n
		}
	}
	if s.dim <= denseMost {
		s.findNear(l)
		s.links = make([]link, len(l.stratum))
		for i := range l.stratum {
			s.links[i] = s.link(s.positions(l, i))
		}
	}
	return s
}

// positions returns where a stratum stands in each block, −1 for the cell of a
// learned mean.
func (s *system) positions(l *layout, stratum int) []int {
	st := &l.stratum[stratum]
	at := append([]int{st.cell}, st.level...)
	if l.learnedBy[st.cell] >= 0 {
		at[0] = -1
	}
	return at
}

func (s *system) findNear(l *layout) {
	s.near = make([][]int32, s.size[s.out])
	for i := range l.stratum {
		at := s.positions(l, i)
		if e := at[s.out]; e >= 0 {
			for k, p := range at {
				if k != s.out && p >= 0 {
					s.near[e] = append(s.near[e], int32(s.offset[k]+p))
				}
			}
		}
	}
	s.cross = make([]int32, 1, len(s.near)+1)
	for e, near := range s.near {
		slices.Sort(near)
		s.near[e] = slices.Clip(slices.Compact(near))
		s.cross = append(s.cross, s.cross[e]+int32(len(s.near[e])))
	}
}

func (s *system) link(at []int) link {
	l := link{out: int32(at[s.out])}
	for k, p := range at {
		if k == s.out || p < 0 {
			continue
		}
		r := int32(s.offset[k] + p)
		l.vec = append(l.vec, r)
		if l.out >= 0 {
			i, _ := slices.BinarySearch(s.near[l.out], r)
			l.cross = append(l.cross, s.cross[l.out]+int32(i))
		}
		for _, r2 := range l.vec {
			l.dense = append(l.dense, r*int32(s.dim)+r2)
		}
	}
	return l
}
