package guard

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"
)

// What pairing codes are like, and how often a wrong one may be tried. Twenty
// tries at eight digits find the code with a chance of 1 in 5 million.
const (
	CodeDigits    = 8
	CodeGoodFor   = 10 * time.Minute
	WrongByOne    = 5  // wrong codes from one address within WrongWithin
	WrongAll      = 20 // wrong codes from everybody, then the code is void
	WrongWithin   = time.Minute
	codes         = 100_000_000
	tokenBytes    = 32
	deviceIDBytes = 8
)

// Code is a pairing code.
type Code struct {
	Digits string // CodeDigits of 0 to 9
	Until  time.Time
}

// String returns the code as it is shown: in two groups of four.
func (c Code) String() string {
	half := len(c.Digits) / 2
	return c.Digits[:half] + " " + c.Digits[half:]
}

// Why a device could not be paired, beside a code that is none ([ParseCode]) and
// tries that come too fast ([TooOften]).
var (
	ErrNoCode    = errors.New("no pairing code is waiting; ask for one on the machine that the logbook runs on")
	ErrWrongCode = errors.New("this is not the pairing code; compare it with the one on the machine's screen")
	ErrExpired   = errors.New("the pairing code is older than 10 minutes; ask for a new one on the machine")
	ErrUsed      = errors.New("the pairing code was used already; ask for a new one on the machine")
	ErrVoid      = errors.New("a wrong code was entered 20 times, so the pairing code is void; ask for a new one on the machine")
)

// TooOften is the error of an address from which too many wrong codes came.
type TooOften struct{ Wait time.Duration }

func (e *TooOften) Error() string {
	return fmt.Sprintf("a wrong code was entered %d times within a minute; wait %d seconds and try again", WrongByOne, e.Seconds())
}

// Seconds is the time to wait, rounded up.
func (e *TooOften) Seconds() int { return int((e.Wait + time.Second - 1) / time.Second) }

type codeState int

const (
	noCode codeState = iota
	waiting
	used
	void
)

// pairing is the code that was given last and the wrong tries at it.
type pairing struct {
	mu    sync.Mutex // held through the saving of a device, so that a code pairs one
	code  Code
	state codeState
	all   int
	wrong []wrongTry // of the last WrongWithin, oldest first: at most WrongAll a code
}

type wrongTry struct {
	at   time.Time
	from netip.Addr
}

// NewCode gives a pairing code, good for one device within CodeGoodFor. The one
// given before is good no longer. The error is that of the source of chance.
func (g *Guard) NewCode() (Code, error) {
	var b [4]byte
	for {
		if _, err := io.ReadFull(g.config.Random, b[:]); err != nil {
			return Code{}, fmt.Errorf("drawing a pairing code: %w", err)
		}
		n := binary.BigEndian.Uint32(b[:])
		if n >= 1<<32/codes*codes { // the rest would make low numbers likelier
			continue
		}
		c := Code{fmt.Sprintf("%0*d", CodeDigits, n%codes), g.config.Clock().Add(CodeGoodFor)}
		p := &g.pairing
		p.mu.Lock()
		defer p.mu.Unlock()
		p.code, p.state, p.all = c, waiting, 0
		return c, nil
	}
}

// ParseCode reads a pairing code as people type it: with spaces, hyphens and
// points, with the letters O, I and l for the digits they look like, or with the
// digits of another script. It returns CodeDigits digits of 0 to 9.
func ParseCode(s string) (string, error) {
	var digits strings.Builder
	for _, r := range s {
		switch {
		case unicode.IsSpace(r), r == '-', r == '.', r >= '‐' && r <= '―':
		case r == 'O', r == 'o':
			digits.WriteByte('0')
		case r == 'I', r == 'l', r == '|':
			digits.WriteByte('1')
		case unicode.IsDigit(r):
			digits.WriteByte('0' + digitValue(r))
		default:
			return "", fmt.Errorf("a pairing code has digits only, and there is %q; enter the %d digits on the machine's screen", r, CodeDigits)
		}
		if digits.Len() > CodeDigits {
			return "", fmt.Errorf("a pairing code has %d digits, and there are more; enter it again", CodeDigits)
		}
	}
	if digits.Len() < CodeDigits {
		return "", fmt.Errorf("a pairing code has %d digits, and there are %d; enter it again", CodeDigits, digits.Len())
	}
	return digits.String(), nil
}

// digitValue is the value of a decimal digit of any script: they stand ten in a
// row from nought, and runs of them lie next to each other only in tens.
func digitValue(r rune) byte {
	first := r
	for unicode.IsDigit(first - 1) {
		first--
	}
	return byte((r - first) % 10)
}

// Pair pairs a device that shows the code, from an address, and returns the token
// that the device must show from then on. The name may be empty.
//
// The errors are those of ParseCode, *TooOften, ErrNoCode, ErrExpired, ErrUsed,
// ErrVoid, ErrWrongCode, and those of Config's Random and Save; after the last two
// the code is still good.
func (g *Guard) Pair(ctx context.Context, code, name string, from netip.Addr) (token string, err error) {
	code, err = ParseCode(code)
	if err != nil {
		return "", err
	}
	p := &g.pairing
	p.mu.Lock()
	defer p.mu.Unlock()
	now := g.config.Clock()
	if err := p.check(code, from, now); err != nil {
		return "", err
	}
	d, token, err := g.draw(name, now)
	if err != nil {
		return "", fmt.Errorf("pairing the device: %w", err)
	}
	if g.config.Save != nil {
		if err := g.config.Save(ctx, d); err != nil {
			return "", fmt.Errorf("pairing the device %q: %w", d.Name, err)
		}
	}
	p.state = used
	g.admit(d)
	return token, nil
}

// check says what is wrong with a code; nil: it is right.
func (p *pairing) check(code string, from netip.Addr, now time.Time) error {
	p.wrong = slices.DeleteFunc(p.wrong, func(w wrongTry) bool { return now.Sub(w.at) >= WrongWithin })
	n := 0
	for _, w := range slices.Backward(p.wrong) {
		if w.from == from {
			n++
		}
		if n == WrongByOne {
			return &TooOften{WrongWithin - now.Sub(w.at)}
		}
	}
	switch {
	case p.state == noCode:
		return ErrNoCode
	case p.state == used:
		return ErrUsed
	case p.state == void:
		return ErrVoid
	case !now.Before(p.code.Until):
		return ErrExpired
	case subtle.ConstantTimeCompare([]byte(code), []byte(p.code.Digits)) == 1:
		return nil
	}
	p.wrong = append(p.wrong, wrongTry{now, from})
	if p.all++; p.all >= WrongAll {
		p.state = void
	}
	return ErrWrongCode
}

// draw makes a device and its token.
func (g *Guard) draw(name string, now time.Time) (d Device, token string, err error) {
	var b [tokenBytes + deviceIDBytes]byte
	if _, err := io.ReadFull(g.config.Random, b[:]); err != nil {
		return Device{}, "", err
	}
	token = base64.RawURLEncoding.EncodeToString(b[:tokenBytes])
	d = Device{ID: hex.EncodeToString(b[tokenBytes:]), Name: cleanName(name), TokenSum: sha256.Sum256([]byte(token)), Paired: now}
	if d.Name == "" {
		d.Name = "device " + d.ID[:4]
	}
	return d, token, nil
}
