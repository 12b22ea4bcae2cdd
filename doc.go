// Package bondtrial holds the vocabulary of a trial of glued joints: the nouns,
// the states a reading can be in, and the rules that need no arithmetic beyond
// a comparison.
//
// # The life of one specimen
//
// Two pieces of wood, cut from a board, are joined with one adhesive: that is a
// [Specimen]. It is glued up in a session, cures, and is broken on a rig. The
// break gives a [Reading]: the nominal strength at the peak, and what the broken
// faces look like. The faces decide what the number means ([Reading.State]):
//
//   - The bond broke. The number is the bond's strength.
//   - The wood broke first. The bond was at least that strong; the number is the
//     strength of the wood.
//   - The rig reached its limit. Both were at least that strong.
//   - The reading is set aside, with a reason. It is kept, listed, and not used.
//
// A number that is only "at least" is an interval with an open upper end, a
// [Bound]. Everything computed from readings is computed from bounds, so that no
// later step can take a lower bound for a result.
//
// # Units
//
// Inside the program force is newton, length millimetre, stress megapascal
// (newton per square millimetre). Other units are converted where they are read
// or written ([Units]), and nowhere else.
//
// # Where the rest is
//
// The packages under stat hold numerical methods and know nothing of joints.
// The packages under internal read tables, answer, draw and publish. This
// package imports none of them.
package bondtrial
