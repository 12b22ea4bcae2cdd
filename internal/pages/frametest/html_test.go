package frametest

import (
	"strings"
	"testing"
)

const good = `<!doctype html><html><head><title>x</title><link rel="icon" href="x"></head><body><main><h1>A</h1><p>b<br>c<a href="/">d</a></p><h2>E</h2>
<form><label for="f">F</label><input id="f" name="f"><input type="hidden" name="k"><label>G <select><option selected>1</option></select></label><button>Go</button></form>
<svg viewBox="0 0 1 1"><path d="M0 0"/></svg><script type="application/json">{"a": "</p>"}</script></main></body></html>`

func TestFaults(t *testing.T) {
	if f := Faults(good); f != nil {
		t.Fatalf("%q", f)
	}
	for _, c := range []struct{ old, new, fault string }{
		{"</p><h2>", "<h2>", "<h2> inside <p>"}, {"</form>", "", "</main> where <form>"}, {"</html>", "", "<html> is not closed"}, {"</h2>", "</h3>", "</h3> where <h2>"}, {"<h2>E</h2>", "<h4>E</h4>", "follows a heading of step 1"},
		{"<h1>A</h1>", "", "0 h1"}, {"<h2>E</h2>", "<h1>E</h1>", "2 h1"}, {"<main>", "<main></main><main>", "2 main"}, {`<label for="f">F</label>`, "", "has no label"},
		{`for="f"`, `for="g"`, `a label is for "g"`}, {`<button>Go</button>`, `<button> </button>`, "a button that says nothing"}, {`name="k"`, `name="k" id="f"`, "given twice"},
		{"<br>", `<img src="x">`, "without alt"}, {"<br>", `<b style="color: red">x</b>`, "attribute style"}, {"<br>", `<b onclick="x()">x</b>`, "attribute onclick"},
		{"<br>", "<script>x()</script>", "script written into"}, {`<a href="/">d</a>`, `<a href="/"><a href="/">d</a></a>`, "<a> inside <a>"}, {"<br>", "a < b", "begins no tag"},
		{"<br>", "<div>x</div>", "<div> inside <p>"}, {"</html>", "</html></b>", "closes nothing"}, {"<br>", `<b title='`, "a tag without an end"},
	} {
		text := strings.Replace(good, c.old, c.new, 1)
		if f := strings.Join(Faults(text), "\n"); text == good || !strings.Contains(f, c.fault) {
			t.Errorf("%q for %q: %q, want %q", c.new, c.old, f, c.fault)
		}
	}
}

func FuzzFaults(f *testing.F) {
	f.Add(good)
	f.Add(`<a b='c" d=e/><!-- <p`)
	f.Fuzz(func(_ *testing.T, s string) { Faults(s) })
}
