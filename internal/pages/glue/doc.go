// Package glue is the station where specimens are glued up: one at a time, with its
// open time running, what is recorded and how to take it back, the clamps, how the
// adhesives handle, and the air of the shop.
//
// The page carries all that is left to glue as data, so that it moves on to the next
// specimen at once and without a connection. Without scripts every form is sent and
// answered as usual; only the running clock is missing then.
package glue
