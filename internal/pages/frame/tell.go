package frame

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"

	"bondtrial/internal/logbook"
	"bondtrial/internal/pages/photo"
	"bondtrial/internal/record"
	"bondtrial/internal/table"
)

// Problem is an error with its status, for what no other error says.
type Problem struct {
	Status int
	Words  string
}

func (p *Problem) Error() string { return p.Words }

// NotFound is the error of a page that is not there.
func NotFound(words string) error { return &Problem{http.StatusNotFound, words} }

// BadRequest is the error of a form that cannot be read.
func BadRequest(words string) error { return &Problem{http.StatusBadRequest, words} }

// Status returns the status of an error, and what is said of it: what happened and
// what to do.
func Status(err error) (int, string) {
	var refused *record.Refused
	var conflict *record.Conflict
	var problem *Problem
	var tooLarge *http.MaxBytesError
	var noEntry *logbook.NoEntry
	var noFile *logbook.NoFile
	var inUse *logbook.InUse
	var damaged *logbook.Damaged
	var picture *photo.Refused
	var badTable *table.Errors
	switch {
	case errors.As(err, &problem):
		return problem.Status, problem.Words
	case errors.As(err, &tooLarge):
		return http.StatusRequestEntityTooLarge, "that is larger than is taken here: nothing was kept of it"
	case errors.As(err, &conflict):
		return http.StatusConflict, conflict.Words
	case errors.As(err, &refused), errors.As(err, &badTable):
		return http.StatusUnprocessableEntity, err.Error()
	case errors.As(err, &picture):
		return pictureStatus[picture.Why], picture.Words
	case errors.As(err, &noEntry):
		return http.StatusNotFound, noEntry.Error()
	case errors.As(err, &noFile):
		return http.StatusNotFound, "the logbook has no such file"
	case errors.Is(err, record.ErrNoTrial):
		return http.StatusNotFound, "the logbook has no such trial"
	case errors.Is(err, logbook.ErrFull):
		return http.StatusInsufficientStorage, "the disk is full: nothing of this was written and nothing else is lost; make room and send it again"
	case errors.Is(err, logbook.ErrReadOnly):
		return http.StatusInsufficientStorage, "the logbook may not be written to: nothing of this was written; see who may write to the file and its folder"
	case errors.As(err, &inUse):
		return http.StatusServiceUnavailable, "the logbook " + fileName(inUse.Path) + " is open elsewhere: close it there first"
	case errors.As(err, &damaged):
		return http.StatusInternalServerError, "the logbook " + fileName(damaged.Path) + " is damaged: close it and write bondtrial check in a terminal, which says what is wrong and how to restore a copy"
	case errors.Is(err, context.DeadlineExceeded):
		return http.StatusServiceUnavailable, "this took too long and was stopped: try again"
	case errors.Is(err, context.Canceled):
		return 499, "stopped"
	}
	return http.StatusInternalServerError, notDone + withoutFolders(err.Error())
}

// notDone is what is said of errors that no other words are known for.
const notDone = "this could not be done: "

var pictureStatus = map[photo.Why]int{photo.TooLarge: http.StatusRequestEntityTooLarge, photo.WrongFormat: http.StatusUnsupportedMediaType, photo.Broken: http.StatusUnprocessableEntity}

// fileName is the last part of a path of any system.
func fileName(path string) string { return path[strings.LastIndexAny(path, `/\`)+1:] }

// folders are what stands before the name of a file in an absolute path.
var folders = regexp.MustCompile(`(?:[A-Za-z]:)?[/\\](?:[^\s/\\:"'<>|]+[/\\])+|[A-Za-z]:[/\\]`)

// withoutFolders leaves of every path the file's name: where files lie on the machine
// is nobody's business on a device that was let in.
func withoutFolders(words string) string { return folders.ReplaceAllString(words, "") }

// WantsJSON reports whether a request comes from a module and not from a form.
func WantsJSON(r *http.Request) bool {
	return strings.Contains(r.Header.Get("Accept"), "application/json")
}

// JSON writes an object for a module.
func JSON(w http.ResponseWriter, status int, v any) error {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	return json.NewEncoder(w).Encode(v)
}

// Tell tells a person, or a module, of an error.
func (d *Desk) Tell(w http.ResponseWriter, r *http.Request, err error) {
	status, words := Status(err)
	if status == http.StatusInternalServerError && d.Log != nil {
		d.Log.Error(err.Error(), "method", r.Method, "path", r.URL.Path)
	}
	if WantsJSON(r) {
		_ = JSON(w, status, map[string]string{"error": Sentence(d.plain(words, err))})
		return
	}
	v := d.View(r, nil, "")
	v.Title = "This did not work"
	if status == http.StatusNotFound {
		v.Title = "Not here"
	}
	v.Data = Sentence(d.plain(words, err))
	if err := d.show(w, r, status, errorPage, v); err != nil && d.Log != nil {
		d.Log.Error(err.Error())
	}
}

// plain returns the words of an error without the logbook's folder, whatever
// characters its name has.
func (d *Desk) plain(words string, err error) string {
	folder := filepath.Dir(d.Book.Logbook().Path())
	if !strings.Contains(err.Error(), folder) || len(folder) < 2 {
		return words
	}
	if !strings.HasPrefix(words, notDone) {
		return words // ours, without any
	}
	_, words = Status(errors.New(strings.ReplaceAll(strings.ReplaceAll(err.Error(), folder+string(filepath.Separator), ""), folder, "its folder")))
	return words
}

// Sentence writes the words of an error as a sentence.
func Sentence(s string) string {
	if s == "" {
		return s
	}
	s = strings.ReplaceAll(s, "\n", "; ")
	if s[0] >= 'a' && s[0] <= 'z' {
		s = string(s[0]-'a'+'A') + s[1:]
	}
	if !strings.ContainsAny(s[len(s)-1:], ".?!") {
		s += "."
	}
	return s
}

// Unusable is the error of what was sent whole and cannot be used.
func Unusable(words string) error { return &Problem{http.StatusUnprocessableEntity, words} }
