// Package logger reads what loggers write: plain text with a column of force, usually
// one of time and one of travel, separated by commas, semicolons, tabs or spaces.
//
// [Read] finds out by itself how the numbers are separated, which decimal mark they
// have, where they begin, and from the header which column is which and in which unit,
// and says what it found ([Result.Notes]). [Options] overrule it. A unit is never
// guessed: where the header names none, the file is refused with what to write.
//
// # What is understood
//
//   - UTF-8 with or without a mark, UTF-16 with one; lines that end in LF, CRLF or CR.
//   - Lines of comment, which begin with #, %, //, !, * or '; blank lines; a header that
//     is repeated between the numbers. They are left out and counted.
//   - Lines of other text before the numbers, as loggers write about themselves. The
//     last of them with as many fields as the numbers is the header; a line of units
//     between header and numbers is read too; a header may stand in a comment.
//   - Numbers with a decimal point or, where fields are not separated by commas, a
//     decimal comma; in quotation marks or not. Separators of thousands are refused.
//   - Time in s, ms, µs, min, or as hh:mm:ss with fractions and with or without a date
//     before it: seconds from the first then. Past midnight it goes on.
//   - Force in N, mN, kN, MN, lbf, kgf, gf, ozf, or counts with a calibration; travel in
//     mm, µm, cm, m, in, mil.
//   - A last line that was cut off in the middle is left out, with a note.
//
// # How it goes
//
// The file is read once, in blocks of about a mebibyte that end at the end of a line.
// Blocks are understood on several processors and put together in order, so that the
// result does not depend on how many there are. Memory is bounded: some blocks and the
// samples ([Options.MaxSamples]); [Stream] hands the samples on and keeps none.
package logger
