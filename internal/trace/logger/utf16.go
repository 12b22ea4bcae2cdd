package logger

import (
	"bufio"
	"io"
	"unicode/utf16"
	"unicode/utf8"
)

// utf16Reader returns a reader of UTF-8 where the file begins with a mark of UTF-16,
// nil where it does not. r reads the whole file, head included.
func utf16Reader(head []byte, r io.Reader) io.Reader {
	if len(head) < 2 {
		return nil
	}
	big := head[0] == 0xfe && head[1] == 0xff
	if !big && !(head[0] == 0xff && head[1] == 0xfe) {
		return nil
	}
	u := &utf16Text{r: bufio.NewReaderSize(r, 64<<10), big: big}
	u.unit() // the mark itself
	return u
}

type utf16Text struct {
	r     *bufio.Reader
	big   bool
	ready []byte
	buf   [16 << 10]byte
	err   error
	saved uint16 // a unit that was read ahead
	have  bool
}

// unit reads one unit; half a unit at the end is dropped.
func (u *utf16Text) unit() (uint16, error) {
	if u.have {
		u.have = false
		return u.saved, nil
	}
	a, err := u.r.ReadByte()
	if err != nil {
		return 0, err
	}
	b, err := u.r.ReadByte()
	if err != nil {
		return 0, err
	}
	if u.big {
		a, b = b, a
	}
	return uint16(a) | uint16(b)<<8, nil
}

// Read implements io.Reader.
func (u *utf16Text) Read(p []byte) (int, error) {
	for len(u.ready) == 0 {
		if u.err != nil {
			return 0, u.err
		}
		out := u.buf[:0]
		for len(out) < len(u.buf)-utf8.UTFMax {
			v, err := u.unit()
			if err != nil {
				u.err = err
				break
			}
			c := rune(v)
			if utf16.IsSurrogate(c) {
				next, err := u.unit()
				if err != nil {
					u.err = err
					break
				}
				c = utf16.DecodeRune(rune(v), rune(next))
				if c == utf8.RuneError {
					u.saved, u.have = next, true
				}
			}
			out = utf8.AppendRune(out, c)
		}
		u.ready = out
	}
	n := copy(p, u.ready)
	u.ready = u.ready[n:]
	return n, nil
}
