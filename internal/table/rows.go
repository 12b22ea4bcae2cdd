package table

import (
	"slices"
	"strconv"
	"strings"
	"unicode"

	"bondtrial"
	"bondtrial/internal/handwritten"
)

// parser holds what is known while the rows of one file are read.
type parser struct {
	problems
	opt    Options
	head   *header
	dec    decimals
	intern interner

	readings []bondtrial.Reading
	asRead   []float64 // strength or force of each reading as written
	extra    [][]string
	factors  map[string]map[string]string // shared maps by their joined levels

	specimens  map[string]int // line of each code
	orders     [2]map[orderKey]int
	spelled    [roleCount]spellings
	levels     []spellings
	conflicts  [2][]conflict // where code and share of wood failure disagree
	shares     [2]shares
	noArea     bool // a peak took the area from Options
	hasControl bool // the text has control characters, so each field is looked at
}

// conflict is a row that disagrees with itself.
type conflict struct {
	line int
	code string // of the specimen; empty where the table has none
}

// shares says what the values of a percent column are like.
type shares struct {
	highest float64
	signed  bool // one above 0 has a % sign
}

type orderKey struct {
	trial string
	n     int
}

// parse reads the whole text, with the decimal mark of dec or any.
func parse(text string, opt Options, dec decimals) *parser {
	p := &parser{
		opt: opt, intern: interner{}, factors: map[string]map[string]string{}, specimens: map[string]int{},
		orders: [2]map[orderKey]int{{}, {}}, hasControl: hasControl(text),
	}
	s := &scanner{text: text, line: 1}
	s.sep = s.preamble()
	if s.pos >= len(s.text) {
		if strings.TrimSpace(text) == "" {
			p.add(0, "", "", "the file is empty: it needs a header that names the columns, and one row for each specimen")
		} else {
			p.add(0, "", "", "the file holds no table: it needs a header that names the columns, and one row for each specimen")
		}
		return p
	}
	p.skipTitle(s)
	p.dec = dec
	p.dec.sep = s.sep
	rec, _ := s.next()
	p.head = readHeader(rec, opt, s.sep, &p.problems)
	if !p.head.usable {
		return p
	}
	p.levels = make([]spellings, len(opt.Factors))
	p.rows(s)
	return p
}

// rows reads what stands below the header.
func (p *parser) rows(s *scanner) {
	rows, most := 0, MaxReadings
	if p.opt.maxReadings > 0 {
		most = p.opt.maxReadings
	}
	for rec, ok := s.next(); ok; rec, ok = s.next() {
		if rec.blank() {
			continue
		}
		if rows++; rows > most {
			p.add(rec.line, "", "", "more than %d rows: give a file with one row for each specimen", most)
			break
		}
		p.row(rec)
		if rows == 1000 {
			// Room for the rows that are expected at this length, within reason.
			more := min(rows*(len(s.text)/s.pos), 1<<17)
			p.readings, p.asRead = slices.Grow(p.readings, more), slices.Grow(p.asRead, more)
		}
	}
	if len(p.readings) < cap(p.readings)/2 {
		p.readings = slices.Clone(p.readings)
	}
	if rows == 0 {
		p.add(0, "", "", "there is a header and no reading: add one row for each specimen")
	}
}

const wrongControl = "an invisible control character: remove it"

// hasControl reports whether s holds a control character other than tab and
// line break.
func hasControl(s string) bool {
	return strings.IndexFunc(s, func(r rune) bool { return unicode.IsControl(r) && r != '\t' && r != '\n' && r != '\r' }) >= 0
}

// row reads one record into a reading, or reports what is wrong with it.
func (p *parser) row(rec record) {
	before := p.total
	if rec.fault != "" {
		p.badQuotation(rec, p.head.names, "")
		return
	}
	if p.sumsUp(rec) {
		return
	}
	if len(rec.fields) != len(p.head.names) {
		p.wrongWidth(rec)
		return
	}
	// A comma may be decimal: "Tarn;8,1" is two fields either way.
	if other := p.otherSeparator(rec); other != "" && p.dec.sep == ',' {
		p.add(rec.line, "", "", "%s and %s both divide this row as the header: use one throughout, and enclose a value that holds the other in quotation marks",
			separatorName(p.dec.sep), other)
		return
	}
	p.strayValues(rec)
	rd := bondtrial.Reading{Line: rec.line}
	p.identity(rec, &rd)
	used := rd.SetAside == ""
	p.origin(rec, &rd, used)
	asRead := p.strength(rec, &rd, used)
	p.failure(rec, &rd, used && !p.notRead(rec)) // how it failed goes with what was read
	p.conditions(rec, &rd)
	if p.total > before {
		return
	}
	p.readings, p.asRead = append(p.readings, rd), append(p.asRead, asRead)
	if len(p.head.extra) > 0 {
		values := make([]string, len(p.head.extra))
		for i, at := range p.head.extra {
			values[i] = p.intern.keep(strings.TrimSpace(rec.fields[at].text))
		}
		p.extra = append(p.extra, values)
	}
}

// notRead reports a row whose strength is blank.
func (p *parser) notRead(rec record) bool {
	if p.head.strength == noRole {
		return false
	}
	f, ok := p.cell(rec, p.head.strength)
	return ok && f.text == ""
}

// otherSeparator names a separator that is not the header's and divides a row
// into as many fields as the header has; empty where there is none. What stands in
// quotation marks divides nothing.
func (p *parser) otherSeparator(rec record) string {
	want := len(p.head.names)
	for _, c := range separators {
		if c.sep == p.dec.sep || want <= 1 || strings.IndexByte(rec.raw, c.sep) < 0 {
			continue
		}
		if count(unquoted(rec.raw, p.dec.sep), c.sep) == want {
			return c.name
		}
	}
	return ""
}

// unquoted returns a record without its quoted fields.
func unquoted(raw string, sep byte) string {
	if strings.IndexByte(raw, '"') < 0 {
		return raw
	}
	var b strings.Builder
	s := scanner{text: raw, line: 1, sep: sep}
	for {
		start := s.pos
		quoted := start < len(raw) && raw[start] == '"'
		if _, fault := s.field(); fault != "" {
			return raw
		}
		if !quoted {
			b.WriteString(raw[start:s.pos])
		}
		if s.pos >= len(raw) || raw[s.pos] != sep {
			return b.String()
		}
		b.WriteByte(sep)
		s.pos++
	}
}

func (p *parser) wrongWidth(rec record) {
	want, found := len(p.head.names), len(rec.fields)
	if other := p.otherSeparator(rec); other != "" {
		p.add(rec.line, "", "", "mixed separators: the header is separated by %s and this row by %s: use one throughout",
			separatorName(p.dec.sep), other)
		return
	}
	advice := "each column needs a field, blank where there is no value"
	if found > want && p.dec.sep == ',' {
		advice = "enclose a value that holds a comma in quotation marks, and write numbers with a decimal point"
	} else if found > want {
		advice = "enclose a value that holds a separator in quotation marks, and name every column"
	}
	p.add(rec.line, "", "", "expected %d fields, as in the header, and found %d: %s", want, found, advice)
}

// strayValues reports values in columns without a name, once a column, and
// control characters.
func (p *parser) strayValues(rec record) {
	p.head.unnamed = slices.DeleteFunc(p.head.unnamed, func(i int) bool {
		f := rec.fields[i]
		stray := strings.TrimSpace(f.text) != ""
		if stray {
			p.add(f.line, "", f.text, "column %d has no name in the header and a value here: name it or clear it", i+1)
		}
		return stray
	})
	if !p.hasControl {
		return
	}
	for i, f := range rec.fields {
		if hasControl(f.text) {
			p.add(f.line, p.head.names[i], f.text, wrongControl)
		}
	}
}

// cell returns the field of a known column, cleaned, and whether there is such
// a column.
func (p *parser) cell(rec record, r role) (f field, ok bool) {
	at := p.head.at[r]
	if at < 0 {
		return field{line: rec.line}, false
	}
	f = rec.fields[at]
	f.text = cleaned(f.text)
	return f, true
}

// bad reports a problem with the field of a known column.
func (p *parser) bad(r role, f field, format string, args ...any) {
	p.add(f.line, p.head.names[p.head.at[r]], f.text, format, args...)
}

// identity reads what names the specimen, and whether it is set aside.
func (p *parser) identity(rec record, rd *bondtrial.Reading) {
	if f, ok := p.cell(rec, setAsideCol); ok {
		switch word := strings.ToLower(f.text); {
		case missing(f.text), slices.Contains([]string{"no", "n", "false", "0"}, word):
			p.bad(setAsideCol, f, "not a reason: leave the field blank where the reading is used")
		case slices.Contains([]string{"yes", "y", "true", "1", "x"}, word):
			p.bad(setAsideCol, f, "not a reason: write why the reading is not used, like slipped in the grips")
		}
		rd.SetAside = p.intern.keep(f.text)
	}
	if f, ok := p.cell(rec, specimenCol); !ok {
		rd.Code = strconv.Itoa(len(p.readings) + 1)
	} else if f.text == "" {
		p.bad(specimenCol, f, "blank: give each specimen a code, or leave the column out")
	} else if sheetError(f.text) {
		p.bad(specimenCol, f, brokenFormula)
	} else if line, twice := p.specimens[f.text]; twice {
		p.bad(specimenCol, f, "is on line %d too: each specimen has one row and a code of its own", line)
	} else {
		rd.Code = strings.Clone(f.text)
		p.specimens[rd.Code] = f.line
	}
	if at := p.head.at[noteCol]; at >= 0 {
		rd.Note = p.intern.keep(strings.TrimSpace(rec.fields[at].text))
	}
}

// origin reads the names that readings share: adhesive, wood, board, session,
// trial and the levels of the factors.
func (p *parser) origin(rec record, rd *bondtrial.Reading, used bool) {
	rd.Adhesive = p.name(rec, adhesiveCol, "", "blank: name the adhesive")
	rd.Wood = p.name(rec, woodCol, "", "blank: name the wood, or leave the column out")
	wanted := func(message string) string {
		if !used {
			return ""
		}
		return message
	}
	rd.Board = p.name(rec, boardCol, rd.Wood, wanted("blank: name the board that the specimen was cut from, or leave the column out"))
	rd.Batch = p.name(rec, batchCol, rd.Adhesive, wanted("blank: name the batch of adhesive, or leave the column out"))
	rd.Session = p.name(rec, sessionCol, "", wanted("blank: name the session, or leave the column out"))
	rd.Trial = p.name(rec, trialCol, "", wanted("blank: name the trial, or leave the column out"))
	if len(p.opt.Factors) == 0 {
		return
	}
	var key strings.Builder
	levels := make([]string, len(p.opt.Factors))
	for i, at := range p.head.factors {
		if at < 0 {
			continue
		}
		f := rec.fields[at]
		f.text = p.intern.keep(cleaned(f.text))
		if f.text == "" && used {
			p.add(f.line, p.head.names[at], "", "blank: give the level of the factor")
		}
		p.spelling(&p.levels[i], p.head.names[at], "", f)
		levels[i] = f.text
		key.WriteString(levels[i])
		key.WriteByte(0)
	}
	m, ok := p.factors[key.String()]
	if !ok {
		m = make(map[string]string, len(levels))
		for i, f := range p.opt.Factors {
			m[f] = levels[i]
		}
		p.factors[key.String()] = m
	}
	rd.Factors = m
}

// name reads a name that readings share. A blank one is reported with the
// message given, unless that is empty.
func (p *parser) name(rec record, r role, scope, whenBlank string) string {
	f, ok := p.cell(rec, r)
	if !ok {
		return ""
	}
	if f.text == "" {
		if whenBlank != "" {
			p.bad(r, f, "%s", whenBlank)
		}
		return ""
	}
	f.text = p.intern.keep(f.text)
	p.spelling(&p.spelled[r], p.head.names[p.head.at[r]], scope, f)
	return f.text
}

const brokenFormula = "an error of the spreadsheet, not a name: mend its formula"

// spelling reports a name that differs from an earlier one only in case or
// spacing, and what a spreadsheet writes for a formula that failed. The name has
// been interned.
func (p *parser) spelling(s *spellings, column, scope string, f field) {
	if f.text == "" {
		return
	}
	if sheetError(f.text) {
		p.add(f.line, column, f.text, brokenFormula)
		return
	}
	if earlier, clash := s.note(scope, f.text, f.line); clash {
		p.add(f.line, column, f.text, "differs only in case or spacing from %s on line %d: write one name in one way", handwritten.Quoted(earlier.name), earlier.line)
	}
}
