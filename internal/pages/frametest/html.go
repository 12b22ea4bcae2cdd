package frametest

import (
	"fmt"
	"html"
	"slices"
	"strings"
)

// element is a tag of a page with its attributes.
type element struct {
	name  string
	attrs map[string]string
	line  int
}

// without an end (HTML standard, section 13.1.2, void elements; from memory,
// unconfirmed).
var void = []string{"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}

// What a browser ends a paragraph at (HTML standard, the p element; from memory,
// unconfirmed): standing inside one in the text it would stand outside on the page.
var endsParagraph = []string{"address", "article", "aside", "blockquote", "details", "div", "dl", "fieldset", "figure", "footer", "form", "h1", "h2", "h3", "h4",
	"header", "hr", "main", "menu", "nav", "ol", "p", "pre", "section", "table", "ul"}

// Faults returns what is wrong with a page: tags that are not balanced or stand
// where a browser would move them, ids given twice, fields and buttons without a
// name, headings that skip a step, no or several h1 or main, pictures without a
// text, and style or script written into it. None: nil.
func Faults(page string) []string {
	c := checker{ids: make(map[string]int), labelled: make(map[string]bool)}
	c.walk(page)
	c.sum()
	return c.faults
}

type checker struct {
	faults   []string
	open     []element
	ids      map[string]int
	labelled map[string]bool // ids that a label is for
	fields   []element       // without a name of their own
	h1, main int
	heading  int
	said     strings.Builder // text since the button that is open began
}

func (c *checker) fault(line int, format string, args ...any) {
	c.faults = append(c.faults, fmt.Sprintf("line %d: ", line)+fmt.Sprintf(format, args...))
}

func (c *checker) inside(name string) bool {
	return slices.ContainsFunc(c.open, func(e element) bool { return e.name == name })
}

func (c *checker) walk(page string) {
	rest, line := page, 1
	pass := func(n int) string {
		text := rest[:n]
		line += strings.Count(text, "\n")
		rest = rest[n:]
		return text
	}
	for rest != "" {
		i := strings.IndexByte(rest, '<')
		if i < 0 {
			i = len(rest)
		}
		c.said.WriteString(pass(i))
		switch {
		case rest == "":
		case strings.HasPrefix(rest, "<!--"):
			end := strings.Index(rest, "-->")
			if end < 0 {
				c.fault(line, "a comment without an end")
				return
			}
			pass(end + 3)
		case strings.HasPrefix(rest, "<!"):
			end := strings.IndexByte(rest, '>')
			if end < 0 {
				c.fault(line, "a tag without an end")
				return
			}
			pass(end + 1)
		case strings.HasPrefix(rest, "</"):
			end := strings.IndexByte(rest, '>')
			if end < 0 {
				c.fault(line, "a tag without an end")
				return
			}
			c.close(strings.ToLower(strings.TrimSpace(pass(end + 1)[2:end])), line)
		default:
			n, e, ends := tag(rest)
			if n == 0 {
				c.fault(line, "a < that begins no tag, or a tag without an end: %.40q", rest)
				return
			}
			e.line = line
			pass(n)
			c.begin(e, ends)
			if e.name == "script" || e.name == "style" {
				end := strings.Index(rest, "</"+e.name)
				if end < 0 {
					c.fault(line, "%s without an end", e.name)
					return
				}
				if text := pass(end); strings.TrimSpace(text) != "" && e.attrs["type"] != "application/json" {
					c.fault(line, "%s written into the page", e.name)
				}
			}
		}
	}
	for _, e := range c.open {
		c.fault(e.line, "<%s> is not closed", e.name)
	}
}

// tag reads an opening tag and returns its length, 0 where it is none, and whether it
// ends itself.
func tag(s string) (n int, e element, ends bool) {
	i := 1
	for i < len(s) && (s[i] >= 'a' && s[i] <= 'z' || s[i] >= 'A' && s[i] <= 'Z' || s[i] >= '0' && s[i] <= '9' || s[i] == '-') {
		i++
	}
	e = element{name: strings.ToLower(s[1:i]), attrs: make(map[string]string)}
	if e.name == "" {
		return 0, e, false
	}
	for i < len(s) {
		switch c := s[i]; {
		case c == '>':
			return i + 1, e, ends
		case c == '/' || c == ' ' || c == '\n' || c == '\t' || c == '\r':
			ends = c == '/'
			i++
		default:
			start := i
			for i < len(s) && !strings.ContainsRune("=> \n\t\r", rune(s[i])) {
				i++
			}
			if i == start && (i+1 >= len(s) || s[i] != '=') {
				return 0, e, false
			}
			key, value := strings.ToLower(s[start:i]), ""
			if i+1 < len(s) && s[i] == '=' {
				i++
				if q := s[i]; q == '"' || q == '\'' {
					end := strings.IndexByte(s[i+1:], q)
					if end < 0 {
						return 0, e, false
					}
					value = s[i+1 : i+1+end]
					i += end + 2
				} else {
					start := i
					for i < len(s) && !strings.ContainsRune("> \n\t\r", rune(s[i])) {
						i++
					}
					value = s[start:i]
				}
			}
			e.attrs[key] = html.UnescapeString(value)
			ends = false
		}
	}
	return 0, e, false
}

func (c *checker) begin(e element, ends bool) {
	for key := range e.attrs {
		if key == "style" || strings.HasPrefix(key, "on") {
			if !c.inside("svg") && e.name != "svg" {
				c.fault(e.line, "<%s> has the attribute %s", e.name, key)
			}
		}
	}
	if id := e.attrs["id"]; id != "" {
		if c.ids[id]++; c.ids[id] == 2 {
			c.fault(e.line, "the id %q is given twice", id)
		}
	}
	if slices.Contains(endsParagraph, e.name) && c.inside("p") {
		c.fault(e.line, "<%s> inside <p>: a browser ends the paragraph before it", e.name)
	}
	switch e.name {
	case "h1", "h2", "h3", "h4", "h5", "h6":
		level := int(e.name[1] - '0')
		if level == 1 {
			c.h1++
		}
		if level > c.heading+1 {
			c.fault(e.line, "<%s> follows a heading of step %d", e.name, c.heading)
		}
		c.heading = level
	case "main":
		c.main++
	case "form", "a", "button", "label":
		if c.inside(e.name) {
			c.fault(e.line, "<%s> inside <%s>", e.name, e.name)
		}
		if e.name == "button" {
			c.said.Reset()
		}
		if of := e.attrs["for"]; of != "" {
			c.labelled[of] = true
		}
	case "img":
		if _, ok := e.attrs["alt"]; !ok {
			c.fault(e.line, "a picture without alt")
		}
	case "input", "select", "textarea":
		kind := e.attrs["type"]
		if kind != "hidden" && kind != "submit" && kind != "button" && !c.inside("label") && e.attrs["aria-label"] == "" && e.attrs["aria-labelledby"] == "" {
			c.fields = append(c.fields, e)
		}
	}
	if !slices.Contains(void, e.name) && !(ends && (c.inside("svg") || e.name == "svg")) {
		c.open = append(c.open, e)
	}
}

func (c *checker) close(name string, line int) {
	if len(c.open) == 0 {
		c.fault(line, "</%s> closes nothing", name)
		return
	}
	last := c.open[len(c.open)-1]
	if last.name != name {
		c.fault(line, "</%s> where <%s> of line %d is open", name, last.name, last.line)
		if !c.inside(name) {
			return
		}
		for c.open[len(c.open)-1].name != name {
			c.open = c.open[:len(c.open)-1]
		}
		last = c.open[len(c.open)-1]
	}
	if name == "button" && last.attrs["aria-label"] == "" && strings.TrimSpace(c.said.String()) == "" {
		c.fault(last.line, "a button that says nothing")
	}
	c.open = c.open[:len(c.open)-1]
}

func (c *checker) sum() {
	for _, e := range c.fields {
		if id := e.attrs["id"]; id == "" || !c.labelled[id] {
			c.fault(e.line, "<%s name=%q> has no label", e.name, e.attrs["name"])
		}
	}
	for of := range c.labelled {
		if c.ids[of] == 0 {
			c.fault(0, "a label is for %q, which is not there", of)
		}
	}
	if c.h1 != 1 {
		c.fault(0, "%d h1, want one", c.h1)
	}
	if c.main != 1 {
		c.fault(0, "%d main, want one", c.main)
	}
}
