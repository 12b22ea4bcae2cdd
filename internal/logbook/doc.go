// Package logbook keeps everything that is written down in trials in one file: a
// logbook.
//
// # The file
//
// A logbook is one SQLite database that any SQLite program can read. Its entries
// stand in the order in which they were written and are only ever added to. What
// was wrong is put right by a new entry that takes the place of the old one
// ([Draft].Replaces) or takes it back ([Draft].Undoes); the old one stays and can
// be read. Files that belong to an entry, such as photos and traces, are inside.
//
// While a logbook is open there are up to four files beside each other, here for
// one named trials.bondtrial:
//
//	trials.bondtrial          the logbook
//	trials.bondtrial-wal      what was written last and is not yet in the first
//	trials.bondtrial-shm      an index of that
//	trials.bondtrial-writer   who has the logbook open for writing
//
// When it has been closed the first holds everything; the last may stay and means
// nothing then. After a power cut all of them belong together and the next opening
// puts them in order. Copying a file by hand while it is open may miss what was
// written last: [Backup] does not. [Logbook.Settle] keeps that little.
//
// # What is live
//
// An entry stands unless an entry that stands undoes it. It is live if it stands
// and no entry that stands replaces it. So undoing an undo is a redo, undoing a
// correction makes the corrected entry live again, and a correction of a correction
// leaves only the last one live. Only what is live can be replaced or undone, and
// an entry that undoes cannot be replaced, only undone. At no time do two entries
// that stand act on the same one: a redo that would bring that about is refused
// with [*Superseded]. [Live] sorts out the live ones of a trial.
//
// A claim ([Draft].Claim) is a name that one live entry of a trial may hold, such as
// the break of a specimen. Whoever comes second gets [*Taken].
//
// # What can go wrong
//
// Each entry carries a SHA-256 over the sum of the entry before it, its own fields
// and the sums of its files. [Check] goes through all of them and finds what was
// altered, removed or put in another order by accident or by a careless hand. It is
// no protection against someone who computes all sums anew; a sum written down
// elsewhere ([Report].Sum) is.
//
// At most one process has a logbook open for writing ([*InUse] tells who has);
// reading, checking and backing up work meanwhile. The file belongs on a disk of the
// machine itself: locks and syncing are not to be relied on over a network.
//
// The package knows nothing of what entries mean. It knows no clock of its own: it
// is handed one, and where that has been set back, entries keep their order and say
// so ([Entry].Behind).
//
// Within one process the file must not be opened other than by this package: closing
// it again would drop the locks that SQLite holds on it.
package logbook
