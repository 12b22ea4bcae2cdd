// Package handout writes a plan down for the bench: the plan to read, as a table
// and for programs, the papers, the calendar, and an empty table of readings that
// answer takes when it is filled in.
//
// Files returns them all, by name. The same plan gives the same bytes: the date on
// paper is the trial's first day, and no clock is read.
package handout
