package frame

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"maps"
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"

	"bondtrial/internal/figure"
)

//go:embed static
var staticFiles embed.FS

// asset is a file of the pages.
type asset struct {
	content []byte
	kind    string
}

var assets = readAssets()

func readAssets() map[string]asset {
	out := make(map[string]asset)
	add := func(name string, content []byte) {
		ext := path.Ext(name)
		kind := mime.TypeByExtension(ext)
		switch ext { // the same on every system
		case ".css":
			kind = "text/css; charset=utf-8"
		case ".js":
			kind = "text/javascript; charset=utf-8"
		case ".svg":
			kind = "image/svg+xml"
		}
		out[name] = asset{content, kind}
	}
	err := fs.WalkDir(staticFiles, "static", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		content, err := staticFiles.ReadFile(p)
		if err == nil {
			add(strings.TrimPrefix(p, "static/"), content)
		}
		return err
	})
	if err != nil {
		panic("frame: static files: " + err.Error())
	}
	add("figures.css", []byte(figure.ThemeCSS()))
	return out
}

// edition changes with the content of any of the files. It is a folder in their
// addresses, so that a browser may keep them for good and modules find each other.
var edition = func() string {
	h := sha256.New()
	for _, name := range slices.Sorted(maps.Keys(assets)) {
		fmt.Fprintf(h, "%s %d\n", name, len(assets[name].content))
		h.Write(assets[name].content)
	}
	return hex.EncodeToString(h.Sum(nil)[:6])
}()

// StaticPath is the address of a file in static. It panics where there is none.
func StaticPath(name string) string {
	if _, ok := assets[name]; !ok {
		panic("frame: no static file of that name")
	}
	return "/static/" + edition + "/" + name
}

// Static serves the files of static.
func Static() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		of, name, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/static/"), "/")
		a, ok := assets[name]
		if !ok || of != edition {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", a.kind)
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		_, _ = w.Write(a.content)
	})
}
