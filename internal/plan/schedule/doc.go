// Package schedule says when each specimen of a trial is glued up, released from
// its clamp, looked at while it cures, and broken.
//
// # What is assumed
//
// One pair of hands does everything, one thing at a time: a glue-up (spreading,
// joining, clamping, without a pause between), a release, or a break. Each of them
// lies within one span of working hours and so straddles neither a lunch break nor
// closing time. Cure and clamp time are elapsed time and run through breaks, nights,
// weekends and changes to and from summer time.
//
// Glue-ups keep the glue-up order and breaks the break order, since both were
// randomised. Batches are cartridges or mixes, one open at a time: once another is
// opened, an earlier one is not taken up again.
//
// A clamp is taken from the moment clamping begins until it is off again. Taking it
// off is a short piece of work within working hours ([Request.Release]), at the
// first moment that suits after the clamp time; that a joint stays in its clamp for
// longer, over a night for instance, does no harm. An adhesive without clamp time
// (a rubbed joint, momentary pressure) takes no clamp.
//
// The open assembly time counts from the first adhesive on the wood until the faces
// meet, so spreading and joining both fall into it; the closed assembly time counts
// from there to full pressure. Clamp time and cure count from full pressure.
//
// # How it is found
//
// A list schedule: whenever the hands are free, the thing that can begin first is
// begun, and where several can begin at once one kind goes before another. All six
// rankings of glue-up, release and break are tried and the one that ends first is
// kept (the earlier in the list where two end alike). Beside the result stands a
// [Bound] that no schedule under the same assumptions can beat.
//
// Nothing here reads a clock or a file or draws a random number: the same request
// gives the same plan.
package schedule
