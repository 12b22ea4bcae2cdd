package trialfile

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"bondtrial/internal/handwritten"
)

// MaxBytes is the largest trial file that is read.
const MaxBytes = 1 << 20

const asText = "give a trial file, which is plain text (TOML); bondtrial plan --new prints one to begin with"

// textOf reads a file into lines that end in LF alone, without a byte-order mark.
func textOf(r io.Reader, name string) (string, error) {
	raw, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return "", fmt.Errorf("reading trial file %s: %w", name, err)
	}
	if what := handwritten.NotText(string(raw)); what != "" {
		return "", whole(name, 0, "is "+what+", not a trial file: "+asText)
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
		return "", whole(name, handwritten.LineAt(text, i), "holds a zero byte, so it is not text: "+asText)
	}
	if i := handwritten.InvalidAt(text); i >= 0 {
		return "", whole(name, handwritten.LineAt(text, i), "is not UTF-8 text here: save the file as UTF-8 in the text editor")
	}
	return text, notATrial(name, text)
}

// notATrial tells text that is something else from a trial file with mistakes.
func notATrial(name, text string) error {
	start := strings.TrimSpace(text)
	if start == "" {
		return whole(name, 0, "the file is empty: "+asText)
	}
	if handwritten.Markup(start) {
		return whole(name, 0, "is a web page or XML document, not a trial file: "+asText)
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
