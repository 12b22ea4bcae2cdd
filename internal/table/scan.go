package table

import "strings"

// A field is one value of a record, unquoted, and the line it begins on.
type field struct {
	text string
	line int
}

// A record is one row of the file. Its fields are valid until the next record is
// read.
type record struct {
	line   int // that it begins on
	raw    string
	fields []field
	fault  string // why its quotation is wrong; empty where it is right
	at     int    // field with the fault
}

// blank reports whether no field of the record has a value.
func (r record) blank() bool {
	for _, f := range r.fields {
		if strings.TrimSpace(f.text) != "" {
			return false
		}
	}
	return r.fault == ""
}

// scanner splits text into records by the rules of RFC 4180, section 2, with a
// choice of separator and of line ends. It goes on after a fault.
type scanner struct {
	text   string
	pos    int
	line   int // at pos, from 1
	sep    byte
	fields []field
}

const (
	faultBare  = `a quotation mark inside a field: enclose the whole field in quotation marks and write the mark inside it twice`
	faultSpace = `a space before the quotation mark: a quoted field begins right after the separator`
	faultAfter = `text after the closing quotation mark: write a quotation mark inside a quoted field twice`
	faultOpen  = `the quotation mark opened here is never closed, so nothing after it could be read: close it, or write a mark inside a quoted field twice`
)

// next returns the next record; ok is false at the end of the text.
func (s *scanner) next() (rec record, ok bool) {
	if s.pos >= len(s.text) {
		return record{}, false
	}
	rec.line = s.line
	start := s.pos
	s.fields = s.fields[:0]
	for {
		line := s.line
		value, fault := s.field()
		if fault != "" && rec.fault == "" {
			rec.fault, rec.at = fault, len(s.fields)
		}
		s.fields = append(s.fields, field{value, line})
		if s.pos < len(s.text) && s.text[s.pos] == s.sep {
			s.pos++
			continue
		}
		break
	}
	rec.raw = s.text[start:s.pos]
	rec.fields = s.fields
	s.lineEnd()
	return rec, true
}

// lineEnd passes over the line end at pos, if there is one.
func (s *scanner) lineEnd() {
	if s.pos >= len(s.text) {
		return
	}
	switch s.text[s.pos] {
	case '\r':
		s.pos++
		if s.pos < len(s.text) && s.text[s.pos] == '\n' {
			s.pos++
		}
		s.line++
	case '\n':
		s.pos++
		s.line++
	}
}

// field reads one field and leaves pos at the separator, line end or end of the
// text after it.
func (s *scanner) field() (value, fault string) {
	if s.pos < len(s.text) && s.text[s.pos] == '"' {
		return s.quotedField()
	}
	value = s.plain()
	if i := strings.IndexByte(value, '"'); i >= 0 {
		if strings.Trim(value[:i], " \t") == "" {
			return value, faultSpace
		}
		return value, faultBare
	}
	return value, ""
}

// plain passes over text up to the next separator or line end.
func (s *scanner) plain() string {
	start := s.pos
	for s.pos < len(s.text) {
		if c := s.text[s.pos]; c == s.sep || c == '\n' || c == '\r' {
			break
		}
		s.pos++
	}
	return s.text[start:s.pos]
}

// quotedField reads a field that begins with a quotation mark.
func (s *scanner) quotedField() (value, fault string) {
	start := s.pos + 1
	i := start
	doubled := false
	for {
		n := strings.IndexByte(s.text[i:], '"')
		if n < 0 {
			s.pos = len(s.text)
			value = s.text[start:]
			s.line += lineBreaks(value)
			return value, faultOpen
		}
		i += n
		if i+1 < len(s.text) && s.text[i+1] == '"' {
			doubled = true
			i += 2
			continue
		}
		break
	}
	value = s.text[start:i]
	s.line += lineBreaks(value)
	s.pos = i + 1
	if doubled {
		value = strings.ReplaceAll(value, `""`, `"`)
	}
	if rest := s.plain(); rest != "" {
		return value + rest, faultAfter
	}
	return value, ""
}

// preamble passes over what stands before the header: blank lines, comments
// that begin with # (a first column called # is none), and a first line sep=; that names the separator. It
// returns that separator, 0 where there is none.
func (s *scanner) preamble() (sep byte) {
	for s.pos < len(s.text) {
		end := len(s.text)
		if n := strings.IndexAny(s.text[s.pos:], "\r\n"); n >= 0 {
			end = s.pos + n
		}
		content := strings.TrimSpace(s.text[s.pos:end])
		named := separatorLine(s.text[s.pos:end])
		switch {
		case s.line == 1 && named != 0:
			sep = named
		case strings.HasPrefix(content, "#") && !(len(content) > 1 && isSeparator(content[1])), strings.Trim(content, ",; \t") == "":
		default:
			return sep
		}
		s.pos = end
		s.lineEnd()
	}
	return sep
}

// separatorLine returns the separator that a line "sep=;" names, 0 for any
// other line.
func separatorLine(line string) byte {
	line = strings.Trim(line, `" `)
	if len(line) == 5 && strings.EqualFold(line[:4], "sep=") && isSeparator(line[4]) {
		return line[4]
	}
	return 0
}

var separators = []struct {
	sep  byte
	name string
}{{',', "commas"}, {';', "semicolons"}, {'\t', "tabs"}}

func isSeparator(c byte) bool { return c == ',' || c == ';' || c == '\t' }

// separatorName names a separator in the plural.
func separatorName(c byte) string {
	for _, s := range separators {
		if s.sep == c {
			return s.name
		}
	}
	return "other characters"
}

// detect returns the separator of the header that begins at pos: the one that
// gives the most known column names, then the most columns.
func (s *scanner) detect() byte {
	best, bestKnown, bestCount := byte(','), -1, 0
	for _, c := range separators {
		try := scanner{text: s.text, pos: s.pos, line: s.line, sep: c.sep}
		rec, _ := try.next()
		known := 0
		for _, f := range rec.fields {
			if roleOf(normalise(f.text)) != noRole {
				known++
			}
		}
		if known > bestKnown || known == bestKnown && len(rec.fields) > bestCount {
			best, bestKnown, bestCount = c.sep, known, len(rec.fields)
		}
	}
	return best
}

// count returns how many fields a record has when it is split by sep.
func count(raw string, sep byte) int {
	s := scanner{text: raw, line: 1, sep: sep}
	rec, _ := s.next()
	return len(rec.fields)
}
