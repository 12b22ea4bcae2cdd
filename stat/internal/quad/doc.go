// Package quad holds what the distributions under stat share: the density they
// integrate over, and the root finder behind their quantiles.
package quad
