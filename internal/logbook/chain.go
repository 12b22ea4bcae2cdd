package logbook

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"hash"
)

// entrySum returns the sum of an entry: SHA-256 over
//
//	"logbook entry" and a zero byte
//	the sum of the entry before it, 32 bytes; zeros for the first
//	seq, behind in nanoseconds, replaces, undoes, the number of files: 8 bytes each
//	at, trial, kind, subject, content, by, device, said, key, claim
//	for each file its size, 8 bytes, and its role, name, media type and sum
//
// Numbers have their lowest byte first. A text is its length in bytes, 8 bytes, and
// its bytes in UTF-8; times and sums are texts as they stand in the file.
func entrySum(before string, e *row) string {
	h := sha256.New()
	h.Write([]byte("logbook entry\x00"))
	var raw [sha256.Size]byte
	hex.Decode(raw[:], []byte(before))
	h.Write(raw[:])
	for _, n := range []int64{e.Seq, int64(e.Behind), e.Replaces, e.Undoes, int64(len(e.Files))} {
		writeNumber(h, n)
	}
	for _, s := range []string{e.at, e.Trial, e.Kind, e.Subject, string(e.Content), e.By, e.Device,
		e.said, e.Key, e.Claim} {
		writeText(h, s)
	}
	for _, f := range e.Files {
		writeNumber(h, f.Size)
		for _, s := range []string{f.Role, f.Name, f.MediaType, f.Sum} {
			writeText(h, s)
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

func writeNumber(h hash.Hash, n int64) {
	var b [8]byte
	binary.LittleEndian.PutUint64(b[:], uint64(n))
	h.Write(b[:])
}

func writeText(h hash.Hash, s string) {
	writeNumber(h, int64(len(s)))
	h.Write([]byte(s))
}

func contentSum(b []byte) string {
	s := sha256.Sum256(b)
	return hex.EncodeToString(s[:])
}
