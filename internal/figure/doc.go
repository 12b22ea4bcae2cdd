// Package figure draws an answer: how strong each adhesive is, how the adhesives
// compare, the chance that each is the strongest, and whether strength changed
// along the order of the work.
//
// Each figure is laid out once, in CSS pixels from its top left corner, and then
// drawn through [Surface], five methods of gonum's vg.Canvas. The same drawing so
// becomes an SVG, a PNG, or whatever other canvas is handed to [Figure.Draw].
//
// A figure is made in two steps that can be tested apart: the series, which say
// what is drawn in words and units of the trial (strength.go, pairs.go, chance.go,
// drift.go), and the layout, which says where (the files that end in draw.go).
package figure
