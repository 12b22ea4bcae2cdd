// Package rig turns what a rig shows into a force, and a force into a nominal
// stress, each with its uncertainty and where that comes from.
//
// # From a reading to a stress
//
//	shown ──Calibration──▶ force at the sensor ──Path──▶ load on the specimen ──Geometry──▶ nominal stress
//
// A [Calibration] is made from known loads, hung up and taken down in repeated
// series ([ParsePoints], [Calibrate]). It reads backwards, from what is shown to the
// force ([Calibration.Force]), says where it may not be trusted, and carries
// everything it was made of, so that an old reading keeps the calibration it was
// made with. A [Rig] joins it with the way the force takes ([Path]) and the form of
// the specimen ([Geometry]); [Rig.Read] gives a [Reading] with the budget of its
// stress.
//
// # What an uncertainty covers
//
// The budget follows the GUM to first order (package budget): calibration band,
// repeatability, resolution, reversibility, zero, departure from the curve, the
// known loads themselves, levers, areas, gravity, and the specimen's dimensions. It
// does not cover what no calibration sees: a specimen that sits crooked, friction
// that a dead weight does not meet, a stress that is not even. The stress is
// nominal.
//
// A part of the uncertainty is one and the same error in every reading of the rig
// (budget.Input's Shared): it drops out of a ratio of strengths that were broken on
// one rig with one calibration.
//
// # Standards
//
// The limits of the classes of ISO 7500-1 are from memory, unconfirmed
// ([ClassSource]), and everything said of a class is a self-check and no accredited
// certificate.
//
// Units inside: N, mm, N·mm, MPa, kg, m/s².
package rig
