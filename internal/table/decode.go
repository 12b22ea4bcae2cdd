package table

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"bondtrial/internal/handwritten"
)

const noteUTF16 = "encoded in UTF-16"

const asCSV = "save the table as CSV (UTF-8) and give that file"

// decode turns the bytes of a file into valid UTF-8 text. The note is empty for
// plain UTF-8; the trouble is nil unless the bytes are no text.
func decode(raw string) (text, note string, trouble *Problem) {
	if what := handwritten.NotText(raw); what != "" {
		return "", "", &Problem{Message: "is " + what + ", not a text file: " + asCSV}
	}
	switch {
	case strings.HasPrefix(raw, "\xff\xfe\x00\x00"), strings.HasPrefix(raw, "\x00\x00\xfe\xff"):
		return "", "", &Problem{Message: "is encoded in UTF-32, which is not read: " + asCSV}
	case strings.HasPrefix(raw, "\xff\xfe"), strings.HasPrefix(raw, "\xfe\xff"):
		text, note, trouble = decodeUTF16(raw)
	case strings.HasPrefix(raw, "\xef\xbb\xbf"):
		text = raw[3:]
		if i := handwritten.InvalidAt(text); i >= 0 {
			trouble = &Problem{Line: lineAt(text, i), Message: "begins as UTF-8 but is damaged here: " + asCSV}
		}
	default:
		text, note, trouble = decodeBytes(raw)
	}
	if trouble != nil {
		return "", "", trouble
	}
	if i := strings.IndexByte(text, 0); i >= 0 {
		return "", "", &Problem{Line: lineAt(text, i), Message: "holds a zero byte, so it is not a text file: " + asCSV}
	}
	if handwritten.Markup(text) {
		return "", "", &Problem{Message: "is a web page or XML document, not a table: " + asCSV}
	}
	return text, note, nil
}

// decodeBytes decodes text without a byte-order mark: UTF-8 where it is valid,
// else Windows-1252. Bytes that are UTF-8 in one place and not in another are
// refused, because read as Windows-1252 the same name would come out in two
// spellings.
func decodeBytes(raw string) (text, note string, trouble *Problem) {
	bad := handwritten.InvalidAt(raw)
	if bad < 0 || strings.IndexByte(raw, 0) >= 0 {
		return raw, "", nil
	}
	line := lineAt(raw, bad)
	if hasMultibyte(raw) {
		return "", "", &Problem{Line: line, Message: "is not UTF-8 here, while other places are: " + asCSV}
	}
	if i := firstUndefined(raw); i >= 0 {
		return "", "", &Problem{Line: lineAt(raw, i), Message: fmt.Sprintf("is neither UTF-8 nor Windows-1252 text (byte %#x): %s", raw[i], asCSV)}
	}
	text, err := charmap.Windows1252.NewDecoder().String(raw)
	if err != nil {
		return "", "", &Problem{Line: line, Message: "is neither UTF-8 nor Windows-1252 text: " + asCSV}
	}
	return text, fmt.Sprintf("not valid UTF-8 (first on line %d), so it was read as Windows-1252: check names with accents", line), nil
}

func decodeUTF16(raw string) (text, note string, trouble *Problem) {
	if len(raw)%2 != 0 {
		return "", "", &Problem{Message: "is UTF-16 text with half a character at its end: " + asCSV}
	}
	text, err := unicode.UTF16(unicode.BigEndian, unicode.UseBOM).NewDecoder().String(raw)
	if err != nil {
		return "", "", &Problem{Message: "is not valid UTF-16 text: " + asCSV}
	}
	if i := strings.IndexRune(text, utf8.RuneError); i >= 0 {
		return "", "", &Problem{Line: lineAt(text, i), Message: "is damaged UTF-16 text: " + asCSV}
	}
	return text, noteUTF16, nil
}

func hasMultibyte(s string) bool {
	for _, r := range s {
		if r != utf8.RuneError && r >= utf8.RuneSelf {
			return true
		}
	}
	return false
}

// firstUndefined returns the index of the first byte that Windows-1252 leaves
// undefined, -1 where there is none.
func firstUndefined(s string) int {
	for i := range len(s) {
		switch s[i] {
		case 0x81, 0x8d, 0x8f, 0x90, 0x9d:
			return i
		}
	}
	return -1
}

// lineAt returns the line, counted from 1, that the byte at index i is on.
func lineAt(s string, i int) int { return 1 + lineBreaks(s[:i]) }

// lineBreaks counts the ends of lines: LF, CRLF or CR.
func lineBreaks(s string) int {
	n := 0
	for i := range len(s) {
		switch s[i] {
		case '\n':
			n++
		case '\r':
			if i+1 == len(s) || s[i+1] != '\n' {
				n++
			}
		}
	}
	return n
}
