package photo

import (
	"bytes"
	"encoding/binary"
)

// Flags of a WebP's VP8X chunk (RFC 9649, section 2.7.1; from memory, unconfirmed).
const (
	webpAnimated = 1 << 1
	webpXMP      = 1 << 2
	webpExif     = 1 << 3
	webpICC      = 1 << 5
)

const (
	webpHead  = 12 // RIFF, length, WEBP
	webpX     = 10 // bytes of a VP8X chunk
	chunkHead = 8
)

// stripWebP keeps what a decoder needs of a WebP. The way up is always 1:
// browsers do not follow the tag in a WebP (seen with Chromium 156, which follows
// it in JPEG and PNG), so such a picture is kept and shown as it is stored.
func stripWebP(b []byte) (kept []byte, way int, err error) {
	size := uint64(binary.LittleEndian.Uint32(b[4:])) + chunkHead
	if size > uint64(len(b)) {
		return nil, 0, cutOff("WebP")
	}
	if size < webpHead {
		return nil, 0, refuse(Broken, "the WebP picture is damaged: its length is impossible; send it again")
	}
	parts := make(map[string][]byte)
	for rest := b[webpHead:size]; len(rest) > 0; {
		if len(rest) < chunkHead {
			return nil, 0, cutOff("WebP")
		}
		n := uint64(binary.LittleEndian.Uint32(rest[4:]))
		name := string(rest[:4])
		if uint64(len(rest)-chunkHead) < n {
			return nil, 0, cutOff("WebP")
		}
		if _, twice := parts[name]; !twice {
			parts[name] = rest[chunkHead : chunkHead+n]
		}
		rest = rest[min(uint64(len(rest)), chunkHead+n+n%2):]
	}
	x, extended := parts["VP8X"]
	if extended && len(x) != webpX {
		return nil, 0, refuse(Broken, "the WebP picture is damaged: its head has another length than it should; send it again")
	}
	if _, animated := parts["ANMF"]; animated || extended && x[0]&webpAnimated != 0 {
		return nil, 0, refuse(WrongFormat, "this is an animated WebP picture; send a photo as JPEG, PNG or WebP")
	}
	if len(parts["VP8 "]) > 0 && len(parts["VP8L"]) > 0 {
		return nil, 0, refuse(Broken, "the WebP picture is damaged: it holds two pictures; send it again")
	}
	return assembleWebP(parts), 1, nil
}

// assembleWebP puts the parts that are kept in the order that the format asks
// for.
func assembleWebP(parts map[string][]byte) []byte {
	kept := []byte("RIFF\x00\x00\x00\x00WEBP")
	add := func(name string, content []byte) {
		kept = append(kept, name...)
		kept = binary.LittleEndian.AppendUint32(kept, uint32(len(content)))
		kept = append(kept, content...)
		if len(content)%2 == 1 {
			kept = append(kept, 0)
		}
	}
	if x, extended := parts["VP8X"]; extended {
		x = bytes.Clone(x)
		x[0] &^= webpXMP | webpExif | webpICC
		icc, colours := parts["ICCP"]
		if colours {
			x[0] |= webpICC
		}
		add("VP8X", x)
		if colours {
			add("ICCP", icc)
		}
	}
	for _, name := range []string{"ALPH", "VP8 ", "VP8L"} {
		if content, ok := parts[name]; ok {
			add(name, content)
		}
	}
	binary.LittleEndian.PutUint32(kept[4:], uint32(len(kept)-chunkHead))
	return kept
}
