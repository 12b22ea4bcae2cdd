// Package answers is the station Answer: it computes the answer of a trial in the
// background, keeps it, and shows it with the readings behind every number.
//
// A [Keeper] holds the answers. An answer goes by the SHA-256 of all it depends on:
// the readings as readings.csv has them, the settings and the version of the program.
// So a reading that is corrected gives another answer, and the same readings with the
// same settings are computed once. What is computed is what package table reads from
// readings.csv: whoever hands that file to the command line with the same settings
// gets the same numbers.
package answers
