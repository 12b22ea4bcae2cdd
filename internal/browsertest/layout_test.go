package browsertest

import (
	"strings"
	"testing"
)

func barriers(t *testing.T, b desk, bench *bench) {
	p := b.Page(Phone)
	p.Open(bench.page("barrier", `<main><h1>Barriers</h1><img src="data:image/gif;base64,R0lGODlhAQABAAAAACw="><p class="pale">pale words</p></main>`,
		".pale { color: #bbb; background: #fff }", ""))
	found := map[string]string{}
	for _, v := range p.Axe() {
		found[v.Rule] = v.String()
	}
	// Rule ids of axe-core 4.14.1.
	if got := found["image-alt"]; !strings.Contains(got, "<img src=") || !strings.Contains(got, "critical") {
		t.Errorf("the picture without words: %q", got)
	}
	if got := found["color-contrast"]; !strings.Contains(got, "pale words") || !strings.Contains(got, "serious") {
		t.Errorf("the pale words: %q", got)
	}
	if len(found) != 2 {
		t.Errorf("%d rules broken, want 2: %v", len(found), found)
	}
	// The policy of the page forbids scripts of others, and neither the check nor
	// what it leaves on the page breaks it.
	p.Open(bench.page("open-to-all", `<main><h1>No barrier</h1><p>Dark words.</p><form><label>Reading <input name="reading"></label> <button>Done</button></form></main>`,
		"button, input { min-height: 44px; min-width: 44px; font: inherit }", ""))
	if got := p.Axe(); len(got) != 0 {
		t.Errorf("a page without barriers: %v", got)
	}
	if got := p.Axe(); len(got) != 0 {
		t.Errorf("a page without barriers, again: %v", got)
	}
	if got := p.Console(); len(got) != 0 {
		t.Errorf("the check itself makes the page complain: %q", got)
	}
	var allowed bool
	p.Eval(`new Promise((done) => {
		const s = document.createElement('script');
		s.textContent = 'window.inline = true';
		document.head.append(s);
		done(window.inline === true);
	})`, &allowed)
	if allowed {
		t.Error("the page's policy is not in force, so this does not show that the check gets past it")
	}
}

const goodBody = `<header class="bar"><a class="home" href="/form">Trials</a> <span>Trial 12</span></header>
<a class="skip" href="#main">To the work</a>
<main id="main"><h1>Break</h1>
<p>The <a href="/form">adhesive</a> of specimen A1 broke at 12.5 N/mm², <code>H<sub>2</sub>O</code> 12 %, after which nothing else was to be done but to write it down.</p>
<p class="unseen">for screen readers only, and rather long, so that it would be cut off</p>
<p class="short" title="A very long name of an adhesive that nobody reads">A very long name of an adhesive that nobody reads</p>
<div class="scroll"><table><tr><th>Specimen</th><th>Strength</th><th>Wood</th></tr><tr><td>A1</td><td>12.5</td><td>40</td></tr></table></div>
<form><fieldset><legend>Way of failing</legend><label class="choice"><input type="radio" name="f"> bond line</label><label class="choice"><input type="radio" name="f"> wood</label></fieldset>
<label for="n">Load</label><input id="n" type="number" value="1234"><label class="choice"><input type="file" class="unseen"> Photo</label><button>Done</button></form>
<details><summary>Fine print</summary><p>hidden until it is opened, <a href="/form">x</a></p></details>
<svg viewBox="0 0 300 100" width="300" height="100" role="img" aria-label="A figure"><text x="10" y="20" font-size="12">strength</text><text x="10" y="60" font-size="12">wood</text><text transform="translate(280 90) rotate(-45)" font-size="12">turned</text></svg>
<p class="last">The last words.</p></main><nav class="low"><a class="home" href="/form">Next</a></nav>`

const goodStyle = `body { margin: 0; font: 16px/1.4 sans-serif; padding: 0 16px 60px }
.bar { position: sticky; top: 0; background: #fff } .home, button, summary, input, .choice { display: inline-block; min-width: 44px; min-height: 44px; font: inherit; box-sizing: border-box }
summary { display: list-item } .choice { display: block; padding: 12px 0; box-sizing: border-box } .choice input { min-height: 0; min-width: 0 }
.skip { position: absolute; left: -999px } .skip:focus { left: 0 }
.unseen { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); white-space: nowrap }
.short { width: 120px; overflow: hidden; text-overflow: ellipsis; white-space: nowrap }
.scroll { overflow-x: auto } .scroll th { min-width: 300px } h1 { line-height: 1; overflow: hidden }
input[type=number] { width: 8em; display: block } svg { max-width: 100% }
.low { position: fixed; bottom: 0; left: 0; right: 0; background: #fff }`

func goodLayout(t *testing.T, b desk, bench *bench) {
	address := bench.page("good", goodBody, goodStyle, "")
	for _, p := range []*Page{b.phone.For(t), b.laptop.For(t), b.Page(Tablet)} {
		width := p.Page.Screen().Width
		p.Open(address)
		if got := p.Overflow(); len(got) != 0 {
			t.Errorf("a good page at %d px:\n%s", width, strings.Join(got, "\n"))
		}
		p.Eval("scrollTo(0, 200)", nil)
		if got := p.Overflow(); len(got) != 0 {
			t.Errorf("a good page, scrolled, at %d px:\n%s", width, strings.Join(got, "\n"))
		}
	}
}

// Each planted defect is found, and it alone.
func badLayout(t *testing.T, b desk, bench *bench) {
	phone, laptop := b.phone.For(t), b.laptop.For(t)
	for _, c := range []struct {
		name, body, style string
		want              []string // what the one sentence must contain; none: no defect on a phone
		laptop            bool     // whether a laptop has it too
	}{
		{"wide", `<div id="wide">wide</div>`, "#wide { width: 1500px }", []string{"div#wide", "sticks", "out of the screen"}, true},
		{"wide-text", `<p id="w">` + strings.Repeat("unbroken", 40) + `</p>`, "", []string{"p#w", "its text sticks"}, true},
		{"left", `<div id="left">far left</div>`, "#left { margin-left: -20px; width: 100px }", []string{"div#left", "sticks 12 px"}, true},
		{"small", `<button id="s">x</button>`, "#s { width: 30px; height: 30px; padding: 0 }", []string{"button#s", "30 px × 30 px to press"}, false},
		{"small-link", `<ul><li><a href="/form">Trials</a></li></ul>`, "", []string{"a “Trials”", "to press"}, false},
		{"small-radio", `<label><input type="radio" id="r"> bond</label>`, "label { line-height: 20px; display: inline-block }", []string{"input#r", "to press"}, false},
		{"clipped", `<label id="c" for="x">Way of failing</label><input id="x">`, "#c { display: block; width: 50px; overflow: hidden; white-space: nowrap } input { min-height: 44px }", []string{"label#c", "cut off", "at the side"}, true},
		{"clipped-ellipsis", `<p id="c">Way of failing</p>`, "#c { width: 50px; overflow: hidden; white-space: nowrap; text-overflow: ellipsis }", []string{"p#c", "cut off"}, true},
		{"clipped-below", `<p id="c">Way of failing, in many words that need a second line</p>`, "#c { width: 150px; height: 20px; overflow: hidden }", []string{"p#c", "below"}, true},
		{"clipped-value", `<input id="c" type="number" value="123456789">`, "#c { width: 50px; height: 44px; box-sizing: border-box }", []string{"input#c", "cut off"}, true},
		{"spilt", `<p id="box">a_word_that_is_too_long</p>`, "#box { width: 60px; border: 1px solid }", []string{"p#box", "spills out"}, true},
		{"fitting", `<p id="box">a word that fits</p>`, "#box { width: 260px; border: 1px solid; margin: 40px 0 }", nil, false},
	} {
		address := bench.page(c.name, "<main><h1>Planted</h1>"+c.body+"</main>", c.style, "")
		check(t, phone, c.name, address, c.want)
		if !c.laptop {
			check(t, laptop, c.name, address, nil)
		} else if c.name == "wide" || c.name == "spilt" { // the others do not depend on the screen
			check(t, laptop, c.name, address, c.want)
		}
	}
}

// check opens a page and compares its one defect with the parts of a sentence.
func check(t *testing.T, p *Page, name, address string, want []string) {
	t.Helper()
	p.Open(address)
	got := p.Overflow()
	if len(want) == 0 && len(got) > 0 || len(want) > 0 && len(got) != 1 {
		t.Errorf("%s at %d px: %q, want one with %q", name, p.Page.Screen().Width, got, want)
		return
	}
	for _, w := range want {
		if !strings.Contains(got[0], w) {
			t.Errorf("%s at %d px: %q does not contain %q", name, p.Page.Screen().Width, got[0], w)
		}
	}
}

func overlaps(t *testing.T, b desk, bench *bench) {
	p := b.phone.For(t)
	p.Open(bench.page("overlap", `<main><h1>Planted</h1><p id="a">first line</p><p id="b">second line</p></main>`, "#b { margin-top: -30px }", ""))
	if got := p.Overflow(); len(got) != 1 || !strings.Contains(got[0], "p#a “first line” and p#b “second line”: overlap") {
		t.Errorf("text on text: %q", got)
	}
	p.Open(bench.page("overlap-figure", `<main><h1>Planted</h1><svg width="200" height="60" role="img" aria-label="figure"><text x="10" y="30">one</text><text x="14" y="32">two</text></svg></main>`, "", ""))
	if got := p.Overflow(); len(got) != 1 || !strings.Contains(got[0], "text “one” and text “two”: overlap") {
		t.Errorf("text on text in a figure: %q", got)
	}
	p.Open(bench.free(`<main><h1>Planted</h1></main>`))
	if got := p.Overflow(); len(got) != 1 || !strings.Contains(got[0], "is the viewport's meta element missing?") {
		t.Errorf("no viewport: %q", got)
	}
}
