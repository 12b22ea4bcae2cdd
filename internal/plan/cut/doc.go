// Package cut turns boards into the pieces of a trial: how many pieces a board
// yields, which cuts make them, and what is left over.
//
// # How a board is cut
//
// Every piece has the same length (along the grain), width and thickness, and is
// never turned: its length lies along the board's, its width across it, its
// thickness in the board's. A board is cut in this order:
//
//  1. The ends are trimmed, and the edges if asked for.
//  2. Strips of a piece's width are ripped, with a saw kerf between them.
//  3. Each strip is resawn into layers, if allowed: a piece's thickness and its
//     planing loss each, with a resaw kerf between them. Without resawing a strip is
//     one layer.
//  4. Each layer is crosscut into pieces, with a saw kerf between them.
//  5. Each piece is planed to its thickness.
//
// A cut beside wood that is left over takes its kerf from what is left; where less
// than a kerf is left, the cut takes all of it. In thickness that little is planed
// away instead.
//
// # Why no other layout yields more
//
// For pieces of one size that are not turned, this grid is the best there is. Let
// every piece be grown by one kerf in each direction, and the trimmed board too. The
// grown pieces do not overlap, and each of them, half open, contains exactly one
// point of the lattice whose steps are the grown piece's sides. The grown board holds
// as many such points as the product of the three rounded-down quotients, which is
// what the grid yields. So [Yield] is at once an upper bound, and the fewest boards
// for a number of pieces are found by taking the boards that yield most ([Fewest]).
//
// # Arithmetic
//
// Lengths are in mm and are taken to the nearest micrometre; from there on the
// arithmetic is in whole numbers, so that 3 × 1.1 mm fit into 3.3 mm.
package cut
