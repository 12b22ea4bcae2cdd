// Package form is the bridge between a form of fields that a person fills in and a
// trial file.
//
// A [Form] holds what was typed, as it was typed, so that nothing is lost when it
// is wrong. [FromValues] takes it from a form that was sent, [Parse] from a trial
// file; [Form.Fields] gives a page what it needs to show it, [Form.TOML] writes it
// as a trial file, and [Form.Check] reads that file and says of each problem which
// field it belongs to, in words that fit a form.
//
// A field is named for its place in the trial file: "name", "adhesive.0.open",
// "board.2.length_mm", "factor.0.levels.1", "work.days_off", "work.hours.friday".
// Rows are counted from 0. A blank field is one that the trial file leaves out.
package form
