// Package record says what the entries of a logbook mean: which kinds there are
// and what each holds (kinds.go), what may be written when (write.go, rules.go), and what the
// entries of a trial come to (Trial).
//
// A Trial is folded from the live entries of a trial in their order: those that no
// later one replaces or takes back. Nothing is stored beside the entries, so that a
// trial can be shown as it stood at any time (At).
//
// A Book is what the pages talk to. It keeps folded trials in memory, writes
// entries through package logbook, and tells subscribers of each.
package record
