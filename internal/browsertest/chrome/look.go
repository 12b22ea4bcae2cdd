package chrome

import (
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"

	"github.com/chromedp/chromedp"
)

//go:embed page.js
var helpers string

//go:embed layout.js
var layout string

// with makes an expression that may use the helpers of page.js.
func with(expression string) string {
	return "(() => {" + helpers + "\nreturn (" + expression + ");\n})()"
}

// one is the expression for the first element of a selector.
func one(selector string) string { return "document.querySelector(" + quote(selector) + ")" }

// quote writes a JavaScript string: JSON's strings are a part of JavaScript's.
func quote(s string) string {
	b, err := json.Marshal(s)
	if err != nil {
		panic("chrome: a string that is not JSON") // no string is
	}
	return string(b)
}

// await evaluates the expression until it is neither null nor false, and decodes it
// into out. Else it returns the complaint as the error.
func (p *Page) await(complaint, expression string, out any) error {
	var last error
	done, err := p.until(func() (bool, error) {
		var value json.RawMessage
		err := p.Eval(with(expression), &value)
		last = err
		var thrown *chromedp.ExceptionError
		if errors.As(err, &thrown) && strings.Contains(thrown.Error(), "is not a valid selector") {
			return false, err
		}
		if err != nil || string(value) == "null" || string(value) == "false" {
			return false, nil // an error may mean that the document has just been replaced
		}
		return true, json.Unmarshal(value, out)
	})
	if err != nil {
		return fmt.Errorf("%s: %w", complaint, err)
	}
	if !done && last != nil {
		return fmt.Errorf("%s, after %v: %w", complaint, p.Patience, last)
	}
	if !done {
		return fmt.Errorf("%s, after %v", complaint, p.Patience)
	}
	return nil
}

// URL returns the page's address.
func (p *Page) URL() (string, error) {
	var url string
	err := p.Eval("location.href", &url)
	return url, err
}

// Text returns what a reader sees of the first element of the selector, with one
// blank for any white space; of a field, its value. It waits for the element.
func (p *Page) Text(selector string) (string, error) {
	var text string
	err := p.await("there is no "+selector, "(el => el ? textOf(el) : null)("+one(selector)+")", &text)
	return text, err
}

// Has reports whether the selector has an element now.
func (p *Page) Has(selector string) (bool, error) {
	var has bool
	err := p.Eval(one(selector)+" !== null", &has)
	return has, err
}

// WaitFor waits until the first element of the selector is there and visible.
func (p *Page) WaitFor(selector string) error {
	var there bool
	return p.await("no visible "+selector, "(el => el !== null && shown(el))("+one(selector)+")", &there)
}

// WaitText waits until the text of an element of the selector contains the text.
func (p *Page) WaitText(selector, substring string) error {
	var there bool
	err := p.await(fmt.Sprintf("no %s contains %q", selector, substring),
		"[...document.querySelectorAll("+quote(selector)+")].some((el) => textOf(el).includes("+quote(substring)+"))", &there)
	if err == nil {
		return nil
	}
	if has, failed := p.Has(selector); failed == nil && has {
		if text, failed := p.Text(selector); failed == nil {
			return fmt.Errorf("%w; it says %q", err, text)
		}
	}
	return err
}

// Gone waits until no element of the selector is visible.
func (p *Page) Gone(selector string) error {
	var gone bool
	return p.await(selector+" is still there", "![...document.querySelectorAll("+quote(selector)+")].some(shown)", &gone)
}

// Focused describes the element that has the keyboard: its tag, id, name or class,
// and its text, as in `button#done “Done”`; "the page" if none has it.
func (p *Page) Focused() (string, error) {
	var what string
	err := p.Eval(with("describe(document.activeElement)"), &what)
	return what, err
}

// Screenshot writes a PNG of the whole page, beyond what the screen shows.
func (p *Page) Screenshot(path string) error {
	picture, err := answer(p, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(path, picture, 0o644)
	}
	if err != nil {
		return fmt.Errorf("a picture of the page: %w", err)
	}
	return nil
}

// PrintPDF writes what a printer would get: A4, or the page's own @page size, and no
// backgrounds.
func (p *Page) PrintPDF(path string) error {
	pdf, err := answer(p, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPreferCSSPageSize()))
	if err == nil {
		err = os.WriteFile(path, pdf, 0o644)
	}
	if err != nil {
		return fmt.Errorf("printing the page: %w", err)
	}
	return nil
}

// Overflow returns the defects of the layout as sentences, none for a good page:
// what sticks out of the screen sideways, text that is cut off or spills out of its
// box, text on text, and, on a screen that is touched, what is to be pressed but
// smaller than 44 × 44 CSS pixels. A shortened text with a title attribute, what
// can be scrolled to, what is hidden from sight, and links in a sentence are not
// defects.
func (p *Page) Overflow() ([]string, error) {
	var defects []string
	err := p.Eval(with("(() => {"+layout+"\nreturn defects("+strconv.Itoa(p.screen.Width)+", "+strconv.FormatBool(p.screen.Phone)+");\n})()"), &defects)
	if err != nil {
		return nil, fmt.Errorf("checking the layout: %w", err)
	}
	return defects, nil
}
