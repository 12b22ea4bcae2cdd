package bondtrial_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// mayImport says which packages of ours each package may import, tests excepted:
// the plan of the house. A folder that is not listed may not exist.
var mayImport = map[string][]string{
	".":                    {},
	"stat/blockdesign":     {},
	"stat/censreg":         {},
	"stat/gibbs":           {},
	"stat/internal/quad":   {},
	"stat/maxt":            {"stat/internal/quad"},
	"stat/oneway":          {},
	"stat/studrange":       {"stat/internal/quad"},
	"stat/tolerance":       {"stat/internal/quad"},
	"internal/handwritten": {},
	"internal/table":       {".", "internal/handwritten"},
	"internal/wood":        {"."},
	"internal/simulate":    {"."},
	"internal/answer":      {".", "internal/wood", "stat/censreg", "stat/gibbs", "stat/maxt", "stat/tolerance"},
	"internal/show":        {".", "internal/answer"},
	"internal/figure":      {".", "internal/answer", "internal/rig", "internal/show"},
	"internal/plan": {".", "internal/plan/cut", "internal/plan/howmany", "internal/plan/order", "internal/plan/schedule", "internal/plan/shortcode",
		"internal/plan/trialfile", "stat/blockdesign"},
	"internal/plan/trialfile":      {".", "internal/handwritten", "internal/wood"},
	"internal/plan/cut":            {},
	"internal/plan/howmany":        {"stat/maxt", "stat/studrange"},
	"internal/plan/order":          {},
	"internal/plan/schedule":       {},
	"internal/plan/shortcode":      {},
	"internal/plan/trialfile/form": {"internal/plan/trialfile"},
	"internal/logbook":             {},
	"internal/logbook/packed":      {},
	"internal/feed":                {"."},
	"internal/trace":               {"."},
	"internal/trace/logger":        {".", "internal/handwritten", "internal/trace"},
	"internal/trace/invent":        {"internal/trace"},
	"internal/rig":                 {".", "internal/handwritten", "internal/rig/budget", "internal/rig/fit"},
	"internal/rig/budget":          {},
	"internal/rig/fit":             {},
	"internal/record":              {".", "internal/logbook", "internal/plan", "internal/plan/trialfile", "internal/rig", "internal/table"},
	"internal/demobook": {".", "internal/logbook", "internal/pages/plan", "internal/plan", "internal/plan/trialfile", "internal/record", "internal/simulate",
		"internal/table"},
	"internal/browsertest":        {"internal/browsertest/chrome"},
	"internal/browsertest/chrome": {},
	"internal/pages": {"internal/pages/answers", "internal/pages/ask", "internal/pages/beside", "internal/pages/breaking", "internal/pages/cure", "internal/pages/frame",
		"internal/pages/glue", "internal/pages/guard", "internal/pages/home", "internal/pages/plan", "internal/pages/publishing", "internal/record"},
	"internal/pages/frame":      {".", "internal/answer", "internal/figure", "internal/logbook", "internal/pages/guard", "internal/pages/photo", "internal/publish", "internal/record", "internal/show", "internal/table"},
	"internal/pages/frametest":  {"internal/logbook", "internal/pages/frame", "internal/pages/guard", "internal/plan", "internal/plan/trialfile", "internal/record", "internal/rig"},
	"internal/pages/guard":      {},
	"internal/pages/ask":        {"internal/pages/frame", "internal/plan/trialfile", "internal/plan/trialfile/form", "internal/record", "internal/show", "internal/wood"},
	"internal/pages/plan":       {"internal/answer", "internal/figure", "internal/logbook", "internal/pages/ask", "internal/pages/frame", "internal/plan", "internal/plan/schedule", "internal/plan/trialfile", "internal/plan/trialfile/form", "internal/publish/handout", "internal/record", "internal/show"},
	"internal/pages/glue":       {".", "internal/pages/frame", "internal/plan/shortcode", "internal/plan/trialfile", "internal/record", "internal/wood"},
	"internal/pages/cure":       {"internal/logbook", "internal/pages/frame", "internal/pages/photo", "internal/record"},
	"internal/pages/breaking":   {".", "internal/pages/cure", "internal/logbook", "internal/pages/frame", "internal/pages/photo", "internal/plan/shortcode", "internal/record", "internal/rig", "internal/show"},
	"internal/pages/answers":    {".", "internal/answer", "internal/figure", "internal/logbook", "internal/pages/frame", "internal/publish", "internal/record", "internal/show", "internal/table"},
	"internal/pages/publishing": {".", "internal/figure", "internal/logbook", "internal/pages/answers", "internal/pages/frame", "internal/record"},
	"tools/pagespeed":           {"internal/rig", "internal/logbook", "internal/logbook/packed", "internal/pages", "internal/pages/plan", "internal/plan", "internal/plan/trialfile", "internal/record", "tools/measured"},
	"internal/pages/photo":      {},
	"internal/pages/home":       {"internal/pages/frame", "internal/record", "internal/table"},
	"internal/pages/beside":     {"internal/figure", "internal/logbook", "internal/pages/frame", "internal/plan/trialfile/form", "internal/record", "internal/rig", "internal/table"},
	"internal/publish/handout":  {".", "internal/answer", "internal/figure", "internal/plan", "internal/plan/cut", "internal/plan/schedule", "internal/plan/trialfile", "internal/publish", "internal/publish/paper", "internal/show"},
	"internal/publish/paper":    {},
	"internal/publish":          {".", "internal/answer", "internal/figure", "internal/show"},
	"internal/cli":              {".", "internal/feed", "internal/show", "internal/trace", "internal/trace/logger", "internal/rig", "internal/answer", "internal/demobook", "internal/logbook", "internal/pages", "internal/pages/guard", "internal/record", "internal/plan", "internal/plan/trialfile", "internal/publish", "internal/publish/handout", "internal/simulate", "internal/table"},
	"cmd/bondtrial":             {"internal/cli"},
	"tools/check":               {},
	"tools/shots":               {"internal/browsertest/chrome"},
	"tools/measured":            {},
	"tools/picture":             {"internal/answer", "internal/figure", "internal/simulate"},
	"tools/speed":               {".", "internal/simulate", "internal/table", "stat/gibbs", "tools/measured"},
	"tools/study":               {".", "internal/answer", "internal/simulate", "stat/censreg", "stat/studrange", "tools/measured"},
}

// elsewhere says which folders may import what is neither ours nor the standard
// library's.
var elsewhere = map[string][]string{
	"gonum.org/v1/gonum": {"stat/", "internal/rig/", "internal/trace", "internal/answer", "internal/figure", "internal/plan", "internal/plan/howmany", "tools/study"},
	"gonum.org/v1/plot":  {"internal/figure"},
	"golang.org/x/text":  {"internal/table", "internal/wood", "internal/publish/paper", "internal/plan/trialfile"},
	"golang.org/x/term":  {"internal/cli"},

	"golang.org/x/image": {"internal/figure", "internal/publish/paper", "internal/pages/photo"},

	"codeberg.org/go-fonts/liberation": {"internal/figure", "internal/publish/paper"},
	"codeberg.org/go-pdf/fpdf":         {"internal/publish/paper"},
	"rsc.io/qr":                        {"internal/publish/paper", "internal/pages/guard"},
	"github.com/arran4/golang-ical":    {"internal/plan/schedule"},
	"github.com/pelletier/go-toml":     {"internal/plan/trialfile", "internal/plan/trialfile/form"},
	"go.bug.st/serial":                 {"internal/feed"},
	"modernc.org/sqlite":               {"internal/logbook"},
	"github.com/klauspost/compress":    {"internal/logbook", "internal/logbook/packed"},
	"github.com/chromedp":              {"internal/browsertest", "internal/browsertest/chrome"},
	"github.com/spf13/cobra":           {"internal/cli"},
	"github.com/spf13/pflag":           {"internal/cli"},
}

func TestHouse(t *testing.T) {
	seen := make(map[string]bool)
	documented := make(map[string]bool)
	err := filepath.WalkDir(".", func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if name := d.Name(); name != "." && (strings.HasPrefix(name, ".") || name == "testdata") {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(file, ".go") || strings.HasSuffix(file, "_test.go") {
			return nil
		}
		dir := path.Dir(filepath.ToSlash(file))
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly|parser.ParseComments)
		if err != nil {
			return err
		}
		seen[dir] = true
		documented[dir] = documented[dir] || f.Doc != nil
		for _, spec := range f.Imports {
			checkImport(t, file, dir, strings.Trim(spec.Path.Value, `"`))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for dir := range seen {
		if _, ok := mayImport[dir]; !ok {
			t.Errorf("%s: a package that is not in the plan of the house", dir)
		}
		if !documented[dir] {
			t.Errorf("%s: the package has no doc comment", dir)
		}
	}
	for dir := range mayImport {
		if !seen[dir] {
			t.Errorf("%s: in the plan of the house, and not there", dir)
		}
	}
}

func checkImport(t *testing.T, file, dir, imported string) {
	if imported == "bondtrial" || strings.HasPrefix(imported, "bondtrial/") {
		room := strings.TrimPrefix(strings.TrimPrefix(imported, "bondtrial"), "/")
		if room == "" {
			room = "."
		}
		if !slices.Contains(mayImport[dir], room) {
			t.Errorf("%s imports %s", file, imported)
		}
		return
	}
	if !strings.Contains(strings.Split(imported, "/")[0], ".") {
		return
	}
	for prefix, dirs := range elsewhere {
		if imported != prefix && !strings.HasPrefix(imported, prefix+"/") {
			continue
		}
		for _, d := range dirs {
			if dir == d || strings.HasSuffix(d, "/") && strings.HasPrefix(dir, d) {
				return
			}
		}
	}
	t.Errorf("%s imports %s", file, imported)
}
