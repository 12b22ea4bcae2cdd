// Package trialfile turns a trial file, which a person writes by hand, into a plan.
//
// [Read] reads the file into a [Trial]. It reports everything that is wrong with
// the file at once ([Errors]), and everything that the file leaves open and what
// was taken for it ([Trial.Assumed]). A time, length, price or strength without
// its unit is never guessed. [Example] is a trial file to begin with.
//
// The defaults, with their sources, stand in one place: defaults.go.
package trialfile
