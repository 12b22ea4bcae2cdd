package photo

import "encoding/binary"

const (
	exifMark       = "Exif\x00\x00" // before the block, in a JPEG
	tagOrientation = 0x0112
	typeShort      = 3
	entryBytes     = 12
)

// orientation returns the way up that an EXIF block gives, 1 to 8: a TIFF header
// and behind it the first directory, of which one entry counts. Whatever is not
// as it should be gives 1, the right way up.
func orientation(block []byte) int {
	if len(block) < 8 {
		return 1
	}
	var order binary.ByteOrder
	switch string(block[:4]) {
	case "II*\x00":
		order = binary.LittleEndian
	case "MM\x00*":
		order = binary.BigEndian
	default:
		return 1
	}
	at := uint64(order.Uint32(block[4:]))
	if at+2 > uint64(len(block)) {
		return 1
	}
	entries := block[at+2:]
	for n := order.Uint16(block[at:]); n > 0 && len(entries) >= entryBytes; n-- {
		e := entries[:entryBytes]
		entries = entries[entryBytes:]
		if order.Uint16(e) != tagOrientation {
			continue
		}
		v := int(order.Uint16(e[8:]))
		if order.Uint16(e[2:]) != typeShort || order.Uint32(e[4:]) != 1 || v < 1 || v > 8 {
			return 1
		}
		return v
	}
	return 1
}

// orientationBlock is an EXIF block that holds the way up and nothing else.
func orientationBlock(orientation int) []byte {
	b := []byte("MM\x00*\x00\x00\x00\x08")
	b = binary.BigEndian.AppendUint16(b, 1) // entries
	b = binary.BigEndian.AppendUint16(b, tagOrientation)
	b = binary.BigEndian.AppendUint16(b, typeShort)
	b = binary.BigEndian.AppendUint32(b, 1) // values
	b = binary.BigEndian.AppendUint16(b, uint16(orientation))
	return append(b, 0, 0, 0, 0, 0, 0) // the rest of the value, and no further directory
}
