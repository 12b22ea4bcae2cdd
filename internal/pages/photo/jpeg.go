package photo

import (
	"bytes"
	"encoding/binary"
)

// Markers of JPEG (ITU-T T.81, table B.1; from memory, unconfirmed).
const (
	markTEM  = 0x01
	markSOF0 = 0xc0
	markJPG  = 0xc8
	markSOF  = 0xcf // the last of the frames
	markRST0 = 0xd0
	markRST7 = 0xd7
	markSOI  = 0xd8
	markEOI  = 0xd9
	markSOS  = 0xda
	markDQT  = 0xdb
	markDNL  = 0xdc
	markDRI  = 0xdd
	markAPP0 = 0xe0
	markAPP1 = 0xe1
	markAPP2 = 0xe2
	markAPPE = 0xee
)

// mostScans is how many passes over the picture are followed. Pictures have one
// to some ten; thousands of empty ones would keep a decoder busy for hours.
const mostScans = 64

const (
	jfifBytes  = 14
	adobeBytes = 12
)

// stripJPEG keeps what a decoder needs of a JPEG, up to the end of its first
// picture, and a way up that is not 1.
func stripJPEG(b []byte) (kept []byte, way int, err error) {
	way = 1
	var jfif, rest []byte
	seenExif, scans := false, 0
	for at := 2; ; {
		mark, body, next, err := nextSegment(b, at)
		if err != nil {
			return nil, 0, err
		}
		switch {
		case mark == markEOI:
			return assembleJPEG(jfif, rest, way), way, nil
		case mark == markSOI:
			return nil, 0, refuse(Broken, "the JPEG picture begins a second time before it ends; take the photo again")
		case mark == markSOS:
			if scans++; scans > mostScans {
				return nil, 0, refuse(WrongFormat, "the JPEG picture is stored in more than %d passes; save it as an ordinary JPEG and send that", mostScans)
			}
			rest = appendSegment(rest, mark, body)
			end := scanEnd(b, next)
			rest = append(rest, b[next:end]...)
			next = end
		case mark == markAPP0 && jfif == nil && bytes.HasPrefix(body, []byte("JFIF\x00")):
			// Version and resolution; width and height of the preview become 0.
			jfif = make([]byte, jfifBytes)
			copy(jfif[:jfifBytes-2], body)
		case mark == markAPP1 && !seenExif && scans == 0 && bytes.HasPrefix(body, []byte(exifMark)):
			seenExif = true
			way = orientation(body[len(exifMark):])
		case mark == markAPPE && len(body) >= adobeBytes && bytes.HasPrefix(body, []byte("Adobe")):
			rest = appendSegment(rest, mark, body[:adobeBytes]) // how the colours are coded
		case mark == markAPP2 && bytes.HasPrefix(body, []byte("ICC_PROFILE\x00")), needed(mark):
			rest = appendSegment(rest, mark, body)
		}
		at = next
	}
}

// needed reports whether a segment holds frames or tables of a decoder.
func needed(mark byte) bool {
	return mark >= markSOF0 && mark <= markSOF && mark != markJPG || mark >= markDQT && mark <= markDRI
}

// nextSegment returns the segment that begins at or behind a place, its content
// without the length, and where the next one begins. What lies between segments
// is passed over, as decoders do.
func nextSegment(b []byte, at int) (mark byte, body []byte, next int, err error) {
	for {
		i := bytes.IndexByte(b[at:], 0xff)
		if i < 0 {
			return 0, nil, 0, cutOff("JPEG")
		}
		for at += i; at < len(b) && b[at] == 0xff; at++ { // any number of them may come before the marker
		}
		if at == len(b) {
			return 0, nil, 0, cutOff("JPEG")
		}
		mark = b[at]
		at++
		if mark != 0 && mark != markTEM && (mark < markRST0 || mark > markRST7) {
			break
		}
	}
	if mark == markEOI || mark == markSOI {
		return mark, nil, at, nil
	}
	if len(b)-at < 2 {
		return 0, nil, 0, cutOff("JPEG")
	}
	n := int(binary.BigEndian.Uint16(b[at:]))
	if n < 2 {
		return 0, nil, 0, refuse(Broken, "the JPEG picture is damaged: a part of it has no length; send it again")
	}
	if len(b)-at < n {
		return 0, nil, 0, cutOff("JPEG")
	}
	return mark, b[at+2 : at+n], at + n, nil
}

// scanEnd returns where the coded pixels that begin at a place end: at the next
// marker that is none of theirs.
func scanEnd(b []byte, at int) int {
	for {
		i := bytes.IndexByte(b[at:], 0xff)
		if i < 0 || at+i+1 >= len(b) {
			return len(b)
		}
		at += i
		switch m := b[at+1]; {
		case m == 0, m >= markRST0 && m <= markRST7:
			at += 2
		case m == 0xff:
			at++
		default:
			return at
		}
	}
}

func appendSegment(to []byte, mark byte, body []byte) []byte {
	to = append(to, 0xff, mark)
	to = binary.BigEndian.AppendUint16(to, uint16(len(body)+2))
	return append(to, body...)
}

func assembleJPEG(jfif, rest []byte, way int) []byte {
	kept := []byte{0xff, markSOI}
	if jfif != nil {
		kept = appendSegment(kept, markAPP0, jfif)
	}
	if way != 1 {
		kept = appendSegment(kept, markAPP1, append([]byte(exifMark), orientationBlock(way)...))
	}
	kept = append(kept, rest...)
	return append(kept, 0xff, markEOI)
}

func cutOff(name string) error {
	return refuse(Broken, "the %s picture was cut off on its way: its end is missing; send it again", name)
}
