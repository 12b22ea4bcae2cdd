package table

import "strings"

const mostTitleLines = 20 // rows above a header that are looked through

// skipTitle puts the scanner at the header, and settles the separator where no
// line sep= has. Rows above the header are reported, so that what is below is
// looked at in the same run.
func (p *parser) skipTitle(s *scanner) {
	named := s.sep
	at := func(try scanner) (record, *scanner) {
		try.fields = nil
		if named == 0 {
			try.sep = try.detect()
		}
		rec, _ := try.next()
		return rec, &try
	}
	title, try := at(*s)
	s.sep = try.sep
	if headerWords(title) >= 2 {
		return
	}
	for range mostTitleLines {
		start := *try
		if start.pos >= len(start.text) {
			return
		}
		var rec record
		if rec, try = at(start); headerWords(rec) < 2 {
			continue
		}
		first := ""
		for _, f := range title.fields {
			if first = cleaned(f.text); first != "" {
				break
			}
		}
		p.add(title.line, "", strings.Clone(first), "the header must be the first line, and line %d looks like it: delete what stands above, or begin it with #", rec.line)
		s.pos, s.line, s.sep = start.pos, start.line, try.sep
		return
	}
}

// headerWords counts the fields of a record that name a column, in words that are
// read or nearly so. A record with numbers has none.
func headerWords(rec record) int {
	n := 0
	for _, f := range rec.fields {
		name := normalise(f.text)
		if name != "" && strings.Trim(name, "0123456789_") == "" {
			return 0
		}
		if _, ok := otherWords[name]; ok || roleOf(name) != noRole || bare.names(name) {
			n++
		}
	}
	return n
}
