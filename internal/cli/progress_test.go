package cli

import (
	"bytes"
	"strings"
	"testing"
	"time"
)

func TestProgressIsForTerminals(t *testing.T) {
	var b bytes.Buffer
	p := newProgress(&b)
	p.show("the bonds", 1, 2) // on no terminal, a nil progress
	p.done()
	if b.Len() > 0 {
		t.Errorf("wrote %q to something that is no terminal", b.String())
	}
}

func TestProgressLine(t *testing.T) {
	var b bytes.Buffer
	now := time.Date(2026, 1, 1, 12, 0, 0, 0, time.UTC)
	p := &progress{w: &b, now: func() time.Time { return now }}
	p.show("the bonds", 0, 100)
	now = now.Add(200 * time.Millisecond)
	p.show("the bonds", 10, 100)
	if b.Len() > 0 {
		t.Errorf("short work shows %q", b.String())
	}
	now = now.Add(200 * time.Millisecond)
	p.show("the bonds", 25, 100)
	p.show("the bonds", 26, 100) // too soon after the last
	if got := b.String(); !strings.HasSuffix(got, "the bonds: 25 % (^C stops)") {
		t.Errorf("showed %q", got)
	}
	b.Reset()
	p.done()
	if got := b.String(); got != "\r\x1b[K" {
		t.Errorf("at the end %q, want the line cleared", got)
	}
}
