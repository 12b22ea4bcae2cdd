//go:build race

package home_test

// trialsShown is how many trials the test of speed shows.
const trialsShown = 5
