package pages_test

import (
	"fmt"
	"strings"
	"testing"

	"bondtrial/internal/browsertest"
)

// hand is how a person works at a page.
type hand interface {
	page() *browsertest.Page
	press(selector string)         // a button, a link, or what opens a part
	write(selector, text string)   // into a field, in place of what it holds
	choose(selector, value string) // of a list or of buttons of which one is on
	digits(selector, text string)  // of a force
}

// finger taps. A list of choices is the phone's own: it is not tapped, but set.
type finger struct {
	t testing.TB
	p *browsertest.Page
}

func (f finger) page() *browsertest.Page { return f.p }
func (f finger) press(selector string)   { f.t.Helper(); f.p.Tap(selector) }

func (f finger) write(selector, text string) {
	f.t.Helper()
	f.p.Tap(selector)
	f.p.Fill(selector, text)
}

func (f finger) choose(selector, value string) {
	f.t.Helper()
	if one := selector + `[value="` + value + `"]`; f.p.Has(`input` + one) {
		f.p.Tap(`label:has(> ` + one + `)`)
		return
	}
	f.p.Choose(selector, value)
}

func (f finger) digits(selector, text string) {
	f.t.Helper()
	for _, d := range text {
		f.p.Tap(`[data-pad="` + string(d) + `"]`)
	}
	f.p.WaitText(selector, text)
}

// keyboard uses no pointer: Tab and Shift+Tab to get somewhere, and there the keys that
// browsers know. Wherever it stops, one must see where the keyboard is.
type keyboard struct {
	t testing.TB
	p *browsertest.Page
}

func (k keyboard) page() *browsertest.Page { return k.p }

// between counts the stops of the Tab key from where the keyboard is to an element,
// negative where it is before; of radio buttons the group is one stop.
const between = `((to) => {
	const stops = [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex], iframe")].filter((el) => {
		if (el.tabIndex < 0 || el.disabled || el.type === "hidden" || !el.checkVisibility({ visibilityProperty: true })) return false;
		if (el.type !== "radio") return true;
		const group = [...document.getElementsByName(el.name)].filter((o) => o.form === el.form);
		const on = group.find((o) => o.checked);
		return on ? el === on : el === group[0];
	});
	if (to.type === "radio") to = [...document.getElementsByName(to.name)].filter((o) => o.form === to.form).find((o) => stops.includes(o));
	const at = stops.indexOf(to);
	if (at < 0) return null;
	const from = document.activeElement;
	if (from === to) return 0;
	const after = (el) => Boolean(from.compareDocumentPosition(el) & Node.DOCUMENT_POSITION_FOLLOWING) && el !== from;
	if (from === document.body) return at + 1;
	return after(to) ? stops.slice(0, at + 1).filter(after).length : -stops.slice(at).filter((el) => el !== from && !after(el)).length;
})`

// reach goes to an element with Tab, and looks whether it can be seen there.
func (k keyboard) reach(selector string) {
	k.t.Helper()
	k.p.WaitFor(selector)
	to := "document.querySelector(" + fmt.Sprintf("%q", selector) + ")"
	for range 6 {
		var n *int
		k.p.Eval(between+"("+to+")", &n)
		if n == nil {
			k.t.Fatalf("the keyboard cannot get to %s on %s", selector, k.p.URL())
		}
		if *n == 0 {
			k.seen()
			return
		}
		key := "Tab"
		if *n < 0 {
			key, *n = "Shift+Tab", -*n
		}
		keys := make([]string, *n)
		for i := range keys {
			keys[i] = key
		}
		k.p.Press(keys...)
	}
	k.t.Fatalf("the keyboard does not get to %s on %s; it is at %s", selector, k.p.URL(), k.p.Focused())
}

// seen checks that where the keyboard is can be seen: in the window, under nothing, and
// with a line around it.
func (k keyboard) seen() {
	k.t.Helper()
	var wrong string
	k.p.Eval(`((el) => {
		const style = getComputedStyle(el);
		if (style.outlineStyle === "none" || parseFloat(style.outlineWidth) < 2) return "no line around it";
		const box = el.getBoundingClientRect();
		if (box.bottom <= 0 || box.top >= innerHeight) return "out of the window";
		const x = (box.left + box.right) / 2, y = (Math.max(box.top, 0) + Math.min(box.bottom, innerHeight)) / 2;
		const top = document.elementFromPoint(x, y);
		if (top && top !== el && !el.contains(top) && !top.contains(el)) return "under " + top.tagName + "." + top.className;
		return "";
	})(document.activeElement)`, &wrong)
	if wrong != "" {
		k.t.Errorf("%s has the keyboard on %s, and is %s", k.p.Focused(), k.p.URL(), wrong)
	}
}

func (k keyboard) press(selector string) {
	k.t.Helper()
	k.reach(selector)
	k.p.Press("Enter")
}

func (k keyboard) write(selector, text string) {
	k.t.Helper()
	k.reach(selector)
	k.p.Press("Control+a", text)
	if got := k.p.Text(selector); got != text {
		k.t.Fatalf("%s holds %q after typing %q", selector, got, text)
	}
}

func (k keyboard) choose(selector, value string) {
	k.t.Helper()
	k.reach(selector)
	var steps int
	k.p.Eval(`((el) => {
		if (el.type !== "radio") return [...el.options].findIndex((o) => o.value === `+fmt.Sprintf("%q", value)+`) - el.selectedIndex;
		const group = [...document.getElementsByName(el.name)].filter((o) => o.form === el.form);
		const steps = group.findIndex((o) => o.value === `+fmt.Sprintf("%q", value)+`) - group.indexOf(el);
		return el.checked || steps !== 0 ? steps : 1000;
	})(document.activeElement)`, &steps)
	if steps == 1000 {
		k.p.Press("Space")
	}
	key := "ArrowDown"
	if steps < 0 {
		key, steps = "ArrowUp", -steps
	}
	for range steps % 1000 {
		k.p.Press(key)
	}
	var got string
	k.p.Eval("document.activeElement.value", &got)
	if got != value {
		k.t.Fatalf("%s is at %q after choosing %q", selector, got, value)
	}
}

// digits are typed wherever the keyboard is, as at the rig.
func (k keyboard) digits(selector, text string) {
	k.t.Helper()
	k.p.Press(text)
	k.p.WaitText(selector, text)
	k.seen()
}

// calm checks what no page may do: complain, or ask anybody else for anything.
func calm(t testing.TB, p *browsertest.Page, home string, known ...string) {
	t.Helper()
lines:
	for _, line := range p.Console() {
		for _, k := range known {
			if strings.Contains(line, k) {
				continue lines
			}
		}
		t.Errorf("the page complains: %s", line)
	}
	if len(p.Requests()) == 0 {
		t.Error("it is not known what the page asked for")
	}
	for _, r := range p.Requests() {
		if !strings.HasPrefix(r, home+"/") {
			t.Errorf("the page asked for %s", r)
		}
	}
}
