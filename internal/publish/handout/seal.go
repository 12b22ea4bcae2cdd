package handout

import (
	"bytes"
	"compress/flate"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"bondtrial/internal/publish"
	"bondtrial/internal/publish/paper"
)

// sealed is the file of the key. It is a seal and no lock: it keeps a person from
// reading the key by a glance, not from opening it. That it was opened is recorded
// by whoever opens it with Open's caller.
type sealed struct {
	Note   string `json:"note"`
	SHA256 string `json:"sha256_of_the_key"`
	Key    string `json:"key"`
}

// entry is one line of the key.
type entry struct {
	Blind    string `json:"blind"`
	Adhesive string `json:"adhesive"`
	Control  bool   `json:"control,omitempty"`
}

const sealNote = "The key to the blind names, sealed. Open it when the last specimen is broken: bondtrial plan --open FOLDER. Every opening is recorded."

// inOrder returns the names on paper in alphabetical order, which tells nothing.
func (h *handout) inOrder() []string {
	names := slices.Clone(h.Names)
	if h.Trial.Blind {
		slices.Sort(names)
	}
	return names
}

func (h *handout) seal(w io.Writer) error {
	var key []entry
	for a, name := range h.Names {
		key = append(key, entry{name, h.Trial.Adhesives[a].Name, h.Trial.Adhesives[a].Name == h.Trial.Control})
	}
	slices.SortFunc(key, func(a, b entry) int { return bytes.Compare([]byte(a.Blind), []byte(b.Blind)) })
	plain, err := json.Marshal(key)
	if err != nil {
		return err
	}
	var packed bytes.Buffer
	f, err := flate.NewWriter(&packed, flate.BestCompression)
	if err != nil {
		return err
	}
	if _, err := f.Write(plain); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(sealed{sealNote, fmt.Sprintf("%x", sha256.Sum256(plain)), base64.StdEncoding.EncodeToString(packed.Bytes())})
}

// mostKey is the size of a key above which a file is none.
const mostKey = 1 << 20

// Key is what blind names stand for.
type Key struct {
	Blind, Adhesive string
	Control         bool
}

// Open returns the key of a sealed file in the order of the blind names. The error
// says that the file is no such key, or that it was changed.
func Open(content []byte) ([]Key, error) {
	var s sealed
	if err := json.Unmarshal(content, &s); err != nil || s.Key == "" {
		return nil, errors.New("this is not the key of a plan")
	}
	packed, err := base64.StdEncoding.DecodeString(s.Key)
	if err != nil {
		return nil, errors.New("the key has been changed: it is not in base64 any more")
	}
	plain, err := io.ReadAll(io.LimitReader(flate.NewReader(bytes.NewReader(packed)), mostKey))
	if err != nil || fmt.Sprintf("%x", sha256.Sum256(plain)) != s.SHA256 {
		return nil, errors.New("the key has been changed: it does not agree with its checksum")
	}
	var key []entry
	if err := json.Unmarshal(plain, &key); err != nil {
		return nil, errors.New("the key has been changed: it cannot be read")
	}
	var out []Key
	for _, e := range key {
		out = append(out, Key(e))
	}
	return out, nil
}

// KeyPaper writes the key as a PDF to be folded. planJSON is the plan for programs
// that it belongs to, which says what the trial is called and on which paper.
func KeyPaper(w io.Writer, key []Key, planJSON []byte) error {
	var p planFile
	if err := json.Unmarshal(planJSON, &p); err != nil {
		return fmt.Errorf("the plan of the key: %w", err)
	}
	start, err := time.Parse(time.DateOnly, p.Start)
	if err != nil {
		return fmt.Errorf("the plan of the key: %w", err)
	}
	k := paper.Key{Paper: paper.A4, Head: paper.Head{Trial: p.Trial, Date: start, Cautions: publish.Cautions}}
	if p.Page == "letter" {
		k.Paper = paper.USLetter
	}
	for _, e := range key {
		k.Entries = append(k.Entries, paper.KeyEntry{Blind: e.Blind, Adhesive: e.Adhesive})
	}
	return paper.WriteKey(w, k)
}
