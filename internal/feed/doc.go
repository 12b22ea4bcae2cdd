// Package feed records live readings: lines of text that a load cell's board, a
// pipe, a recorded file or a simulated rig sends, each with the time it arrived.
//
// # The way of a line
//
//  1. A [Source] gives lines, one at a time, and says what happens to it in between
//     ([Unplugged], [Back]). [Serial], [Pipe], [Replay] and [Simulator] are sources.
//  2. A [Recorder] reads a source and never stops for anything that arrives. It keeps
//     lines in memory, and in a side file where the sink falls far behind.
//  3. A [Parser] makes samples of lines, by a [Pattern] that is given or found by
//     looking at the first lines ([Detect]).
//  4. A sink is handed a [Batch] of lines, samples and events at least every 100 ms
//     while there are any. A [Journal] is one: a text file that outlives a crash.
//
// # What is kept
//
// A journal keeps lines as they came, and not what was made of them: read again
// ([ReadJournal]) with the same pattern they give the same samples, and with another
// pattern better ones where the first was wrong.
//
// # What is not used
//
// A line is never mended. The first line after a port was opened may lack its
// beginning, the last one before it was unplugged its end, and one that is longer
// than [MaxLine] was no reading: all three are kept and counted, and none becomes a
// sample, however much like a number it looks.
//
// # Patterns
//
// A pattern is a line with names in braces where the readings stand:
//
//	{time_ms},{counts}
//	{skip} F={force_n} N; x={travel_mm} mm
//	{time_s:comma};{force_kn:comma}
//
// The names, and what becomes of the number:
//
//	{time_s} {time_ms} {time_us} {time_min}                the device's clock, to seconds
//	{counts}                                               as sent; the rig's calibration makes newton of it
//	{force_n} {force_kn} {force_kgf} {force_gf} {force_lbf} to newton; kilograms are kgf, at standard gravity
//	{travel_mm} {travel_um} {travel_cm} {travel_m} {travel_in} to millimetre
//	{travel}                                               as sent, unit not known
//	{skip}                                                 any text, up to what stands after it
//
// Each of time, force (or counts) and travel may stand once, and force or counts
// must. ":comma" after a name says that the number has a decimal comma. Everything
// else in a pattern must stand in the line as it is, capitals too; {{ and }} are
// braces themselves. Blanks (spaces and tabs) around anything are passed over; a
// blank in the pattern asks for at least one. The whole line must fit, so a pattern
// for lines with more at their end finishes with {skip}.
package feed
