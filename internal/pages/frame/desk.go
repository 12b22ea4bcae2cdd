package frame

import (
	"context"
	"crypto/rand"
	"encoding/base32"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"runtime/debug"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode"

	"bondtrial"
	"bondtrial/internal/record"
)

// Desk is what the pages stand on.
type Desk struct {
	Book    *record.Book
	Clock   func() time.Time
	Random  io.Reader    // of keys
	Log     *slog.Logger // of what went wrong
	Version string
	Demo    bool // the logbook is the demo's: pages say that its data are invented
	// Device returns the name of the device that a request comes from, and whether it
	// is the machine itself.
	Device func(*http.Request) (name string, itself bool)
	// Notices are shown on every page, such as that the clock was set back.
	Notices func() []string
}

// Handler answers a request. An error is told to the person by Tell.
type Handler func(d *Desk, w http.ResponseWriter, r *http.Request) error

// Serve makes an http.Handler of a Handler. Where it fails midway the person is told
// so, and how it came about stands in the log.
func (d *Desk) Serve(h Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r = r.WithContext(context.WithValue(r.Context(), asOf{}, d.Book.Last()))
		out := &begun{ResponseWriter: w}
		defer func() {
			v := recover()
			if v == nil {
				return
			}
			if v == http.ErrAbortHandler || out.yes {
				panic(v) // what was sent cannot be taken back: the connection is cut
			}
			if d.Log != nil {
				d.Log.Error(fmt.Sprint(v), "method", r.Method, "path", r.URL.Path, "stack", string(debug.Stack()))
			}
			d.Tell(w, r, &Problem{http.StatusInternalServerError, "this could not be done, for a mistake in the program: what was written before is kept; look whether this was before sending it again"})
		}()
		if err := h(d, out, r); err != nil {
			d.Tell(w, r, err)
		}
	})
}

// asOf is the key, in a request's context, of the last entry when it came in.
type asOf struct{}

// begun is a ResponseWriter that knows whether an answer has begun.
type begun struct {
	http.ResponseWriter
	yes bool
}

func (b *begun) WriteHeader(status int) {
	b.yes = true
	b.ResponseWriter.WriteHeader(status)
}

func (b *begun) Write(p []byte) (int, error) {
	b.yes = true
	return b.ResponseWriter.Write(p)
}

// Unwrap is for http.ResponseController.
func (b *begun) Unwrap() http.ResponseWriter { return b.ResponseWriter }

// nameCookie holds the name of who writes from a device.
const nameCookie = "name"

// Who says who sends a request: the name kept on the device, the device, and from
// the form said, what the device's clock said (milliseconds since 1970), and key.
func (d *Desk) Who(r *http.Request) record.Who {
	w := record.Who{By: d.Name(r), Key: r.FormValue("key")}
	w.Device, _ = d.Device(r)
	if ms, err := strconv.ParseInt(r.FormValue("said"), 10, 64); err == nil && ms > 0 && ms < 1<<43 {
		w.Said = time.UnixMilli(ms).UTC()
	}
	if len(w.Key) > 80 || strings.ContainsFunc(w.Key, func(r rune) bool { return r < ' ' || r > '~' }) {
		w.Key = ""
	}
	return w
}

// Name is the name of who writes from the device of a request; it may be empty.
func (d *Desk) Name(r *http.Request) string {
	c, err := r.Cookie(nameCookie)
	if err != nil {
		return ""
	}
	name, err := url.QueryUnescape(c.Value)
	if err != nil {
		return ""
	}
	return CleanName(name)
}

// SetName keeps the name of who writes on the device.
func SetName(w http.ResponseWriter, name string) {
	http.SetCookie(w, &http.Cookie{Name: nameCookie, Value: url.QueryEscape(CleanName(name)), Path: "/", MaxAge: 10 * 365 * 24 * 3600,
		HttpOnly: true, SameSite: http.SameSiteStrictMode})
}

// CleanName is a name as it is kept: no control characters, none that turn the
// direction of writing, single spaces, at most 40 letters.
func CleanName(s string) string {
	s = strings.Map(func(r rune) rune {
		if r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 || r == 0x200e || r == 0x200f || r == 0xfeff {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, ""))
	s = strings.Join(strings.FieldsFunc(s, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }), " ")
	if r := []rune(s); len(r) > 40 {
		s = strings.TrimSpace(string(r[:40]))
	}
	return s
}

// drawing is held while a key is drawn: a source of one's own need not bear several
// readers.
var drawing sync.Mutex

// NewKey returns a key for one entry, so that it is written once however often it
// is sent.
func (d *Desk) NewKey() string {
	src := d.Random
	if src == nil {
		src = rand.Reader
	}
	drawing.Lock()
	defer drawing.Unlock()
	var b [15]byte
	if _, err := io.ReadFull(src, b[:]); err != nil {
		return ""
	}
	return base32.StdEncoding.EncodeToString(b[:])
}

// Trial returns the trial of the request's path.
func (d *Desk) Trial(r *http.Request) (*record.Trial, error) {
	return d.Book.Trial(r.Context(), r.PathValue("trial"))
}

// Units says in which system a page shows strengths: that of the logbook's settings
// where they are set, else the trial file's, else SI. t may be nil.
func (d *Desk) Units(r *http.Request, t *record.Trial) bondtrial.Units {
	things, err := d.Book.Things(r.Context())
	if err == nil && things.SettingsAt.Seq > 0 {
		if u, err := bondtrial.ParseUnits(things.Settings.Units); err == nil {
			return u
		}
	}
	if t != nil && t.File != nil {
		return t.File.Units
	}
	return bondtrial.SI
}

// Back sends a browser on to a page after its form was taken.
func Back(w http.ResponseWriter, r *http.Request, path string) error {
	http.Redirect(w, r, path, http.StatusSeeOther)
	return nil
}
