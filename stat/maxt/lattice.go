package maxt

// latticeVector is the generating vector of rank-1 lattices with 512, 1024, …,
// 8192 points: the k-th coordinate of the i-th of n points is the fraction
// i·latticeVector[k]/n leaves of 1. It was found component by component; the
// search and its criterion are searchLattice in lattice_test.go.
var latticeVector = [...]int{
	1, 1245, 1857, 2649, 2153, 3545, 215, 3923, 285, 875, 1255, 2613,
	3359, 3593, 1811, 2425, 2871, 2969, 1993, 1791, 451, 1043, 607, 2905,
	277, 1133, 99, 3001, 801, 3375, 807, 367, 3853, 2259, 151, 837,
	1187, 725, 2715, 3653, 2503, 1069, 1097, 3275, 3113, 25, 1141, 3043,
}
