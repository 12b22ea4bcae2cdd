package photo

import (
	"encoding/binary"
	"hash/crc32"
)

const (
	pngHead    = "\x89PNG\r\n\x1a\n"
	pngMost    = 1<<31 - 1 // bytes of a chunk (PNG specification, section 5.3; from memory, unconfirmed)
	pngExif    = "eXIf"
	pngExtra   = 12 // bytes of a chunk beside its content
	pngTypeEnd = 8  // where length and type of a chunk end
)

// pngKept are the chunks that the pixels and their colours need. An animation
// keeps its still picture only.
var pngKept = map[string]bool{
	"IHDR": true, "PLTE": true, "IDAT": true, "IEND": true, "tRNS": true,
	"cHRM": true, "gAMA": true, "iCCP": true, "sBIT": true, "sRGB": true, "cICP": true,
	"mDCV": true, "cLLI": true, "bKGD": true, "pHYs": true,
}

// stripPNG keeps what a decoder needs of a PNG, and a way up that is not 1.
func stripPNG(b []byte) (kept []byte, way int, err error) {
	way = 1
	kept = append(kept, pngHead...)
	head := 0 // where the chunk behind the first begins in kept
	seenExif := false
	for at := len(pngHead); ; {
		if len(b)-at < pngExtra {
			return nil, 0, cutOff("PNG")
		}
		n := binary.BigEndian.Uint32(b[at:])
		name := string(b[at+4 : at+pngTypeEnd])
		if n > pngMost {
			return nil, 0, refuse(Broken, "the PNG picture is damaged: a part of it has an impossible length; send it again")
		}
		if uint64(len(b)-at-pngExtra) < uint64(n) {
			return nil, 0, cutOff("PNG")
		}
		chunk := b[at : at+pngExtra+int(n)]
		at += len(chunk)
		if head == 0 && name != "IHDR" {
			return nil, 0, refuse(Broken, "the PNG picture is damaged: it does not begin with its size; send it again")
		}
		switch {
		case name == pngExif && !seenExif:
			seenExif = true
			way = orientation(chunk[pngTypeEnd : pngTypeEnd+n])
		case pngKept[name]:
			kept = append(kept, chunk...)
		}
		if head == 0 {
			head = len(kept)
		}
		if name == "IEND" {
			break
		}
	}
	if way != 1 {
		tag := pngChunk(pngExif, orientationBlock(way))
		kept = append(kept[:head], append(tag, kept[head:]...)...)
	}
	return kept, way, nil
}

func pngChunk(name string, content []byte) []byte {
	c := binary.BigEndian.AppendUint32(nil, uint32(len(content)))
	c = append(c, name...)
	c = append(c, content...)
	return binary.BigEndian.AppendUint32(c, crc32.ChecksumIEEE(c[4:]))
}
