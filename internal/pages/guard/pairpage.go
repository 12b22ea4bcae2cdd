package guard

import (
	"bytes"
	"errors"
	"html/template"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"unicode"
)

// PairView is what the pairing page shows. Its form posts the fields code, name
// and next to PairPath.
type PairView struct {
	Code    string // what was entered, or came with the address
	Name    string
	Next    string // where to go afterwards: a path of ours
	Problem string // why the device was not paired; empty at first
}

// mostPairForm is how many bytes the form of the pairing page may have.
const mostPairForm = 4 << 10

var pairPage = template.Must(template.New("pair").Parse(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Pair this device</title>
</head>
<body>
<main>
<h1>Pair this device</h1>
{{with .Problem}}<p role="alert">{{.}}</p>
{{end}}<p>The machine that the logbook runs on shows a pairing code of eight digits.</p>
<form method="post" action="/pair">
<p><label>Pairing code <input name="code" value="{{.Code}}" inputmode="numeric" autocomplete="one-time-code" required></label></p>
<p><label>Name of this device <input name="name" value="{{.Name}}" maxlength="60" autocomplete="off"></label></p>
<input type="hidden" name="next" value="{{.Next}}">
<p><button>Pair</button></p>
</form>
<p><a href="{{.Next}}">This device is paired already</a></p>
</main>
</body>
</html>
`))

func plainPairPage(w io.Writer, v PairView) error { return pairPage.Execute(w, v) }

// servePair shows and takes the form of the pairing page. Who is known already
// goes on.
func (g *Guard) servePair(w http.ResponseWriter, r *http.Request, known bool) {
	switch r.Method {
	case http.MethodGet, http.MethodHead:
		q := r.URL.Query()
		v := PairView{Code: shorten(q.Get("code")), Name: cleanName(q.Get("name")), Next: ownPath(q.Get("next"))}
		if known {
			http.Redirect(w, r, v.Next, http.StatusSeeOther)
			return
		}
		g.showPair(w, r, http.StatusOK, v)
	case http.MethodPost:
		g.takePair(w, r, known)
	default:
		w.Header().Set("Allow", "GET, HEAD, POST")
		g.config.Refuse(w, r, http.StatusMethodNotAllowed, "The pairing page can be opened and its form can be sent, nothing else.")
	}
}

func (g *Guard) takePair(w http.ResponseWriter, r *http.Request, known bool) {
	r.Body = http.MaxBytesReader(w, r.Body, mostPairForm)
	if err := r.ParseForm(); err != nil {
		if words, ok := TooLarge(err); ok {
			g.config.Refuse(w, r, http.StatusRequestEntityTooLarge, words)
			return
		}
		g.config.Refuse(w, r, http.StatusBadRequest, "The form did not arrive whole. Open the pairing page and send it again.")
		return
	}
	f := r.PostForm
	v := PairView{Code: shorten(f.Get("code")), Name: cleanName(f.Get("name")), Next: ownPath(f.Get("next"))}
	if known {
		http.Redirect(w, r, v.Next, http.StatusSeeOther)
		return
	}
	token, err := g.Pair(r.Context(), v.Code, v.Name, remote(r))
	if err != nil {
		v.Problem = sentence(err)
		g.showPair(w, r, pairStatus(w.Header(), err), v)
		return
	}
	http.SetCookie(w, g.cookie(token, r.TLS != nil))
	http.Redirect(w, r, v.Next, http.StatusSeeOther)
}

// pairStatus is the status for an error of Pair.
func pairStatus(h http.Header, err error) int {
	var often *TooOften
	switch {
	case errors.As(err, &often):
		h.Set("Retry-After", strconv.Itoa(often.Seconds()))
		return http.StatusTooManyRequests
	case errors.Is(err, ErrWrongCode), errors.Is(err, ErrExpired), errors.Is(err, ErrUsed), errors.Is(err, ErrVoid), errors.Is(err, ErrNoCode):
		return http.StatusForbidden
	case errors.Unwrap(err) != nil: // of the logbook or the source of chance
		return http.StatusInternalServerError
	}
	return http.StatusBadRequest
}

func (g *Guard) showPair(w http.ResponseWriter, r *http.Request, status int, v PairView) {
	var b bytes.Buffer
	if err := g.config.PairPage(&b, v); err != nil {
		g.config.Refuse(w, r, http.StatusInternalServerError, "The pairing page could not be made. Look at what the logbook printed on the machine.")
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes()) // who went away does not read it
}

// ownPath returns a path of ours to go to: what is given if it is one, else the
// first page.
func ownPath(s string) string {
	if !strings.HasPrefix(s, "/") || strings.HasPrefix(s, "//") || strings.ContainsFunc(s, func(r rune) bool { return r == '\\' || !unicode.IsPrint(r) }) {
		return "/"
	}
	u, err := url.Parse(s)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || u.Path == PairPath || strings.HasPrefix(u.Path, "//") {
		return "/"
	}
	return u.RequestURI()
}

// pairURL is the address of the pairing page for a visitor who wanted to go
// somewhere.
func pairURL(next string) string {
	if next = ownPath(next); next == "/" {
		return PairPath
	}
	return PairPath + "?" + url.Values{"next": {next}}.Encode()
}

// PairURL is the address at which a device on the network pairs itself with the
// code filled in: what a QR code on the machine's screen holds. The host is a
// name or an address, without port.
func PairURL(host string, port int, c Code) string {
	u := url.URL{Scheme: "http", Host: net.JoinHostPort(strings.Trim(host, "[]"), strconv.Itoa(port)), Path: PairPath,
		RawQuery: url.Values{"code": {c.Digits}}.Encode()}
	return u.String()
}

// shorten keeps a form from showing more than a code may be typed with.
func shorten(s string) string {
	if r := []rune(s); len(r) > 4*CodeDigits {
		return string(r[:4*CodeDigits])
	}
	return s
}

// sentence writes an error as a sentence of a page.
func sentence(err error) string {
	s := []rune(err.Error())
	s[0] = unicode.ToUpper(s[0])
	return string(s) + "."
}
