package feed

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

type piece struct {
	Kind Kind
	Text string
}

// split cuts chunks into lines, the last one that has no end included.
func split(joined bool, chunks ...string) []piece {
	var s splitter
	s.restart(joined)
	var out []piece
	for _, c := range chunks {
		s.fill([]byte(c), time.Time{})
		for l, ok := s.next(); ok; l, ok = s.next() {
			out = append(out, piece{l.Kind, string(l.Text)})
		}
	}
	if l, ok := s.rest(); ok {
		out = append(out, piece{l.Kind, string(l.Text)})
	}
	return out
}

func TestSplit(t *testing.T) {
	long := strings.Repeat("x", MaxLine)
	for name, c := range map[string]struct {
		joined bool
		chunks []string
		want   []piece
	}{
		"three ends":           {false, []string{"a\nb\r\nc\rd\n"}, []piece{{Whole, "a"}, {Whole, "b"}, {Whole, "c"}, {Whole, "d"}}},
		"an end in two chunks": {false, []string{"a\r", "\nb\n"}, []piece{{Whole, "a"}, {Whole, "b"}}},
		"a line in three":      {false, []string{"1", "2", "3\n"}, []piece{{Whole, "123"}}},
		"no end":               {false, []string{"1\n2"}, []piece{{Whole, "1"}, {Half, "2"}}},
		"joined in a line":     {true, []string{"23\n24\n"}, []piece{{First, "23"}, {Whole, "24"}}},
		"joined at an end":     {true, []string{"\n24\n"}, []piece{{First, ""}, {Whole, "24"}}},
		"as long as allowed":   {false, []string{long + "\n1\n"}, []piece{{Whole, long}, {Whole, "1"}}},
		"too long":             {false, []string{long + "yz\n1\n"}, []piece{{Cut, long}, {Cut, "yz"}, {Whole, "1"}}},
		"much too long":        {false, []string{long + long + "\n1\n"}, []piece{{Cut, long}, {Cut, long}, {Whole, "1"}}},
		"too long, no end":     {false, []string{long + "y"}, []piece{{Cut, long}, {Cut, "y"}}},
	} {
		if d := cmp.Diff(c.want, split(c.joined, c.chunks...)); d != "" {
			t.Errorf("%s:\n%s", name, d)
		}
	}
}

// However what arrives is cut into chunks, the lines are the same, and no byte of
// text is lost.
func FuzzSplit(f *testing.F) {
	f.Add([]byte("1\n2\r\n3\r4"), uint8(1), false)
	f.Add([]byte(strings.Repeat("z", 3*MaxLine)+"\n1\n"), uint8(100), true)
	f.Fuzz(func(t *testing.T, data []byte, size uint8, joined bool) {
		var chunks []string
		for rest := string(data); rest != ""; {
			n := min(len(rest), int(size)+1)
			chunks, rest = append(chunks, rest[:n]), rest[n:]
		}
		once, many := split(joined, string(data)), split(joined, chunks...)
		if !slices.Equal(once, many) {
			t.Fatalf("in one chunk and in pieces of %d:\n%s", int(size)+1, cmp.Diff(once, many))
		}
		var text strings.Builder
		for _, p := range once {
			if len(p.Text) > MaxLine {
				t.Fatalf("a line of %d bytes", len(p.Text))
			}
			text.WriteString(p.Text)
		}
		want := bytes.NewBuffer(nil)
		for _, c := range data {
			if c != '\n' && c != '\r' {
				want.WriteByte(c)
			}
		}
		if text.String() != want.String() {
			t.Fatalf("%q is split into %q", data, text.String())
		}
	})
}
