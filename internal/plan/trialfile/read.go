package trialfile

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode"

	"github.com/pelletier/go-toml/v2"

	"bondtrial"
	"bondtrial/internal/handwritten"
)

// Limits of a trial, so that a slip of the pen does not ask for more than anybody
// can glue.
const (
	MaxAdhesives = 40
	MaxWoods     = 12
	MaxFactors   = 4
	MaxBoards    = 1000   // and lots of reused pieces
	MaxPieces    = 10_000 // of one board, or of one lot of reused pieces
)

// Read reads a trial file: TOML in UTF-8, of at most [MaxBytes]. name is the
// file's, for messages.
//
// The error is an [*Errors] with every problem of the file, unless reading from r
// failed. The trial is nil beside an error. A trial that is returned can be
// planned as far as the file alone tells.
func Read(r io.Reader, name string) (*Trial, error) {
	text, err := textOf(r, name)
	if err != nil {
		return nil, err
	}
	rd := &reader{trial: &Trial{}, doubtful: map[string]bool{}}
	root, ok := parse(text, &rd.bad)
	if ok {
		rd.file(root)
	}
	if err := rd.bad.err(name); err != nil {
		return nil, err
	}
	// The tree is made without regard to some rules of TOML that are of no use
	// here, such as that a section which was begun by a dotted key has no
	// header of its own. A file keeps to them all the same.
	if err := toml.Unmarshal([]byte(text), new(map[string]any)); err != nil {
		return nil, whole(name, lineOfError(err), "is not proper TOML: "+strings.TrimPrefix(err.Error(), "toml: "))
	}
	return rd.trial, nil
}

func lineOfError(err error) int {
	if at, ok := err.(*toml.DecodeError); ok {
		line, _ := at.Position()
		return line
	}
	return 0
}

// reader fills a trial.
type reader struct {
	trial *Trial
	bad   problems

	// What the checks of the whole trial need besides.
	hoursLine  int
	labelsLine int
	doubtful   map[string]bool // woods whose boards could not all be read; "" for all
}

// assume notes what was taken for a key that was left out.
func (r *reader) assume(s *section, name, value, source string) {
	what := name
	if s.where != "" {
		what = s.where + ": " + name
	}
	r.trial.Assumed = append(r.trial.Assumed, Assumption{what, value, source})
}

// file reads the whole file.
func (r *reader) file(root *node) {
	s := r.section("", root, "")
	t := r.trial
	t.Name, _ = s.nameText("name")
	t.Question = s.remark("question")
	if u, n := parsed(s, "units", bondtrial.ParseUnits); n != nil {
		t.Units = u
	}
	r.numbers(s)
	t.Blind = true
	if v, ok := s.yes("blind"); ok {
		t.Blind = v
	}
	if n := s.sub("specimen"); n != nil {
		r.specimen(r.section("specimen", n, "[specimen]"))
	}
	r.cutting(r.section("cutting", orEmpty(s.sub("cutting")), "[cutting]"))
	r.adhesives(s.list("adhesive", MaxAdhesives))
	r.woods(s.list("wood", MaxWoods))
	r.boards(s.list("board", MaxBoards))
	r.reused(s.list("reused", MaxBoards))
	r.factors(s.list("factor", MaxFactors))
	r.control(s)
	r.pairs(s)
	if n := s.sub("work"); n != nil {
		r.readWork(r.section("work", n, "[work]"))
	}
	r.readLabels(r.section("labels", orEmpty(s.sub("labels")), "[labels]"))
	r.possible()
}

// orEmpty is a section that the file leaves out.
func orEmpty(n *node) *node {
	if n == nil {
		return newTable(0)
	}
	return n
}

// numbers reads the numbers at the top of the file.
func (r *reader) numbers(s *section) {
	t := r.trial
	t.Seed = DefaultSeed
	if v, ok := s.whole("seed", 0, math.MaxInt64); ok {
		t.Seed = uint64(v)
	} else if !s.has("seed") {
		r.assume(s, "seed", fmt.Sprint(DefaultSeed), sourceSeed)
	}
	for _, c := range []struct {
		name      string
		low, high float64
		to        *bondtrial.Percent
		otherwise bondtrial.Percent
		source    string
	}{
		{"smallest_difference_pct", 1, 300, &t.SmallestDifference, DefaultSmallestDifference, sourceSmallestDifference},
		{"scatter_pct", 1, 100, &t.Scatter, DefaultScatter, sourceScatter},
		{"chance_pct", 50, 99, &t.Chance, DefaultChance, sourceChance},
	} {
		v, ok := s.number(c.name, c.low, c.high)
		*c.to = bondtrial.Percent(v)
		if !ok {
			*c.to = c.otherwise
		}
		if !s.has(c.name) {
			r.assume(s, c.name, plainNumber(float64(c.otherwise)), c.source)
		}
	}
	r.perCell(s)
}

func (r *reader) perCell(s *section) {
	n, _ := s.find("specimens_per_cell")
	if n == nil || n.kind == textKind && strings.EqualFold(strings.TrimSpace(n.text), "auto") {
		return
	}
	if v, ok := s.whole("specimens_per_cell", 2, 500); ok {
		r.trial.SpecimensPerCell = int(v)
	}
}

// folded returns what two spellings of one name have in common: case, spaces,
// hyphens and underscores are left out.
func folded(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || r == '_' || unicode.Is(unicode.Pd, r) {
			return -1
		}
		return unicode.ToLower(r)
	}, name)
}

// names finds names that are there twice.
type names map[string]int // line by folded name

// note reports a name that is the same as an earlier one but for its spelling.
func (ns names) note(s *section, n *node, name string) {
	if n == nil {
		return
	}
	if line, ok := ns[folded(name)]; ok {
		s.fail(n, "name", "is there twice, first on line %d: names must differ by more than capitals, spaces and hyphens", line)
		return
	}
	ns[folded(name)] = n.line
}

// control reads which adhesive the others are compared with.
func (r *reader) control(s *section) {
	name, n := s.nameText("control")
	if n == nil {
		return
	}
	var all []string
	for _, a := range r.trial.Adhesives {
		all = append(all, a.Name)
	}
	r.trial.Control = r.choice(s, n, "control", name, all, "adhesive")
}

// pairs reads which factor neighbouring pieces differ in.
func (r *reader) pairs(s *section) {
	if n, _ := s.find("pairs"); n != nil && n.kind == boolKind && n.text == "false" {
		return
	}
	name, n := s.nameText("pairs")
	if n == nil || name == "off" {
		return
	}
	var all []string
	for _, f := range r.trial.Factors {
		all = append(all, f.Name)
	}
	r.trial.Pairs = r.choice(s, n, "pairs", name, all, "factor")
}

// choice returns name where it is one of all, and reports it otherwise.
func (r *reader) choice(s *section, n *node, key, name string, all []string, thing string) string {
	if slices.Contains(all, name) {
		return name
	}
	all = slices.DeleteFunc(all, func(s string) bool { return s == "" })
	if len(all) == 0 {
		s.fail(n, key, "is no %s of the trial: there is no [[%s]] with a name", thing, thing)
		return ""
	}
	best, least := "", 1+max(1, len(name)/3)
	for _, other := range all {
		if d := handwritten.Distance(folded(name), folded(other), least); d < least {
			best, least = other, d
		}
	}
	if best != "" {
		s.fail(n, key, "is no %s of the trial: is %s meant?", thing, handwritten.Quoted(best))
		return ""
	}
	s.fail(n, key, "is no %s of the trial; there are: %s", thing, strings.Join(all, ", "))
	return ""
}

// part shows a section of an array: by its name, or by its number where it has
// none yet.
func part(thing string, number int, n *node, nameKey string) string {
	if v := n.sub[nameKey]; v != nil && v.kind == textKind && strings.TrimSpace(v.text) != "" {
		return thing + " " + handwritten.Quoted(strings.Join(strings.Fields(v.text), " "))
	}
	return fmt.Sprintf("%s %d", thing, number)
}
