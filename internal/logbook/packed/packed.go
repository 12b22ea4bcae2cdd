// Package packed turns the record of a break, force and travel against time, into
// few bytes and back, to the last bit.
//
// A column whose values all have the same few decimals, as those of a device do, is
// kept as integers of its last decimal: each as its difference from the one before,
// or, where that is shorter, as the difference of differences, with small ones in
// fewer bytes. Any other column is kept as it lies in memory, bytes of like weight
// together. All of it then goes through zstd, where that makes it shorter.
//
// The form, after which nothing follows:
//
//	1 byte    form: 1
//	1 byte    bit 0: there is travel; bit 1: what follows is packed by zstd
//	columns   time, force and, where there is one, travel; before the first the
//	          number of points as a varint
//
// A column is one byte and its values. The byte is 255 for values as they lie in
// memory: all lowest bytes, all second ones and so on, eight in all. Otherwise its
// bits 0 to 3 are the number of decimals, bit 4 says that there are differences of
// differences, and bit 5 that some zeros are -0, as a device writes them that has
// been set to zero. The values follow as zigzag varints, the first counted from 0;
// then, where bit 5 is set, how many are -0 and how far each lies behind the one
// before, as varints, the first counted from before the first value.
package packed

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/klauspost/compress/zstd"
)

// MaxPoints is how many points a trace may have: at 1000 a second, more than an hour.
const MaxPoints = 1 << 22

// Trace is the record of a break. Columns have the same length; values may be
// anything, NaN and infinities included.
type Trace struct {
	Time   []float64 // s
	Force  []float64 // N
	Travel []float64 // mm; nil: not recorded
}

const (
	form = 1

	hasTravel = 1 << 0
	isZstd    = 1 << 1

	asMemory    = 255
	maxDecimals = 9
	decimals    = 0x0f
	twice       = 1 << 4 // differences of differences
	hasNegZero  = 1 << 5

	// maxPlain is the most that there can be before zstd: differences of differences
	// of integers below 2 to the 53 take up to 8 bytes, and a -0 one more.
	maxPlain = binary.MaxVarintLen64 + 3*(1+binary.MaxVarintLen64+MaxPoints*9)
)

var (
	coder, _   = zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithEncoderLevel(zstd.SpeedBetterCompression))
	decoder, _ = zstd.NewReader(nil, zstd.WithDecoderConcurrency(0), zstd.WithDecoderMaxMemory(maxPlain))
)

// Pack returns a trace in few bytes. It panics where columns differ in length or have
// more than MaxPoints values.
func Pack(t Trace) []byte {
	n := len(t.Time)
	if len(t.Force) != n || t.Travel != nil && len(t.Travel) != n {
		panic("packed: columns of a trace differ in length")
	}
	if n > MaxPoints {
		panic("packed: more points than a trace may have")
	}
	columns := [][]float64{t.Time, t.Force}
	var flags byte
	if t.Travel != nil {
		flags |= hasTravel
		columns = append(columns, t.Travel)
	}
	body := binary.AppendUvarint(nil, uint64(n))
	for _, c := range columns {
		body = appendColumn(body, c)
	}
	if small := coder.EncodeAll(body, nil); len(small) < len(body) {
		body = small
		flags |= isZstd
	}
	return append([]byte{form, flags}, body...)
}

// appendColumn appends a column in its shortest form.
func appendColumn(to []byte, c []float64) []byte {
	for d := range maxDecimals + 1 {
		whole, negZeros, ok := integers(c, d)
		if !ok {
			continue
		}
		kind := byte(d)
		if negZeros > 0 {
			kind |= hasNegZero
		}
		best := appendDifferences([]byte{kind}, whole, false)
		if again := appendDifferences([]byte{kind | twice}, whole, true); len(again) < len(best) {
			best = again
		}
		to = append(to, best...)
		if negZeros > 0 {
			to = appendNegZeros(to, c, negZeros)
		}
		return to
	}
	to = append(to, asMemory)
	for shift := 0; shift < 64; shift += 8 {
		for _, v := range c {
			to = append(to, byte(math.Float64bits(v)>>shift))
		}
	}
	return to
}

func isNegZero(v float64) bool { return v == 0 && math.Signbit(v) }

// integers returns the values as integers of their last of d decimals, -0 as 0, and
// how many are -0, if that gives back each to the last bit.
func integers(c []float64, d int) (whole []int64, negZeros int, ok bool) {
	scale := math.Pow10(d)
	whole = make([]int64, len(c))
	for i, v := range c {
		if isNegZero(v) {
			negZeros++
			continue
		}
		k := math.Round(v * scale)
		if !(math.Abs(k) < 1<<53) || math.Float64bits(float64(int64(k))/scale) != math.Float64bits(v) {
			return nil, 0, false
		}
		whole[i] = int64(k)
	}
	return whole, negZeros, true
}

func appendNegZeros(to []byte, c []float64, count int) []byte {
	to = binary.AppendUvarint(to, uint64(count))
	before := -1
	for i, v := range c {
		if isNegZero(v) {
			to = binary.AppendUvarint(to, uint64(i-before))
			before = i
		}
	}
	return to
}

func appendDifferences(to []byte, whole []int64, again bool) []byte {
	var before, step int64
	for _, k := range whole {
		d := k - before
		before = k
		if again {
			d, step = d-step, d
		}
		to = binary.AppendVarint(to, d)
	}
	return to
}

// Unpack returns the trace that was packed. What Pack did not write is an error; it
// takes at most some hundred megabytes of memory, whatever it is given.
func Unpack(b []byte) (Trace, error) {
	t, err := unpack(b)
	if err != nil {
		return Trace{}, fmt.Errorf("the trace cannot be unpacked: %w: take it from the logbook again, or from a backup", err)
	}
	return t, nil
}

var errShort = errors.New("its end is missing")

func unpack(b []byte) (Trace, error) {
	if len(b) < 2 {
		return Trace{}, errShort
	}
	flags, body := b[1], b[2:]
	if b[0] != form || flags&^(hasTravel|isZstd) != 0 {
		return Trace{}, fmt.Errorf("its form %d, %d is not known", b[0], flags)
	}
	if flags&isZstd != 0 {
		var err error
		if body, err = decoder.DecodeAll(body, nil); err != nil {
			return Trace{}, err
		}
	}
	count, size := binary.Uvarint(body)
	if size <= 0 {
		return Trace{}, errShort
	}
	body = body[size:]
	// A value takes a byte at least, so no more memory is taken than there are bytes.
	if count > MaxPoints || count > uint64(len(body)) {
		return Trace{}, fmt.Errorf("it says that it has %d points and has fewer", count)
	}
	n := int(count)
	var t Trace
	columns := []*[]float64{&t.Time, &t.Force}
	if flags&hasTravel != 0 {
		columns = append(columns, &t.Travel)
	}
	var err error
	for _, c := range columns {
		if *c, body, err = readColumn(body, n); err != nil {
			return Trace{}, err
		}
	}
	if len(body) != 0 {
		return Trace{}, fmt.Errorf("there are %d bytes too many", len(body))
	}
	return t, nil
}

// readColumn reads n values and returns what follows them.
func readColumn(b []byte, n int) (c []float64, rest []byte, err error) {
	if len(b) < 1+n {
		return nil, nil, errShort
	}
	kind, b := b[0], b[1:]
	c = make([]float64, n)
	if kind == asMemory {
		if len(b) < 8*n {
			return nil, nil, errShort
		}
		for i := range c {
			var bits uint64
			for part := range 8 {
				bits |= uint64(b[part*n+i]) << (8 * part)
			}
			c[i] = math.Float64frombits(bits)
		}
		return c, b[8*n:], nil
	}
	if b, err = readIntegers(b, kind, c); err != nil {
		return nil, nil, err
	}
	if kind&hasNegZero != 0 {
		if b, err = readNegZeros(b, c); err != nil {
			return nil, nil, err
		}
	}
	return c, b, nil
}

// readIntegers fills a column and returns what follows.
func readIntegers(b []byte, kind byte, c []float64) (rest []byte, err error) {
	d := int(kind & decimals)
	if kind&^(decimals|twice|hasNegZero) != 0 || d > maxDecimals {
		return nil, fmt.Errorf("a column's form %d is not known", kind)
	}
	scale := math.Pow10(d)
	var value, step int64
	for i := range c {
		v, size := binary.Varint(b)
		if size <= 0 {
			return nil, errShort
		}
		b = b[size:]
		if kind&twice != 0 {
			step += v
			v = step
		}
		value += v
		if value <= -1<<53 || value >= 1<<53 {
			return nil, errors.New("a value is too large")
		}
		c[i] = float64(value) / scale
	}
	return b, nil
}

// readNegZeros makes those zeros of a column negative that are, and returns what
// follows.
func readNegZeros(b []byte, c []float64) (rest []byte, err error) {
	next := func() (uint64, error) {
		v, size := binary.Uvarint(b)
		if size <= 0 {
			return 0, errShort
		}
		b = b[size:]
		return v, nil
	}
	count, err := next()
	if err != nil {
		return nil, err
	}
	at := -1
	for range count {
		step, err := next()
		if err != nil {
			return nil, err
		}
		if step == 0 || step > uint64(len(c)-1-at) {
			return nil, errors.New("a zero is said to be where no value is")
		}
		at += int(step)
		if c[at] != 0 {
			return nil, errors.New("a zero is said to be where another value is")
		}
		c[at] = math.Copysign(0, -1)
	}
	return b, nil
}
