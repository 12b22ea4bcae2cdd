// Package table reads the readings of a trial from a delimited text file: a
// header that names the columns, then one row for each specimen.
//
// Nothing is guessed that could change an answer. The unit of a strength stands
// in the name of its column, a number with a thousands separator is refused, and
// so is a file that mixes decimal points and decimal commas. Whatever cannot be
// read is collected, with line, column and value, and returned in one error
// ([Errors]), so that a file is mended in one go.
//
// # Columns
//
// Columns stand in any order. Their names are compared without regard to case,
// spaces, hyphens and brackets, and a % counts as pct: "Wood failure (%)" is
// wood_failure_pct.
//
//	adhesive          required
//	strength_mpa      or strength_psi, peak_n, peak_kn, peak_lbf, peak_kgf: exactly one, required
//	area_mm2          or area_cm2, area_in2: bonded area, needed with a peak unless Options gives it
//	specimen          unique; without it the readings are numbered in file order
//	wood, board, session, trial
//	wood_failure_pct  share of the broken area that is wood, 0 to 100
//	failure           ISO 10365 code
//	rig_limited       yes or no; blank is no
//	set_aside         the reason why the reading is not used; blank where it is used
//	note              free text
//	glue_order, break_order  whole numbers from 1, unique within a trial, or blank
//	moisture_pct      moisture content at the break, 0 to 100, or blank
//
// Strengths, forces and areas are known under other usual names too, as long as
// these say the unit: "Max. load (kN)", "Shear strength (N/mm²)", "Bond area
// (in²)". A name that is nearly that of a column that bears on the answer, like
// Species or board_no, is an error, because passing over the column would change
// the answer.
//
// A column named in [Options].Factors is a factor of the trial. Every other
// column is carried along unread.
//
// Rows that look like a total or an average of others are errors.
//
// # Dialect
//
// Fields are separated by commas, semicolons or tabs, whichever the header line
// uses, and are quoted as in RFC 4180: a field that holds a separator, a line
// break or a quotation mark is enclosed in quotation marks, and a quotation mark
// inside it is written twice. A quotation mark anywhere else is an error. Lines
// end in LF, CRLF or CR. Lines before the header that begin with # are comments,
// and a first line "sep=;" names the separator. Rows without any value are
// skipped. Decimal commas are read in files that use semicolons or tabs.
//
// The text is UTF-8 with or without a byte-order mark, UTF-16 with one, or, where
// it is not valid UTF-8, Windows-1252.
package table

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strings"

	"bondtrial"
)

// Limits of what is read. A trial by hand has some hundred readings; the limits
// keep a file that was named by mistake from filling the memory.
const (
	DefaultMaxBytes = 64 << 20  // bytes of a file, unless Options says otherwise
	MaxReadings     = 1_000_000 // rows of a file
	MaxProblems     = 10_000    // problems kept; further ones are counted
)

// Options says how a file is to be read. The zero value reads a file with a
// strength column and no factors.
type Options struct {
	Factors  []string // columns that are factors of the trial, in any spelling that the header may have
	AreaMM2  float64  // bonded area in mm² for peaks whose row has none of its own; 0 where not given
	MaxBytes int64    // largest file that is read; 0 is DefaultMaxBytes
	OnPage   bool     // messages speak of the fields of a page, not of options of a command

	maxReadings int // for tests; 0 is MaxReadings
}

// Table holds the readings of one file.
type Table struct {
	Name     string              // of the file, as handed in
	SHA256   string              // of the file's bytes, hexadecimal
	Columns  []string            // names as written in the header, in file order
	Readings []bondtrial.Reading // in file order, those set aside included

	// ExtraColumns names the columns that are carried along unread, and
	// Extra[i] holds their values for Readings[i], in the same order. Extra is
	// nil where there are none.
	ExtraColumns []string
	Extra        [][]string

	// What the file records: the column is there ...
	HasWood, HasBoard, HasSession, HasTrial bool
	HasFailure                              bool // how the joints failed: wood_failure_pct or failure
	// ... and for these, at least one reading has a value.
	HasGlueOrder, HasBreakOrder, HasMoisture bool

	// Notes says in plain words what was detected and how the file was read.
	// Warnings are those of the notes that may change an answer, names that are
	// nearly alike first.
	Notes, Warnings []string
}

// ReadFile reads the file at path. See [Read] for what it returns; a file that
// cannot be opened is reported by the error of package os, wrapped.
func ReadFile(path string, opt Options) (*Table, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("cannot open %s: %w", path, cause(err))
	}
	defer f.Close()
	info, err := f.Stat()
	switch {
	case err != nil:
		return nil, fmt.Errorf("cannot read %s: %w", path, cause(err))
	case info.IsDir():
		return nil, whole(path, 0, "is a folder: name a file in it")
	case info.Mode().IsRegular() && info.Size() > opt.maxBytes():
		return nil, whole(path, 0, tooLarge(opt.maxBytes()))
	}
	return Read(f, path, opt)
}

// Read reads a table from r. The name stands in messages only.
//
// The error is an [*Errors] that lists every problem where the content is at
// fault, and a wrapped error of r where r fails; the table is nil then. Read
// does not close r and does not panic whatever r holds.
//
// A reading that is not set aside has a strength that is finite and greater
// than 0, whatever unit it was written in, converted to MPa. Percentages are
// within 0 to 100 or NaN where blank. Names are trimmed, runs of spaces become
// one, and letters with accents are composed (Unicode NFC). The map of factors
// has the names in opt.Factors as keys, is nil without factors, and is shared
// by readings with the same levels: it is not to be changed.
func Read(r io.Reader, name string, opt Options) (*Table, error) {
	limit := opt.maxBytes()
	var b strings.Builder
	b.Grow(int(min(sizeOf(r), limit)))
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(&b, sum), io.LimitReader(r, limit+1))
	if err != nil {
		return nil, fmt.Errorf("cannot read %s: %w", name, cause(err))
	}
	if n > limit {
		return nil, whole(name, 0, tooLarge(limit))
	}
	text, note, trouble := decode(b.String())
	if trouble != nil {
		return nil, whole(name, trouble.Line, trouble.Message)
	}
	p := parse(text, opt, decimals{mark: anyMark})
	if p.dec.points > 0 && p.dec.commas > 0 {
		// Both kinds of decimal mark: read again, and report the rarer kind.
		fixed := decimals{mark: pointMark, aPoint: p.dec.aPoint, aComma: p.dec.aComma}
		if p.dec.commas > p.dec.points {
			fixed.mark = commaMark
		}
		p = parse(text, opt, fixed)
	}
	if err := p.err(name); err != nil {
		return nil, err
	}
	t := p.table(name, note)
	t.SHA256 = hex.EncodeToString(sum.Sum(nil))
	return t, nil
}

func (o Options) maxBytes() int64 {
	if o.MaxBytes <= 0 {
		return DefaultMaxBytes
	}
	return min(o.MaxBytes, math.MaxInt64-1)
}

// sizeOf returns how many bytes r is expected to hold, 0 where it does not say.
func sizeOf(r io.Reader) int64 {
	switch r := r.(type) {
	case interface{ Len() int }: // strings.Reader, bytes.Buffer
		return int64(r.Len())
	case interface{ Stat() (fs.FileInfo, error) }:
		if info, err := r.Stat(); err == nil && info.Mode().IsRegular() {
			return info.Size()
		}
	}
	return 0
}

// cause strips the operation and path that package os puts before an error,
// because the messages here name the file themselves.
func cause(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

func tooLarge(limit int64) string {
	size := fmt.Sprintf("%d bytes", limit)
	if limit >= 1<<20 && limit%(1<<20) == 0 {
		size = fmt.Sprintf("%d MiB", limit>>20)
	}
	return "is larger than " + size + ", too large for a table of readings: give a file with one row for each specimen"
}
