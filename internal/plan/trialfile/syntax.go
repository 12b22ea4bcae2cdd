package trialfile

import (
	"errors"
	"regexp"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"bondtrial/internal/handwritten"
)

// mostRepairs is how many lines that are not TOML are reported before reading
// stops.
const mostRepairs = 30

// parse makes a tree of the text. A line that is not TOML is reported, and set
// aside so that reading can go on: its key counts as given. ok is false where a
// fault leaves in doubt what the lines after it belong to.
func parse(text string, bad *problems) (root *node, ok bool) {
	lines := strings.Split(text, "\n")
	spoiled := map[int]bool{}
	for range mostRepairs {
		found := problems{}
		current := strings.Join(lines, "\n")
		b, line, begins, fault := attempt(current, spoiled, &found)
		if fault == nil {
			for _, p := range found.list {
				bad.add(p)
			}
			return b.root, true
		}
		if begins < line || spoiled[line] {
			bad.add(unclosed(lines, begins, line, fault))
			return nil, false
		}
		p, mended, again := explain(lines[line-1], fault)
		p.Line = line
		bad.add(p)
		if !again {
			return nil, false
		}
		lines[line-1], spoiled[line] = mended, true
	}
	bad.add(Problem{Message: "so many lines are not those of a trial file that the rest was not read: mend these first"})
	return nil, false
}

// attempt parses once, up to the first fault. line is that of the fault, begins
// the line on which the expression begins that it is in.
func attempt(text string, spoiled map[int]bool, bad *problems) (b *builder, line, begins int, fault error) {
	var p unstable.Parser
	data := []byte(text)
	p.Reset(data)
	b = newBuilder(&p, text, spoiled, bad)
	end := 0 // of the last expression
	for p.NextExpression() {
		e := p.Expression()
		b.add(e)
		end = endOf(e)
	}
	fault = p.Error()
	if fault == nil {
		return b, 0, 0, nil
	}
	var at *unstable.ParserError
	offset := len(text)
	if errors.As(fault, &at) {
		offset = int(p.Range(at.Highlight).Offset)
	}
	line = b.lineOf(unstable.Range{Offset: uint32(min(offset, len(text)))})
	return b, line, min(line, begin(text, end)), fault
}

// endOf returns where an expression ends, as far as its node tells.
func endOf(e *unstable.Node) int {
	if e.Kind == unstable.KeyValue {
		return int(e.Raw.Offset + e.Raw.Length)
	}
	end := 0
	for it := e.Key(); it.Next(); {
		end = int(it.Node().Raw.Offset + it.Node().Raw.Length)
	}
	return end
}

// begin returns the line of the first expression after the one that ends at end:
// that of the first line that is neither empty nor a comment.
func begin(text string, end int) int {
	line := handwritten.LineAt(text, end)
	rest := text[end:]
	if end > 0 {
		_, after, more := strings.Cut(rest, "\n")
		if !more {
			return line
		}
		rest = after
		line++
	}
	for l := range strings.Lines(rest) {
		if l = strings.TrimSpace(l); l != "" && l[0] != '#' {
			break
		}
		line++
	}
	return line
}

// unclosed explains a fault that shows only on a later line than it is made on.
func unclosed(lines []string, begins, line int, fault error) Problem {
	text := lines[begins-1]
	_, value, _ := strings.Cut(text, "=")
	value = strings.TrimSpace(value)
	p := Problem{Line: begins, Key: keyOf(text)}
	switch {
	case strings.HasPrefix(value, `"""`), strings.HasPrefix(value, "'''"):
		p.Message = "the text that begins here is not closed: write " + value[:3] + " at its end"
	case strings.HasPrefix(value, "["):
		p.Message = "the list that begins here is not right up to its end: write it as [ … , … ] with ] at its end, texts in quotation marks"
	case strings.HasPrefix(value, "{"):
		p.Message = "the group that begins here is not right up to its end: write it as { key = value, … } with } at its end"
	default:
		p.Message = fault.Error()
	}
	if line > begins {
		p.Message += "; it goes wrong on the line " + handwritten.Quoted(strings.TrimSpace(lines[line-1]))
	}
	return p
}

var (
	goodKey      = regexp.MustCompile(`^[A-Za-z0-9_-]+(\s*\.\s*[A-Za-z0-9_-]+)*$`)
	decimalComma = regexp.MustCompile(`^[+-]?(\d+),(\d+)$`)
	withUnit     = regexp.MustCompile(`^[+-]?[\d.,]+\s*[^\d\s.,].*$`)
	percentage   = regexp.MustCompile(`^([\d.]+)\s*%$`)
	leadingZero  = regexp.MustCompile(`^0+(\d+(\.\d+)?)$`)
	dateLike     = regexp.MustCompile(`^\d+([-./])\d+[-./]\d+$`)
	bareFraction = regexp.MustCompile(`^\.\d+$`)
)

func keyOf(line string) string {
	key, _, ok := strings.Cut(line, "=")
	if key = strings.TrimSpace(key); ok && goodKey.MatchString(key) {
		return key
	}
	return ""
}

// explain says what is wrong with a line that is not TOML, and what may stand in
// its place so that reading can go on; again is false where nothing can.
func explain(line string, fault error) (p Problem, mended string, again bool) {
	bare := strings.TrimSpace(line)
	key, value, assigned := strings.Cut(bare, "=")
	key = strings.TrimSpace(key)
	switch {
	case strings.HasPrefix(bare, "#"):
		return Problem{Value: bare, Message: "this remark holds an invisible control character: remove it"}, "", true
	case strings.HasPrefix(bare, "["):
		return Problem{Value: bare, Message: "is no header of a section: write it alone on its line, as in [work] or [[adhesive]]; what comes after it was not read"}, "", false
	case !assigned && strings.Contains(bare, ":"):
		p = Problem{Value: bare, Message: `is not understood: write a key, = and its value, as in clamp = "1 h", with = and not a colon`}
		key, _, _ = strings.Cut(bare, ":")
		if !goodKey.MatchString(key) {
			return p, "", true
		}
		p.Key = key
		return p, key + " = 0", true
	case !assigned:
		return Problem{Value: bare, Message: `is not understood: write a key, = and its value, as in clamp = "1 h", and # before a remark`}, "", true
	case !goodKey.MatchString(key):
		return Problem{Key: key, Message: "is not understood: a key is one word of plain letters, digits and _, without spaces or accents"}, "", true
	}
	value = strings.TrimSpace(value)
	if !strings.ContainsAny(value, `"'“”„‘’«»`) {
		value, _, _ = strings.Cut(value, "#")
		value = strings.TrimSpace(value)
	}
	return Problem{Key: key, Value: value, Message: hint(value, fault)}, key + " = 0", true
}

// hint says how a value is to be written.
func hint(v string, fault error) string {
	switch strings.ToLower(v) {
	case "":
		return "has no value: write one after =, or remove the line"
	case "yes", "true", "on":
		return "write true, in small letters and without quotation marks"
	case "no", "false", "off":
		return `write false, in small letters and without quotation marks (hours: "off")`
	}
	if strings.ContainsAny(v, "“”„‘’«»") {
		return `has curly quotation marks: write straight ones, as in "` + strings.Trim(v, `"'“”„‘’«» `) + `"`
	}
	if m := decimalComma.FindStringSubmatch(v); m != nil {
		return "write the number with a point: " + m[1] + "." + m[2]
	}
	if m := percentage.FindStringSubmatch(v); m != nil {
		return "write the number alone: " + m[1]
	}
	if m := leadingZero.FindStringSubmatch(v); m != nil {
		return "write the number without the 0 before it: " + m[1]
	}
	switch {
	case bareFraction.MatchString(v):
		return "write the number with a 0 before the point: 0" + v
	case v[0] == '"' || v[0] == '\'':
		return "is not right: one quotation mark before and one after the text, nothing behind it but a # remark, and / instead of \\"
	case v[0] == '[':
		return `is not right: a list is written as ["…", "…"]`
	case v[0] == '{':
		return `is not right: a group is written as { key = "…", key = "…" }, or as a [section] with a line for each key`
	case dateLike.MatchString(v):
		return "is no date: write year, month and day, as in 2027-04-12"
	case withUnit.MatchString(v), !strings.ContainsAny(v, `"'`):
		return `write it in quotation marks: "` + handwritten.Shortened(v) + `"`
	}
	return "cannot be read: " + fault.Error()
}
