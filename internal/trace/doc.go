// Package trace reads figures from the record of one break: force over time and,
// where it was measured, over travel. It finds the peak, the stiffness, the energy,
// how the load fell, and the way of failing in one word. The record stays as it
// came; what was done to a copy of it is counted and said.
//
// [Analyse] does all of it. Its steps, in order:
//
//  1. The clock is checked ([CheckSampling]): uneven steps, gaps, repeated times, a
//     clock that goes back.
//  2. Spikes of up to three samples are taken out (Hampel) and counted.
//  3. Zero, noise and drift come from the quiet start.
//  4. The rig's own travel under load is subtracted where it is known ([Compliance]).
//  5. The peak is the largest force that is left. It is never smoothed.
//  6. The stiffness is the steepest line fitted between 10 and 60 % of the peak; it
//     reaches zero force at the new origin of travel (the toe is taken off).
//  7. Energies, drops and the fall of the load are read from there.
//  8. A word for the way of failing, with its reason, figures and limits ([Failing]).
//
// A figure that a record does not have is a [Number] with the reason, and what is only
// a lower bound for the bond is a [Bound] ([Figures.Response]).
//
// [Watcher] finds breaks in a long or live record, and [Decimate] makes one small
// enough to draw. Files of loggers are read by the package logger below this one, and
// breaks are made up by the package invent.
//
// Time is in seconds, force in newtons, travel in millimetres, energy in joules.
package trace
