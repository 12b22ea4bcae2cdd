package trialfile

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// MaxBytes is the largest trial file that is read.
const MaxBytes = 1 << 20

const asText = "give a trial file, which is plain text (TOML); bondtrial plan --new prints one to begin with"

// notText lists how files begin that may be given by mistake. The marks are those
// of the formats' own descriptions: ZIP (local file header, empty archive),
// compound file, PDF, gzip, rich text, PNG, JPEG.
var notText = []struct{ mark, what string }{
	{"PK\x03\x04", "a spreadsheet workbook or another zip archive"},
	{"PK\x05\x06", "an empty zip archive"},
	{"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a spreadsheet workbook or another office document"},
	{"%PDF-", "a PDF document"},
	{"\x1f\x8b", "a gzip archive"},
	{"{\\rtf", "a rich-text document"},
	{"\x89PNG", "a picture"},
	{"\xff\xd8\xff", "a picture"},
}

var markup = []string{"<!doctype", "<html", "<?xml", "<table"}

// textOf reads a file into lines that end in LF alone, without a byte-order mark.
func textOf(r io.Reader, name string) (string, error) {
	raw, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return "", fmt.Errorf("reading trial file %s: %w", name, err)
	}
	for _, f := range notText {
		if bytes.HasPrefix(raw, []byte(f.mark)) {
			return "", whole(name, 0, "is "+f.what+", not a trial file: "+asText)
		}
	}
	if len(raw) > MaxBytes {
		return "", whole(name, 0, fmt.Sprintf("is larger than %d KiB, so it is hardly a trial file: %s", MaxBytes>>10, asText))
	}
	if bytes.HasPrefix(raw, []byte("\xff\xfe")) || bytes.HasPrefix(raw, []byte("\xfe\xff")) {
		return "", whole(name, 0, "is encoded in UTF-16: save it as UTF-8 in the text editor")
	}
	text := strings.TrimPrefix(string(raw), "\xef\xbb\xbf")
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	if i := strings.IndexByte(text, 0); i >= 0 {
		return "", whole(name, lineAt(text, i), "holds a zero byte, so it is not text: "+asText)
	}
	if !utf8.ValidString(text) {
		return "", whole(name, lineAt(text, invalidAt(text)), "is not UTF-8 text here: save the file as UTF-8 in the text editor")
	}
	return text, notATrial(name, text)
}

// notATrial tells text that is something else from a trial file with mistakes.
func notATrial(name, text string) error {
	start := strings.TrimSpace(text)
	if start == "" {
		return whole(name, 0, "the file is empty: "+asText)
	}
	lower := strings.ToLower(start[:min(len(start), 200)])
	for _, m := range markup {
		if strings.HasPrefix(lower, m) {
			return whole(name, 0, "is a web page or XML document, not a trial file: "+asText)
		}
	}
	if start[0] == '{' {
		return whole(name, 0, "is JSON, not a trial file: "+asText)
	}
	rows := 0
	for line := range strings.Lines(start) {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		if line[0] == '[' || strings.Contains(line, "=") {
			return nil
		}
		if !strings.ContainsAny(line, ",;\t") {
			continue
		}
		if rows++; rows == 2 {
			return whole(name, 0, "looks like a table (CSV), not a trial file: readings go to bondtrial answer; here, "+asText)
		}
	}
	return nil
}

func lineAt(s string, i int) int { return 1 + strings.Count(s[:i], "\n") }

// invalidAt returns the index of the first byte that is not valid UTF-8.
func invalidAt(s string) int {
	for i, r := range s {
		if r == utf8.RuneError {
			if _, n := utf8.DecodeRuneInString(s[i:]); n == 1 {
				return i
			}
		}
	}
	return 0
}
