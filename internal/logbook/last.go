package logbook

import "context"

// Last returns the last entry of the logbook; ok is false where there is none.
func (l *Logbook) Last(ctx context.Context) (e Entry, ok bool, err error) {
	entries, err := l.entries(ctx, "WHERE seq = (SELECT max(seq) FROM entry) ORDER BY seq")
	if err != nil || len(entries) == 0 {
		return Entry{}, false, err
	}
	return entries[0], true, nil
}
