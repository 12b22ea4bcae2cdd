package form

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"bondtrial/internal/plan/trialfile"
)

// Parse takes a form from a trial file, also from one that trialfile.Read refuses:
// values stay as they are written there, without quotation marks, and what stands
// under keys that no trial file has goes to [Form.Unknown]. Remarks are lost.
//
// Where the file is not TOML, or larger than [trialfile.MaxBytes], the error is
// that of trialfile.Read, which says on which lines and what to write instead. A
// file in which hardly anything is a trial file's is refused as well.
func Parse(file []byte) (*Form, error) {
	refused := func() error {
		_, err := trialfile.Read(strings.NewReader(string(file)), "trial file")
		return err
	}
	text := strings.TrimPrefix(string(file), "\xef\xbb\xbf")
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	if len(file) > trialfile.MaxBytes || strings.TrimSpace(text) == "" {
		return nil, refused()
	}
	r := &reader{form: &Form{}, headers: map[string]int{}}
	err := r.read(text)
	if r.strange > mostUnknown {
		return nil, fmt.Errorf("trial file: holds more than %d keys that no trial file has: give a trial file", mostUnknown)
	}
	// The reader does not look whether a key is there twice. It comes first as
	// looking takes time that grows with the square of the number of keys.
	if err != nil || toml.Unmarshal([]byte(text), new(map[string]any)) != nil {
		if err := refused(); err != nil {
			return nil, err
		}
	}
	r.form.sortUnknown()
	return r.form, nil
}

// reader fills a form.
type reader struct {
	form    *Form
	current []string       // the section that keys belong to
	skip    bool           // it is a row for which there is no room
	headers map[string]int // how often the header of an array was there
	strange int            // how many keys and parts of keys no trial file has
}

func (r *reader) read(text string) error {
	var p unstable.Parser
	p.Reset([]byte(text))
	for r.strange <= mostUnknown && p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			r.header(pathOf(e), e.Kind == unstable.ArrayTable)
		case unstable.KeyValue:
			if r.skip {
				r.skipped(r.current[0], e)
				continue
			}
			r.set(append(slices.Clip(r.current), pathOf(e)...), e.Value())
		}
	}
	return p.Error()
}

func pathOf(e *unstable.Node) (path []string) {
	for it := e.Key(); it.Next(); {
		path = append(path, string(it.Node().Data))
	}
	return path
}

// header makes a section current.
func (r *reader) header(path []string, array bool) {
	kind := path[0]
	r.current = path
	isRow := mostOf(kind) > 0 && kind != unknownKind
	switch {
	case isRow && len(path) == 1:
		r.skip = !r.form.grow(kind)
		return
	case isRow: // within the row before
		r.skip = r.form.surplus[kind] > 0
		r.strange += len(path)
		return
	}
	r.skip = false
	if s, rest := r.single(append(slices.Clip(path), "")); array || s.name == "" || len(rest) > 1 {
		r.strange += len(path)
	}
	if array {
		name := strings.Join(path, ".")
		if n := r.headers[name]; n > 0 {
			path[len(path)-1] += "." + strconv.Itoa(n)
		}
		r.headers[name]++
	}
}

// set keeps a value by its whole path.
func (r *reader) set(path []string, v *unstable.Node) {
	if v.Kind == unstable.InlineTable {
		it := v.Children()
		if !it.Next() {
			r.strange += len(path)
			return
		}
		for more := true; more; more = it.Next() {
			r.set(append(path, pathOf(it.Node())...), it.Node().Value())
		}
		return
	}
	kind := path[0]
	isRow := mostOf(kind) > 0 && kind != unknownKind
	switch {
	case isRow && len(path) == 1 && v.Kind == unstable.Array:
		r.inlineRows(kind, v)
	case isRow && len(path) > 1:
		rows := r.form.rows(kind)
		if rows.count() == 0 {
			rows.add()
		}
		last := rows.count() - 1
		r.value(section{rowName(kind, last), kind, rows.at(last)}, path[1:], v)
	default:
		s, rest := r.single(path)
		r.value(s, rest, v)
	}
}

// inlineRows takes rows that are written as a list of { … }.
func (r *reader) inlineRows(kind string, v *unstable.Node) {
	i := 0
	for it := v.Children(); it.Next(); i++ {
		item := it.Node()
		switch {
		case item.Kind != unstable.InlineTable:
			r.unknown("", kind+"."+strconv.Itoa(i), item)
		case r.form.grow(kind):
			r.set([]string{kind}, item)
		default:
			for it := item.Children(); it.Next(); {
				r.skipped(kind, it.Node())
			}
		}
	}
}

// skipped counts a key of a row for which there is no room.
func (r *reader) skipped(kind string, e *unstable.Node) {
	path := pathOf(e)
	if _, ok := lookUp(kind, path[0]); len(path) > 1 || !ok && path[0] != "levels" {
		r.strange += len(path)
	}
	r.textOf(e.Value())
}

// single returns the part that a path leads to, where it is none of a row, and the
// rest of the path.
func (r *reader) single(path []string) (section, []string) {
	f := r.form
	if len(path) > 2 && path[0] == "work" && path[1] == "hours" {
		return section{"work.hours", "hours", f.Work.Hours.slots()}, path[2:]
	}
	if len(path) > 1 {
		switch path[0] {
		case "specimen":
			return section{"specimen", "specimen", f.Specimen.slots()}, path[1:]
		case "cutting":
			return section{"cutting", "cutting", f.Cutting.slots()}, path[1:]
		case "work":
			return section{"work", "work", f.Work.slots()}, path[1:]
		case "labels":
			return section{"labels", "labels", f.Labels.slots()}, path[1:]
		}
	}
	return section{"", "", f.slots()}, path
}

// value keeps the value of a key of a part.
func (r *reader) value(s section, path []string, v *unstable.Node) {
	if len(path) == 1 && path[0] == "levels" && s.kind == "factor" && v.Kind == unstable.Array {
		i := 0
		for it := v.Children(); it.Next(); i++ {
			key := "levels." + strconv.Itoa(i)
			if to := s.find(key); to != nil {
				*to = r.textOf(it.Node())
			} else {
				r.unknown(s.name, key, it.Node())
			}
		}
		return
	}
	// Parts of the name of a field are no keys: "levels.0" in one.
	to := s.find(path[0])
	if len(path) > 1 || to == nil || strings.Contains(path[0], ".") {
		r.unknown(s.name, strings.Join(path, "."), v)
		return
	}
	switch kind := kindOf(s.kind, path[0]); {
	case kind == Lines && v.Kind == unstable.Array:
		var lines []string
		for it := v.Children(); it.Next(); {
			if line := strings.TrimSpace(r.textOf(it.Node())); line != "" {
				lines = append(lines, line)
			}
		}
		*to = strings.Join(lines, "\n")
	case path[0] == "pairs" && v.Kind == unstable.Bool && string(v.Data) == "false":
		*to = "off"
	default:
		*to = r.textOf(v)
	}
}

// unknown keeps a value under a key that no trial file has.
func (r *reader) unknown(part, key string, v *unstable.Node) {
	value := r.textOf(v)
	r.strange += 1 + strings.Count(key, ".")
	if strings.TrimSpace(value) == "" || key == "" {
		return
	}
	if !r.form.grow(unknownKind) {
		return
	}
	all := r.form.Unknown
	for slices.ContainsFunc(all, func(u Unknown) bool { return u.Part == part && u.Key == key }) {
		key += "_"
	}
	all[len(all)-1] = Unknown{part, key, value}
}

// textOf returns a value as it is written, a text without its quotation marks. Of a
// list or a group it shows the values.
func (r *reader) textOf(v *unstable.Node) string {
	var b strings.Builder
	r.show(&b, v)
	return b.String()
}

func (r *reader) show(b *strings.Builder, v *unstable.Node) {
	open, end := "", ""
	switch v.Kind {
	case unstable.Array:
		open, end = "[", "]"
	case unstable.InlineTable:
		open, end = "{", "}"
	default:
		b.Write(v.Data)
		return
	}
	b.WriteString(open)
	separator := ""
	for it := v.Children(); it.Next(); separator = ", " {
		b.WriteString(separator)
		item := it.Node()
		if item.Kind == unstable.KeyValue {
			r.strange++
			b.WriteString(strings.Join(pathOf(item), ".") + " = ")
			item = item.Value()
		}
		r.show(b, item)
	}
	b.WriteString(end)
}
