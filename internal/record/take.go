package record

import (
	"bytes"
	"context"
	"errors"
	"fmt"

	"bondtrial/internal/logbook"
	"bondtrial/internal/table"
)

// TakeIn takes a table of readings in as a finished trial. The table is kept as it
// came. It returns the trial's name in the logbook and what there is to know about
// how the table was read. Sent again with the same key it is the same trial. Errors are those of package table.
func (b *Book) TakeIn(ctx context.Context, who Who, a Asked, fileName string, content []byte, opt table.Options) (id string, notes []string, err error) {
	opt.Factors = a.Factors
	data, err := table.Read(bytes.NewReader(content), fileName, opt)
	if err != nil {
		return "", nil, err
	}
	a = tidied(a).(Asked)
	if a.Table = table.Name(fileName); a.Table == "" {
		a.Table = "table"
	}
	if err := a.check(); err != nil {
		return "", nil, err
	}
	items := make([]Item, len(data.Readings))
	for i := range data.Readings {
		c := brokenOf(&data.Readings[i]).tidied()
		code := data.Readings[i].Code
		if err := errors.Join(name("code", code), text("code", code, longestName), c.check()); err != nil {
			return "", nil, fmt.Errorf("%s, line %d: %w", fileName, c.Line, err)
		}
		items[i] = Item{Subject: code, Content: c}
	}
	file := logbook.File{Role: "table", Name: a.Table, MediaType: "text/csv", Content: content}
	id, err = b.open(ctx, who, a, []logbook.File{file}, items)
	return id, data.Notes, err
}
