// Package frame is what all pages share: the desk they stand on, the layout around
// them, who is writing, how errors are told, and the news of entries.
//
// A station is a package beside this one. It has handlers of the type Handler, a
// struct and a template for each page, and computes nothing: what a page shows comes
// from package record and those that answer, plan and draw. Style sheets and modules
// of all stations lie in static, where each is named for its station.
package frame
