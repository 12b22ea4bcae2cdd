package trialfile

import (
	"fmt"

	"github.com/pelletier/go-toml/v2/unstable"
)

// kind is what a value in the file is.
type kind int

const (
	tableKind kind = iota
	listKind
	textKind
	integerKind
	floatKind
	boolKind
	dateKind
	otherKind // a clock time, a date with a time, or something nested too deeply
)

// node is a value of the file, with the line that it begins on.
type node struct {
	kind kind
	line int
	text string // of a text; of any other single value as it is written

	order []string         // keys of a table, as they come
	sub   map[string]*node // of a table
	items []*node          // of a list

	headed  bool // a section with a header of its own
	closed  bool // written as { … }, so that nothing can be added to it
	spoiled bool // cannot be read, and that is reported already
}

func newTable(line int) *node { return &node{kind: tableKind, line: line, sub: map[string]*node{}} }

func (n *node) put(name string, v *node) {
	n.order = append(n.order, name)
	n.sub[name] = v
}

// deepest is how far values may be nested. The trial file needs three levels.
const deepest = 16

// builder makes a tree of the expressions of a file.
type builder struct {
	parser  *unstable.Parser
	bad     *problems
	text    string
	offsets []int // where each line begins
	spoiled map[int]bool
	root    *node
	current *node
}

func newBuilder(p *unstable.Parser, text string, spoiled map[int]bool, bad *problems) *builder {
	b := &builder{parser: p, bad: bad, text: text, spoiled: spoiled, root: newTable(0), offsets: []int{0}}
	for i := range len(text) {
		if text[i] == '\n' {
			b.offsets = append(b.offsets, i+1)
		}
	}
	b.current = b.root
	return b
}

// add takes in one expression: a header, or a key with its value.
func (b *builder) add(e *unstable.Node) {
	switch e.Kind {
	case unstable.Table, unstable.ArrayTable:
		path, line := b.path(e)
		b.header(path, line, e.Kind == unstable.ArrayTable)
	case unstable.KeyValue:
		b.keyValue(b.current, e, 0)
	}
}

// lineOf returns the line of a range of the file, by bisection.
func (b *builder) lineOf(r unstable.Range) int {
	lo, hi := 0, len(b.offsets)
	for lo+1 < hi {
		if mid := (lo + hi) / 2; b.offsets[mid] <= int(r.Offset) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo + 1
}

// path returns the parts of a key, and the line of the first.
func (b *builder) path(e *unstable.Node) (path []string, line int) {
	for it := e.Key(); it.Next(); {
		if line == 0 {
			line = b.lineOf(it.Node().Raw)
		}
		path = append(path, string(it.Node().Data))
	}
	return path, line
}

// header makes a section current. After a header that cannot be, a section that
// belongs nowhere is, so that what follows is not reported as well.
func (b *builder) header(path []string, line int, array bool) {
	parent, last := b.within(b.root, path, line), path[len(path)-1]
	old := parent.sub[last]
	b.current = newTable(line)
	b.current.headed = true
	switch {
	case array && old == nil:
		parent.put(last, &node{kind: listKind, line: line, headed: true, items: []*node{b.current}})
	case array && old.kind == listKind && old.headed:
		old.items = append(old.items, b.current)
	case !array && old == nil:
		parent.put(last, b.current)
	case !array && old.kind == tableKind && !old.headed && !old.closed:
		old.headed = true
		b.current = old
	default:
		b.twice(last, line, old)
	}
}

// within follows all but the last part of a path, making sections as needed.
func (b *builder) within(n *node, path []string, line int) *node {
	for _, name := range path[:len(path)-1] {
		next := n.sub[name]
		if next == nil {
			next = newTable(line)
			n.put(name, next)
		}
		if next.kind == listKind && next.headed {
			next = next.items[len(next.items)-1]
		}
		if next.kind != tableKind || next.closed {
			b.twice(name, line, next)
			return newTable(line)
		}
		n = next
	}
	return n
}

func (b *builder) twice(name string, line int, old *node) {
	b.bad.add(Problem{Line: line, Key: name,
		Message: fmt.Sprintf("is there twice, first on line %d: keep one", old.line)})
}

func (b *builder) keyValue(table *node, e *unstable.Node, depth int) {
	path, line := b.path(e)
	parent, last := b.within(table, path, line), path[len(path)-1]
	if old := parent.sub[last]; old != nil {
		b.twice(last, line, old)
		return
	}
	v := b.value(e.Value(), line, depth+1)
	v.spoiled = b.spoiled[line]
	parent.put(last, v)
}

// value converts a value. line is that of its key, for kinds that have no place of
// their own.
func (b *builder) value(e *unstable.Node, line, depth int) *node {
	n := &node{line: line, text: string(e.Data)}
	if e.Raw.Length > 0 && depth > 1 {
		n.line = b.lineOf(e.Raw)
	}
	if depth > deepest {
		n.kind = otherKind
		return n
	}
	switch e.Kind {
	case unstable.String:
		n.kind = textKind
	case unstable.Integer:
		n.kind = integerKind
	case unstable.Float:
		n.kind = floatKind
	case unstable.Bool:
		n.kind = boolKind
	case unstable.LocalDate:
		n.kind = dateKind
	case unstable.Array:
		n.kind = listKind
		for it := e.Children(); it.Next(); {
			n.items = append(n.items, b.value(it.Node(), line, depth+1))
		}
	case unstable.InlineTable:
		n.kind, n.sub = tableKind, map[string]*node{}
		for it := e.Children(); it.Next(); {
			b.keyValue(n, it.Node(), depth)
		}
		n.closed = true
	default:
		n.kind = otherKind
	}
	return n
}
