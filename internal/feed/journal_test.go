package feed

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// memoryFile is a journal's file that can fail: after room bytes it is full.
type memoryFile struct {
	bytes.Buffer
	room    int
	syncErr error
	syncs   int
}

var errFull = errors.New("no space left")

func (f *memoryFile) Write(b []byte) (int, error) {
	if f.room >= 0 && f.Len()+len(b) > f.room {
		n, _ := f.Buffer.Write(b[:max(f.room-f.Len(), 0)])
		return n, errFull
	}
	return f.Buffer.Write(b)
}

func (f *memoryFile) Sync() error { f.syncs++; return f.syncErr }

func numbered(lines []Line) []Line {
	for i := range lines {
		lines[i].Number = int64(i + 1)
	}
	return lines
}

func TestJournalIsReadBack(t *testing.T) {
	lines := numbered([]Line{
		{At: start.Add(-1500 * time.Microsecond), Kind: First, Text: []byte("34,12")},
		{At: start.Add(20 * time.Millisecond), Text: []byte("100,5\t\\ µ")},
		{At: start.Add(30 * time.Millisecond), Kind: Half, Text: []byte("\x00\xff\x80é\x7f")},
		{At: start.Add(40 * time.Millisecond), Kind: Cut, Text: bytes.Repeat([]byte{0xff}, MaxLine)},
		{At: start.Add(2 * time.Second), Kind: Silent, Text: []byte("silent since 09:30:00.0")},
		{At: start.Add(3 * time.Hour), Kind: Lost, Text: nil},
	})
	f := &memoryFile{room: -1}
	head := Header{Source: "serial port /dev/x\nat 9600 baud", Simulated: true, Started: start, Pattern: "{time_ms},{counts}"}
	j, err := NewJournal(f, head)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Keep(&Batch{Lines: lines[:3]}); err != nil {
		t.Fatal(err)
	}
	if err := j.Keep(&Batch{Lines: lines[3:], Pattern: mustPattern(t, "{time_ms},{counts}")}); err != nil {
		t.Fatal(err)
	}
	if err := j.End(); err != nil {
		t.Fatal(err)
	}
	if f.syncs != 4 {
		t.Errorf("brought to the disk %d times, want after each of 4 writes", f.syncs)
	}
	rec, err := ReadJournal(bytes.NewReader(f.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(Record{Header: head, Lines: lines, Ended: true}, rec, cmpopts.EquateEmpty()); d != "" {
		t.Error(d)
	}
	for i, l := range strings.Split(f.String(), "\n") {
		for _, c := range l {
			if c < ' ' && c != '\t' || c == 0xfffd {
				t.Errorf("line %d of the journal is no text: %q", i+1, l)
			}
		}
	}
}

// At whatever byte the file ends, what is whole is read, and nothing else.
func TestJournalThatEndsAnywhere(t *testing.T) {
	f := &memoryFile{room: -1}
	j, err := NewJournal(f, Header{Source: "pipe", Started: start})
	if err != nil {
		t.Fatal(err)
	}
	head := f.Len()
	lines := numbered(arriving(10, "100,12345", "200,\\\xff", "300,7"))
	if err := j.Keep(&Batch{Lines: lines, Pattern: mustPattern(t, "{time_ms},{counts}")}); err != nil {
		t.Fatal(err)
	}
	all := f.Bytes()
	for n := range len(all) + 1 {
		rec, err := ReadJournal(bytes.NewReader(all[:n]))
		if n < head {
			if err == nil {
				t.Errorf("%d bytes, which end within the header, are read", n)
			}
			continue
		}
		if err != nil {
			t.Fatalf("%d bytes: %v", n, err)
		}
		whole := bytes.Count(all[head:n], []byte("\n"))
		torn := n > head && all[n-1] != '\n'
		want := lines[:min(whole, len(lines))]
		if d := cmp.Diff(want, rec.Lines, cmpopts.EquateEmpty()); d != "" || rec.Torn != torn || rec.Damaged != 0 || rec.Ended {
			t.Fatalf("%d bytes: torn %v, damaged %d, ended %v\n%s", n, rec.Torn, rec.Damaged, rec.Ended, d)
		}
	}
}

// A full disk: the batch is tried again, and no line is there twice or torn.
func TestJournalGoesOnAfterAnError(t *testing.T) {
	for room := 90; room < 220; room += 7 {
		f := &memoryFile{room: -1}
		j, err := NewJournal(f, Header{Source: "pipe", Started: start})
		if err != nil {
			t.Fatal(err)
		}
		lines := numbered(arriving(10, series(12, func(i int) string { return fmt.Sprintf("%d,%d", 100*i, i) })...))
		f.room = room
		err = j.Keep(&Batch{Lines: lines[:8]})
		if err == nil {
			err = j.Keep(&Batch{Lines: lines[8:]})
		}
		if !errors.Is(err, errFull) || !strings.Contains(err.Error(), "writing the journal") {
			t.Fatalf("room for %d: error %v", room, err)
		}
		f.room = -1
		f.syncErr = errors.New("disk gone")
		if err := j.Keep(&Batch{Lines: lines[:8]}); err == nil || !strings.Contains(err.Error(), "disk gone") {
			t.Fatalf("room for %d: error %v", room, err)
		}
		f.syncErr = nil
		for _, b := range [][]Line{lines[:8], lines[8:]} {
			if err := j.Keep(&Batch{Lines: b}); err != nil {
				t.Fatal(err)
			}
		}
		rec, err := ReadJournal(bytes.NewReader(f.Bytes()))
		if err != nil || rec.Damaged > 0 || bytes.Count(f.Bytes(), []byte("\n=")) != len(lines) {
			t.Fatalf("room for %d: %v, %d damaged:\n%s", room, err, rec.Damaged, f.Bytes())
		}
		if d := cmp.Diff(lines, rec.Lines); d != "" {
			t.Fatalf("room for %d:\n%s", room, d)
		}
	}
}

func TestJournalWithDamage(t *testing.T) {
	const head = "bondtrial journal 1\nsource: pipe\nstarted: 2026-03-01T09:30:00Z\nlater: unknown\n\n"
	body := "=1\t0.100000\t5\n" + "=2\t0.2\t6\n" + "?3\t0.300000\t7\n" + "\x00\x00\x00\x00\n" + "=x\t0.300000\t7\n" +
		"=9\t0.900000\t9\n" + "=4\t0.400000\t4\n" + "=4\t0.400000\tagain\n" + strings.Repeat("y", 9000) + "\n" + "=+5\t0.500000\t5\n=10\t1.000000\t\\xg0\n"
	rec, err := ReadJournal(strings.NewReader(head + body))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, l := range rec.Lines {
		got = append(got, fmt.Sprintf("%d %s", l.Number, l.Text))
	}
	if d := cmp.Diff([]string{"1 5", "4 again", "9 9"}, got); d != "" {
		t.Error(d)
	}
	if rec.Damaged != 7 || rec.Missing != 6 || rec.Example == "" {
		t.Errorf("%d damaged, such as %q, %d missing; want 7 and 6 (2, 3, 5 to 8)", rec.Damaged, rec.Example, rec.Missing)
	}
}

func TestNoJournal(t *testing.T) {
	for text, want := range map[string]string{
		"":                                     "no journal",
		"time,force\n1,2\n":                    "no journal",
		"bondtrial journal 2\n\n":              "version 2",
		"bondtrial journal 1\nsource: x\n":     "nothing was recorded",
		"bondtrial journal 1\nsource: x\n\n":   "lacks the time",
		"bondtrial journal 1\nstarted: y\n\n":  "no time of start",
		"bondtrial journal 1\nsource: \\q\n\n": "damaged at",
	} {
		if _, err := ReadJournal(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: error %v, want one with %q", text, err, want)
		}
	}
}

// Live and read back, the samples are the same, but for times to the microsecond.
func TestJournalGivesTheSameSamples(t *testing.T) {
	texts := append([]string{"ready", "ms,counts"}, series(300, func(i int) string {
		if i%50 == 49 {
			return "??"
		}
		return fmt.Sprintf("%d,%d", (5000+100*i)%20000, 84210+wobble(i))
	})...)
	lines := numbered(arriving(10, texts...))
	live, parser := parse(nil, lines)
	f := &memoryFile{room: -1}
	j, err := NewJournal(f, Header{Source: "pipe", Started: start})
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Keep(&Batch{Lines: lines, Pattern: parser.Pattern()}); err != nil {
		t.Fatal(err)
	}
	rec, err := ReadJournal(f)
	if err != nil {
		t.Fatal(err)
	}
	back, counts, err := rec.Batch(nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(live.Samples) != 294 || counts.Segments != 1 {
		t.Errorf("%d samples in %d segments, want 294 and a restart", len(live.Samples), counts.Segments+1)
	}
	if d := cmp.Diff(live.Samples, back.Samples, cmpopts.EquateNaNs(), cmpopts.EquateApproxTime(time.Microsecond)); d != "" {
		t.Error(d)
	}
	counts2, _, err := rec.Batch(mustPattern(t, "{skip},{force_kn}"))
	if err != nil || len(counts2.Samples) != 294 || counts2.Samples[0].Force != 1000*live.Samples[0].Force || !math.IsNaN(counts2.Samples[0].Device) {
		t.Errorf("read with another pattern: %v, %+v", err, counts2.Samples[0])
	}
}

// Anything that is read is written and read again the same.
func FuzzJournal(f *testing.F) {
	const head = "bondtrial journal 1\nsource: pipe\nstarted: 2026-03-01T09:30:00Z\n"
	f.Add([]byte(head + "\n=1\t0.000001\t5,6\n!2\t1.000000\tx\n#pattern\t{counts}\n#end\n=3\t"))
	f.Add([]byte(head + "pattern: {time_ms},{counts}\nsimulated: yes\n\n~7\t-3.000000\t\\x00\\\\\n^8\t4.000000\t\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		rec, err := ReadJournal(bytes.NewReader(data))
		if err != nil {
			return
		}
		file := &memoryFile{room: -1}
		j, err := NewJournal(file, rec.Header)
		if err != nil {
			t.Fatal(err)
		}
		if err := j.Keep(&Batch{Lines: rec.Lines}); err != nil {
			t.Fatal(err)
		}
		again, err := ReadJournal(bytes.NewReader(file.Bytes()))
		if err != nil {
			t.Fatalf("%v in\n%s", err, file.Bytes())
		}
		again.Found, again.Ended, again.Torn, again.Damaged, again.Example = rec.Found, rec.Ended, rec.Torn, rec.Damaged, rec.Example
		if d := cmp.Diff(rec, again, cmpopts.EquateEmpty()); d != "" {
			t.Fatalf("written again:\n%s\n%s", file.Bytes(), d)
		}
		if _, _, err := rec.Batch(nil); err != nil && !strings.Contains(err.Error(), "pattern") {
			t.Fatal(err)
		}
	})
}

// Any text comes back from its escaped form, which is text of one line.
func FuzzEscape(f *testing.F) {
	f.Add([]byte("a\\x00\x00\xff\té\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		e := escape(nil, text)
		if bytes.ContainsAny(e, "\n\r\x00") {
			t.Fatalf("%q is escaped as %q", text, e)
		}
		back, ok := unescape(e)
		if !ok || !bytes.Equal(back, text) {
			t.Fatalf("%q is escaped as %q, which is read as %q, %v", text, e, back, ok)
		}
	})
}
