// Package guard decides who may talk to the pages.
//
// # Who is who
//
// The machine itself is whoever connects from a loopback address, asks for a
// loopback name, and was not passed on by a proxy; it needs no account. Every
// other device, such as a phone at the bench, is let in when it shows the cookie
// that it was given for a pairing code. The code stands on the machine's own
// screen: eight digits, good for ten minutes and one device.
//
// # What is refused
//
// In this order, with a sentence that says what to do:
//
//   - 421: a Host that is not one of ours. A foreign page can make its own name
//     point to this machine and read what it likes; its name gives it away.
//   - 403: a request that another site's page caused: every one that could change
//     something, and of the others those that are not a person opening a page.
//   - 303 to the pairing page, or 401 for what is not a page: a device that is not
//     paired, or no longer.
//   - 413: a body larger than the route takes.
//
// # What it does not do
//
// On a local network without TLS, whoever can listen in can read the pages and
// the cookie. Cookies do not tell ports apart, so another server on the same
// machine sees the cookie of a device that visits it. Every user of the machine
// counts as the machine itself, and so does a tunnel that ends on it and says
// nothing of where it comes from.
package guard
