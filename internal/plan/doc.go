// Package plan turns a trial file into a plan: how many specimens, which piece of
// which board goes where, in which order they are glued and broken, and when.
//
// [Make] is the way in. Its parts are packages of their own that know nothing of
// each other: trialfile reads what a person wrote, howmany finds the number of
// specimens, cut divides the boards, stat/blockdesign deals the adhesives to them,
// shortcode names the specimens, order draws the orders, schedule finds the times.
// Package publish/handout writes a plan down.
package plan
