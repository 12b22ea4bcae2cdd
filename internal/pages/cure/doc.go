// Package cure is the station where adhesives are looked at while they cure: what is
// due, how hard and how flexible each has become, remarks and photos.
//
// What is not hard yet is warned of, never locked. Looks that no plan asks for can
// be written down at any time, so that trials without a plan have them too.
package cure
