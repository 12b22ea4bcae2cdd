package answers

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"unicode"

	"bondtrial/internal/record"
)

// longestName is the length up to which the trial's name stands in a file's, letters.
const longestName = 60

// FileName is the name of a file of a trial, such as "benches-readings.csv": the
// trial's name in small letters of any script and digits, hyphens for all else, then
// what it is.
func FileName(t *record.Trial, what, ext string) string {
	var b strings.Builder
	n := 0
	for _, r := range strings.ToLower(t.Asked.Name) {
		if n == longestName {
			break
		}
		switch {
		case unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.IsMark(r) && b.Len() > 0:
			b.WriteRune(r)
			n++
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
			n++
		}
	}
	name := strings.Trim(b.String(), "-")
	if name == "" {
		name = "trial"
	}
	return name + "-" + what + "." + ext
}

// Disposition is the value of Content-Disposition for a file to be saved: its name
// in ASCII, and where it has other letters beside it as it is (RFC 6266, RFC 8187).
// Nothing in a name can end the value or begin another header.
func Disposition(name string) string {
	ascii := strings.Map(func(r rune) rune {
		switch {
		case r == '"', r == '\\', r == '/', r < ' ', r == 0x7f:
			return '-'
		case r > 0x7f:
			return '_'
		}
		return r
	}, name)
	value := `attachment; filename="` + ascii + `"`
	if ascii == name {
		return value
	}
	var b strings.Builder
	for i := range len(name) {
		switch c := name[i]; {
		case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z', '0' <= c && c <= '9', strings.IndexByte("-._~", c) >= 0:
			b.WriteByte(c)
		case c < ' ', c == 0x7f, c == '/', c == '\\':
			b.WriteByte('-')
		default:
			fmt.Fprintf(&b, "%%%02X", c)
		}
	}
	return value + "; filename*=UTF-8''" + b.String()
}

// Send writes a file to be saved under a name.
func Send(w http.ResponseWriter, mediaType, name string, content []byte) error {
	h := w.Header()
	h.Set("Content-Type", mediaType)
	h.Set("Content-Disposition", Disposition(name))
	h.Set("Content-Length", strconv.Itoa(len(content)))
	h.Set("Cache-Control", "no-store")
	_, _ = w.Write(content) // whoever went away does not read it
	return nil
}
