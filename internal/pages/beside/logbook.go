package beside

import (
	"encoding/base64"
	"fmt"
	"html/template"
	"net/http"
	"os"
	"path/filepath"
	"slices"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
)

var (
	logbookPage = frame.Page(templates, "templates/logbook.html", "templates/field.html")
	checkPage   = frame.Page(templates, "templates/check.html")
	codePage    = frame.Page(templates, "templates/code.html")
)

// Sharing is what the logbook's page needs to let devices in. The zero value is not
// shared.
type Sharing struct {
	On      bool
	Devices func() []Device
	Code    func() (code, until string, links []string, qr []byte, err error) // a new one; qr: a PNG of the first link
	Forget  func(r *http.Request, id string) error
}

// Device is one that was let in.
type Device struct{ ID, Name, Since string }

// book is the page of the logbook itself.
type book struct {
	File     string
	Folder   string // shown on the machine itself only
	Trials   int
	Entries  []line // of the logbook at large, the latest first
	Units    string
	Unit     string
	AllUnits []string
	Sharing  bool
	Devices  []Device
}

type line struct {
	record.Entry
	Stamp record.Stamp
	Words string
	Past  bool
}

// mostEntries is how many entries of the logbook at large its page lists.
const mostEntries = 50

// Logbook shows the logbook itself.
func (s *Sharing) Logbook(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return err
	}
	trials, err := d.Book.Trials(r.Context(), true)
	if err != nil {
		return err
	}
	v := d.View(r, nil, "logbook")
	path := d.Book.Logbook().Path()
	data := book{File: filepath.Base(path), Trials: len(trials), Unit: things.Settings.Unit, AllUnits: record.Units(), Sharing: s.On}
	if v.Itself {
		data.Folder = filepath.Dir(path)
	}
	if things.SettingsAt.Seq > 0 {
		data.Units = things.Settings.Units
	}
	if s.On {
		data.Devices = s.Devices()
	}
	for _, e := range slices.Backward(things.Entries) {
		if len(data.Entries) == mostEntries {
			break
		}
		data.Entries = append(data.Entries, line{e, record.Stamp{At: e.At, Said: e.Said, By: e.By, Device: e.Device}, record.Words(nil, e), !e.Live})
	}
	v.Title, v.Data = "Logbook", data
	return d.Show(w, r, logbookPage, v)
}

// PutSettings writes the settings of the logbook.
func PutSettings(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	if _, err := d.Book.Add(r.Context(), d.Who(r), "", "", record.Settings{Units: value(r, "units"), Unit: value(r, "unit")}); err != nil {
		return err
	}
	return frame.Back(w, r, "/logbook")
}

// PutName keeps the name of who writes from the device.
func PutName(_ *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	frame.SetName(w, r.PostFormValue("name"))
	return frame.Back(w, r, "/logbook")
}

// Check verifies the logbook and says what came of it.
func Check(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	report, err := logbook.Check(r.Context(), d.Book.Logbook().Path())
	if err != nil {
		return err
	}
	v := d.View(r, nil, "logbook")
	v.Title, v.Data = "Checked", report
	return d.Show(w, r, checkPage, v)
}

// Backup sends a verified copy of the logbook.
func Backup(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	dir, err := os.MkdirTemp("", "bondtrial-")
	if err != nil {
		return fmt.Errorf("making a copy: %w", err)
	}
	defer os.RemoveAll(dir)
	name := "logbook-" + d.Clock().Format("2006-01-02") + ".bondtrial"
	path := filepath.Join(dir, name)
	if err := d.Book.Logbook().Backup(r.Context(), path); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	http.ServeFile(w, r, path)
	return nil
}

// code is the page of a pairing code.
type code struct {
	Code, Until string
	Links       []string
	QR          template.URL
}

// NewCode gives a pairing code, on the machine itself only.
func (s *Sharing) NewCode(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	if err := s.itself(d, r); err != nil {
		return err
	}
	var data code
	var qr []byte
	var err error
	if data.Code, data.Until, data.Links, qr, err = s.Code(); err != nil {
		return err
	}
	if qr != nil {
		data.QR = template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(qr)) // drawn here
	}
	v := d.View(r, nil, "logbook")
	v.Title, v.Data = "Let a device in", data
	return d.Show(w, r, codePage, v)
}

// ForgetDevice lets a device in no longer.
func (s *Sharing) ForgetDevice(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	if err := s.itself(d, r); err != nil {
		return err
	}
	if err := s.Forget(r, r.PostFormValue("id")); err != nil {
		return err
	}
	return frame.Back(w, r, "/logbook")
}

func (s *Sharing) itself(d *frame.Desk, r *http.Request) error {
	if _, itself := d.Device(r); !itself || !s.On {
		return &frame.Problem{Status: http.StatusForbidden, Words: "devices are let in on the machine itself, where the logbook was opened with --share"}
	}
	return nil
}
