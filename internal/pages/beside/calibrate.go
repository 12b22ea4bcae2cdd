package beside

import (
	"errors"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"path"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"bondtrial/internal/figure"
	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/frame"
	"bondtrial/internal/record"
	"bondtrial/internal/rig"
	"bondtrial/internal/table"
)

const (
	mostTable = 1 << 20 // bytes of a calibration table
	mostForm  = 4 << 20 // bytes of the form around it, so that a table that is too large can be told of
)

// calibrationForm is what is typed about a calibration, with what is wrong by field.
type calibrationForm struct {
	Values   map[string]string
	Wrong    map[string]string
	Problems []string // of the table, with their lines
}

// Get returns what a field holds.
func (f calibrationForm) Get(name string) string { return f.Values[name] }

// Field makes what a template's field needs.
func (f calibrationForm) Field(name, label, help, mode string) map[string]any {
	return map[string]any{"Name": name, "Label": label, "Help": help, "Mode": mode, "Value": f.Values[name], "Wrong": f.Wrong[name] != "", "Words": f.Wrong[name]}
}

// calibrationFields are the fields of the form but the file.
var calibrationFields = []string{"sensor", "shows", "step", "made", "expires", "latitude", "height", "gravity", "accuracy", "about", "rows"}

// fieldOfRig are the form's fields for those that package rig names.
var fieldOfRig = map[string]string{"unit": "shows", "resolution": "step", "date": "made", "expiry": "expires", "gravity": "gravity", "latitude": "latitude", "height": "height",
	"accuracy of the masses": "accuracy", "sensor": "sensor", "note": "about"}

// PutCalibration makes a calibration of a table of known loads and writes it. What
// was recorded before keeps what it was made with.
func PutCalibration(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, mostForm)
	if err := r.ParseMultipartForm(mostForm); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			return err
		}
		return frame.BadRequest("the form did not arrive whole: send it again")
	}
	f := calibrationForm{Values: make(map[string]string), Wrong: make(map[string]string)}
	for _, name := range calibrationFields {
		f.Values[name] = strings.TrimSpace(r.PostFormValue(name))
	}
	err := f.write(d, r)
	if err == nil {
		return frame.Back(w, r, "/rig#calibration-head")
	}
	v, data, verr := rigView(d, r)
	if verr != nil {
		return verr
	}
	if status, _ := frame.Status(err); status == http.StatusConflict {
		f.Wrong["rows"] = frame.Sentence(err.Error())
	}
	data.Calibrate, v.Key = f, r.PostFormValue("key")
	return d.ShowAgain(w, r, rigPage, v, err)
}

// write makes the calibration and writes it. What is wrong is put beside its field;
// the error then says so in short.
func (f *calibrationForm) write(d *frame.Desk, r *http.Request) error {
	name, err := f.takeTable(r)
	if err != nil {
		return err
	}
	c := f.conditions(d.Clock().In(time.Local))
	points, err := rig.ParsePoints(f.Values["rows"], name)
	f.sort(err)
	if n := len(points); n > record.MostReadings {
		f.Problems = append(f.Problems, fmt.Sprintf("%d readings: at most %d are kept; give the mean of each load in each series", n, record.MostReadings))
	}
	if len(f.Wrong)+len(f.Problems) > 0 {
		if rows := f.Values["rows"]; !utf8.ValidString(rows) || strings.ContainsRune(rows, 0) {
			f.Values["rows"] = "" // no text to be mended by hand
		}
		return f.unusable()
	}
	k, err := rig.Calibrate(points, c)
	if err != nil {
		f.sort(err)
		return f.unusable()
	}
	file := logbook.File{Role: "calibration", Name: name, MediaType: "text/csv", Content: []byte(f.Values["rows"])}
	_, err = d.Book.Add(r.Context(), d.Who(r), "", "", record.Calibrated{Key: k.Key(), Calibration: k}, file)
	if refused, ok := firstRefused(err); ok {
		at := fieldOfRig[refused.Field]
		if at == "" {
			at = "rows"
		}
		f.Wrong[at] = frame.Sentence(refused.Message)
	}
	return err
}

func (f *calibrationForm) unusable() error {
	return frame.Unusable("no calibration was made: mend what is marked below; everything you typed is there still")
}

// takeTable puts the file that was chosen, if any, into the rows, so that it is there
// to be mended, and returns what the table is called.
func (f *calibrationForm) takeTable(r *http.Request) (name string, err error) {
	name = "table"
	file, head, err := r.FormFile("table")
	switch {
	case err == nil:
		defer file.Close()
		content, err := io.ReadAll(file)
		if err != nil {
			return "", fmt.Errorf("receiving the table: %w", err)
		}
		if head.Size > 0 {
			f.Values["rows"] = string(content)
			name = table.Name(strings.ToValidUTF8(path.Base(strings.ReplaceAll(head.Filename, "\\", "/")), "?"))
		}
	case !errors.Is(err, http.ErrMissingFile) && !errors.Is(err, http.ErrNotMultipart):
		return "", frame.BadRequest("the table did not arrive whole: send it again")
	}
	if r := []rune(name); len(r) > 80 || name == "" || strings.ContainsFunc(name, func(r rune) bool { return r < ' ' }) {
		name = "table"
	}
	switch n := len(f.Values["rows"]); {
	case n == 0:
		f.Wrong["rows"] = "Choose a file, or write the readings here, a line for each."
	case n > mostTable:
		f.Values["rows"] = ""
		f.Wrong["rows"] = "The table is larger than 1 MiB: that is no calibration made by hand. Give the mean of each load in each series."
	}
	if len(f.Wrong) > 0 {
		f.conditions(time.Time{})
		return "", f.unusable()
	}
	return name, nil
}

// conditions reads everything but the table.
func (f *calibrationForm) conditions(now time.Time) rig.Conditions {
	v := f.Values
	c := rig.Conditions{Sensor: table.Name(v["sensor"]), ShownUnit: table.Name(v["shows"]), Date: v["made"], Expires: v["expires"], Note: v["about"]}
	if c.Date == "" {
		c.Date = now.Format(time.DateOnly)
	}
	c.Resolution, _ = f.number("step", "write the smallest step of what is shown, such as 1 for counts")
	c.Weights.AccuracyPct, _ = f.number("accuracy", "write within how many per cent each weight is what is written on it; weigh one on good scales if you do not know")
	height, haveHeight := f.number("height", "")
	latitude, haveLatitude := f.number("latitude", "")
	gravity, haveGravity := f.number("gravity", "")
	switch {
	case haveGravity:
		c.Gravity = &rig.Gravity{Value: gravity, How: "as it was given"}
	case haveLatitude:
		g, err := rig.LocalGravity(latitude, height)
		f.sort(err)
		c.Gravity = &g
	case haveHeight:
		f.Wrong["latitude"] = "Gravity comes of the latitude and the height: write both, or gravity itself."
	}
	return c
}

// number reads a field that holds a number; missing is what to say where it is blank,
// empty: it may be.
func (f *calibrationForm) number(name, missing string) (x float64, given bool) {
	s := f.Values[name]
	if s == "" {
		if missing != "" {
			f.Wrong[name] = frame.Sentence(missing)
		}
		return 0, false
	}
	x, err := strconv.ParseFloat(strings.Replace(s, "−", "-", 1), 64)
	if err != nil {
		hint := "write it with digits and a decimal point"
		f.Wrong[name] = frame.Sentence(strconv.Quote(s) + " is no number: " + hint)
		return 0, false
	}
	return x, true
}

// sort puts what is wrong beside its field, and what is wrong with the table into the
// list of problems.
func (f *calibrationForm) sort(err error) {
	switch e := err.(type) {
	case nil:
	case *rig.Problems:
		f.Problems = append(f.Problems, strings.Split(e.Error(), "\n")...)
	case *rig.FieldError:
		if at := fieldOfRig[e.Field]; at != "" {
			f.Wrong[at] = frame.Sentence(e.Message)
			return
		}
		f.Problems = append(f.Problems, e.Error())
	case interface{ Unwrap() []error }:
		for _, part := range e.Unwrap() {
			f.sort(part)
		}
	default:
		f.Problems = append(f.Problems, err.Error())
	}
}

// calibration is one that the page shows.
type calibration struct {
	record.CalibratedAt
	State  string // "in force", "ended", "followed by a later one", "from then on"
	Caught string // what there is to know of its end
}

// shownCalibration is the one that the page shows in full.
type shownCalibration struct {
	calibration
	Words        []string
	Wide, Narrow template.HTML // residuals
	Zero         *float64      // its largest change, per cent of the highest load
}

// calibrationsOn fills in what a page says of the calibrations on a day.
func (data *rigData) calibrationsOn(things *record.Things, day string) {
	latest := things.Latest(day)
	for _, c := range things.Calibrations {
		one := calibration{CalibratedAt: c}
		holds, words, err := c.Calibration.Standing(day)
		switch {
		case err != nil:
			one.State = "not known"
		case c.Calibration.Date > day:
			one.State = "from " + c.Calibration.Date + " on"
		case latest.Seq != c.Seq:
			one.State = "followed by a later one"
		case holds:
			one.State, one.Caught = "in force", words
		default:
			one.State, one.Caught = "ended", words
		}
		data.Calibrations = append(data.Calibrations, one)
		if latest != nil && latest.Seq == c.Seq {
			data.Latest = shown(one)
		}
	}
}

func shown(c calibration) *shownCalibration {
	s := &shownCalibration{calibration: c, Words: c.Calibration.Words(), Zero: c.Calibration.ZeroPct()}
	for _, x := range []struct {
		to    *template.HTML
		style figure.Style
	}{{&s.Wide, figure.Column()}, {&s.Narrow, figure.Phone().WithWidth(312)}} {
		x.style.Untitled = true
		if f := figure.Residuals(c.Calibration, x.style); f != nil {
			*x.to = template.HTML(f.InlineSVG()) // a figure's own, and nothing that was typed is in it
		}
	}
	return s
}

// calibrationOf finds the calibration that a path names, also one that was taken back.
func calibrationOf(d *frame.Desk, r *http.Request) (record.Entry, *rig.Calibration, error) {
	things, err := d.Book.Things(r.Context())
	if err != nil {
		return record.Entry{}, nil, err
	}
	for _, e := range things.Entries {
		if c, ok := e.Content.(record.Calibrated); ok && c.Key == r.PathValue("calibration") {
			return e, c.Calibration, nil
		}
	}
	return record.Entry{}, nil, frame.NotFound("the logbook has no such calibration")
}

// Certificate hands out what is known of a calibration, as a page of text.
func Certificate(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	_, k, err := calibrationOf(d, r)
	if err != nil {
		return err
	}
	return handOut(w, "text/plain", "calibration-"+k.Date+"-"+k.Key()+".txt", []byte(k.Certificate()))
}

// CalibrationTable hands out the table of a calibration as it came.
func CalibrationTable(d *frame.Desk, w http.ResponseWriter, r *http.Request) error {
	e, k, err := calibrationOf(d, r)
	if err != nil {
		return err
	}
	for _, f := range e.Files {
		if f.Role != "calibration" {
			continue
		}
		content, _, err := d.Book.Logbook().File(r.Context(), f.Sum)
		if err != nil {
			return err
		}
		return handOut(w, "text/csv", "calibration-"+k.Date+"-"+k.Key()+".csv", content)
	}
	return handOut(w, "text/csv", "calibration-"+k.Date+"-"+k.Key()+".csv", []byte(rig.FormatPoints(k.Points)))
}

func handOut(w http.ResponseWriter, kind, name string, content []byte) error {
	h := w.Header()
	h.Set("Content-Type", kind+"; charset=utf-8")
	h.Set("Content-Disposition", `attachment; filename="`+name+`"`)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Content-Length", strconv.Itoa(len(content)))
	_, err := w.Write(content)
	return err
}
