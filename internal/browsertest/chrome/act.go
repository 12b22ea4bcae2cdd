package chrome

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

type point struct {
	X, Y float64
	Why  string
}

// pressable waits until the element can be pressed and has stopped moving, and
// returns where.
func (p *Page) pressable(name, element string) (point, error) {
	last := point{Why: "not looked at yet"}
	done, err := p.until(func() (bool, error) {
		before := last
		last = point{}
		if err := p.Eval(with("place("+element+")"), &last); err != nil {
			last.Why = err.Error()
		}
		return last.Why == "" && last == before, nil
	})
	if err == nil && !done {
		if last.Why == "" {
			last.Why = "it does not stop moving"
		}
		err = errors.New(last.Why)
	}
	if err != nil {
		return point{}, fmt.Errorf("%s cannot be pressed: %w", name, err)
	}
	return last, nil
}

// Click presses the first element of the selector with the pointer, as soon as it is
// visible, enabled, in place and covered by nothing.
func (p *Page) Click(selector string) error {
	return p.click(selector, one(selector))
}

func (p *Page) click(name, element string) error {
	at, err := p.pressable(name, element)
	if err != nil {
		return err
	}
	err = p.do(chromedp.MouseEvent(chromedp.MouseMoved, at.X, at.Y), chromedp.MouseClickXY(at.X, at.Y))
	if err != nil {
		return fmt.Errorf("clicking %s: %w", name, err)
	}
	return p.settle()
}

// Tap touches the first element of the selector with a finger. The screen must be
// one that is touched.
func (p *Page) Tap(selector string) error {
	if !p.screen.Phone {
		return errors.New("this screen is not touched: tap on a page of a Phone screen, or click")
	}
	at, err := p.pressable(selector, one(selector))
	if err != nil {
		return err
	}
	if err := p.do(chromedp.TapXY(at.X, at.Y)); err != nil {
		return fmt.Errorf("tapping %s: %w", selector, err)
	}
	return p.settle()
}

// keys are the names that Press knows; everything else is typed.
var keys = map[string]rune{
	"Tab": '\t', "Enter": '\r', "Escape": '\u001b', "Space": ' ', "Backspace": '\b', "Delete": '\u007f',
}

func init() {
	for name, key := range map[string]string{
		"ArrowUp": kb.ArrowUp, "ArrowDown": kb.ArrowDown, "ArrowLeft": kb.ArrowLeft, "ArrowRight": kb.ArrowRight,
		"Home": kb.Home, "End": kb.End, "PageUp": kb.PageUp, "PageDown": kb.PageDown,
	} {
		keys[name], _ = utf8.DecodeRuneInString(key)
	}
}

var modifiers = map[string]chromedp.Modifier{
	"Shift": chromedp.ModifierShift, "Control": chromedp.ModifierCtrl, "Alt": chromedp.ModifierAlt,
}

// Press presses keys one after another, as a keyboard would. A key is a name (Tab,
// Enter, Escape, Space, Backspace, Delete, ArrowUp, ArrowDown, ArrowLeft,
// ArrowRight, Home, End, PageUp, PageDown), a name or character after Shift+,
// Control+ or Alt+, or text that is typed character by character.
func (p *Page) Press(press ...string) error {
	for _, key := range press {
		steps, err := strokes(key)
		if err != nil {
			return err
		}
		if err := p.do(steps...); err != nil {
			return fmt.Errorf("pressing %q: %w", key, err)
		}
	}
	return p.settle()
}

func strokes(key string) ([]chromedp.Action[chromedp.Void], error) {
	var options []chromedp.KeyOption
	rest := key
	for {
		before, after, found := strings.Cut(rest, "+")
		m, known := modifiers[before]
		if !found || !known {
			break
		}
		options, rest = append(options, chromedp.KeyModifiers(m)), after
	}
	if named, ok := keys[rest]; ok {
		return []chromedp.Action[chromedp.Void]{chromedp.KeyEvent(string(named), options...)}, nil
	}
	if len(options) > 0 && utf8.RuneCountInString(rest) != 1 {
		return nil, fmt.Errorf("no key is called %q: after a + comes a key's name or one character", rest)
	}
	return []chromedp.Action[chromedp.Void]{chromedp.KeyEvent(rest, options...)}, nil
}

// Fill puts text into the first field of the selector in place of what it holds, as
// typing or pasting would. Dates, times and colours are given as the field's value
// ("2026-03-01"). The error says so if the field then holds something else.
func (p *Page) Fill(selector, text string) error {
	var kind string
	err := p.await(selector+" cannot be filled in", `(() => {
		const el = `+one(selector)+`;
		if (!el || !shown(el) || el.disabled || el.readOnly) return null;
		el.focus();
		if (/^(date|time|month|week|datetime-local|color|range)$/.test(el.type)) return 'set';
		el.select();
		return el.value === '' ? 'empty' : 'full';
	})()`, &kind)
	if err != nil {
		return err
	}
	switch {
	case kind == "set":
		err = p.Eval(with(`(() => {
			const el = `+one(selector)+`;
			el.value = `+quote(text)+`;
			el.dispatchEvent(new Event('input', { bubbles: true }));
			el.dispatchEvent(new Event('change', { bubbles: true }));
			return true;
		})()`), nil)
	case text != "":
		err = p.do(command(input.InsertText, input.InsertTextParams{Text: text}))
	case kind == "full":
		err = p.do(chromedp.KeyEvent(kb.Delete))
	}
	if err != nil {
		return fmt.Errorf("filling in %s: %w", selector, err)
	}
	if err := p.settle(); err != nil {
		return err
	}
	var holds string
	if err := p.Eval(with("document.activeElement.value ?? ''"), &holds); err != nil {
		return fmt.Errorf("filling in %s: %w", selector, err)
	}
	if holds != text {
		return fmt.Errorf("%s was given %q and holds %q", selector, text, holds)
	}
	return nil
}

// Choose picks the option of a select, or the radio button or tick box among those
// of the selector, that has the value. A button that is hidden under its label is
// pressed by the label.
func (p *Page) Choose(selector, value string) error {
	var kind string
	err := p.await(fmt.Sprintf("%s has no choice %q", selector, value), `(() => {
		const all = [...document.querySelectorAll(`+quote(selector)+`)];
		const wanted = `+quote(value)+`;
		const list = all.find((el) => el instanceof HTMLSelectElement);
		if (list && shown(list) && !list.disabled && [...list.options].some((o) => o.value === wanted && !o.disabled)) return 'select';
		const button = all.find((el) => el.value === wanted && /^(radio|checkbox)$/.test(el.type));
		if (button) return shown(button) || !button.labels.length ? 'button' : 'label';
		return null;
	})()`, &kind)
	if err != nil {
		return err
	}
	button := `[...document.querySelectorAll(` + quote(selector) + `)].find((el) => el.value === ` + quote(value) + `)`
	switch kind {
	case "label":
		return p.click(selector+" with the value "+quote(value), button+"?.labels[0]")
	case "button":
		return p.click(selector+" with the value "+quote(value), button)
	}
	err = p.Eval(with(`(() => {
		const list = [...document.querySelectorAll(`+quote(selector)+`)].find((el) => el instanceof HTMLSelectElement);
		list.focus();
		list.value = `+quote(value)+`;
		list.dispatchEvent(new Event('input', { bubbles: true }));
		list.dispatchEvent(new Event('change', { bubbles: true }));
		return true;
	})()`), nil)
	if err != nil {
		return fmt.Errorf("choosing %q in %s: %w", value, selector, err)
	}
	return p.settle()
}

// Upload hands files to the first file field of the selector.
func (p *Page) Upload(selector string, files ...string) error {
	paths := make([]string, len(files))
	for i, file := range files {
		if _, err := os.Stat(file); err != nil {
			return fmt.Errorf("uploading to %s: %w", selector, err)
		}
		path, err := filepath.Abs(file)
		if err != nil {
			return fmt.Errorf("uploading to %s: %w", selector, err)
		}
		paths[i] = path
	}
	var there bool
	field := one(selector)
	if err := p.await(selector+" takes no file", field+"?.type === 'file' && !"+field+".disabled || null", &there); err != nil {
		return err
	}
	object, err := answer(p, chromedp.Evaluate[*runtime.RemoteObject](with(field)))
	if err == nil {
		err = p.do(command(dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: paths, ObjectID: object.ObjectID}))
	}
	if err != nil {
		return fmt.Errorf("uploading to %s: %w", selector, err)
	}
	return p.settle()
}

// Offline cuts the page off from the network, this machine included, or connects it
// again. Sockets that are open already stay open. Chromium acknowledges the cut
// before it is in force everywhere, so that a request or two may still get through:
// Offline returns once the page's own address cannot be fetched any more.
func (p *Page) Offline(off bool) error {
	err := p.do(
		command(network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
			EmulateOfflineServiceWorker: &off,
			MatchedNetworkConditions:    []*network.Conditions{{Offline: off, DownloadThroughput: -1, UploadThroughput: -1}},
		}),
		command(network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: off, DownloadThroughput: -1, UploadThroughput: -1}),
	)
	if err != nil {
		return fmt.Errorf("offline %t: %w", off, err)
	}
	const fetch = "fetch(location.href, { method: 'HEAD', cache: 'no-store' }).then(() => true, () => false)"
	for began, answered := time.Now(), off; answered; {
		if err := p.Eval(fetch, &answered); err != nil {
			return fmt.Errorf("offline %t: %w", off, err)
		}
		if answered && time.Since(began) > p.Patience {
			return fmt.Errorf("offline: the page is still answered after %v", p.Patience)
		}
	}
	return nil
}
