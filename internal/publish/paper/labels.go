package paper

import (
	"fmt"
	"io"
	"strings"
	"time"

	"rsc.io/qr"
)

// Label is what stands on the label of one specimen. Empty strings are left out;
// Code may not be empty.
type Label struct {
	// Code goes into the QR code as it is: capitals, digits, and - . / at most.
	Code string
	// Adhesive is its name, or its blind name when the labels are blind.
	Adhesive string
	Wood     string
	Board    string
	Pieces   []string // the pieces of the board that are joined
}

// from says where the specimen comes from, its wood by the name given.
func (l Label) from(wood string) string {
	var parts []string
	add := func(s string) {
		if s = clean(s); s != "" {
			parts = append(parts, s)
		}
	}
	add(wood)
	if l.Board != "" {
		add("board" + string(noBreak) + l.Board)
	}
	switch len(l.Pieces) {
	case 0:
	case 1:
		add("piece" + string(noBreak) + l.Pieces[0])
	default:
		add("pieces" + string(noBreak) + strings.Join(l.Pieces, string(noBreak)+"+"+string(noBreak)))
	}
	return strings.Join(parts, ", ")
}

// Labels is a set of labels to print.
type Labels struct {
	Sheet LabelSheet
	// First is the label of the first sheet that is printed on, counted from 1 in
	// rows from the top left, so that a part-used sheet can be used up. 0 is 1.
	First int
	Trial string
	Date  time.Time // of the PDF; see [Head]
	// Blind says that Adhesive is a blind name: it is shown as "adhesive K".
	Blind  bool
	Labels []Label
}

// WriteLabels writes labels as PDF, in the order given, each with a QR code of its
// code (four modules of white around it), the code in large type, the adhesive,
// where the specimen comes from, and the trial, which is left out on a label that
// has no room for two lines of the former. Nothing is printed within 2 mm of
// the edge of a label or 5 mm of the edge of the paper.
//
// An error names the measure of the sheet or the label that is wrong: no labels,
// First not on the sheet, a label too small to hold a readable code, a code that
// is empty, is there twice or does not go into a QR code.
func WriteLabels(w io.Writer, in Labels) error {
	if err := in.Sheet.check(); err != nil {
		return err
	}
	first := max(in.First, 1)
	if per := in.Sheet.PerSheet(); in.First < 0 || first > per {
		return fmt.Errorf("the first label is to be number %d of the sheet, which has %d", in.First, per)
	}
	if len(in.Labels) == 0 {
		return fmt.Errorf("there are no labels to print")
	}
	codes, err := in.codes()
	if err != nil {
		return err
	}
	d := newDocument(in.Sheet.Paper, "Labels: "+in.Trial, in.Date)
	plan, err := in.arrange(d, codes)
	if err != nil {
		return err
	}
	for i, l := range in.Labels {
		at := (first - 1 + i) % in.Sheet.PerSheet()
		if i == 0 || at == 0 {
			d.page()
		}
		in.draw(d, plan, l, codes[i], in.Sheet.content(at))
	}
	return d.write(w)
}

// codes makes the QR codes.
func (in Labels) codes() ([]*qr.Code, error) {
	seen := make(map[string]int)
	var codes []*qr.Code
	for i, l := range in.Labels {
		c, err := encode(l.Code)
		if err != nil {
			return nil, fmt.Errorf("label %d: %w", i+1, err)
		}
		if before, twice := seen[l.Code]; twice {
			return nil, fmt.Errorf("labels %d and %d have the same code %s", before, i+1, l.Code)
		}
		seen[l.Code] = i + 1
		codes = append(codes, c)
	}
	return codes, nil
}

// arrangement is how the inside of every label of a set is divided.
type arrangement struct {
	qr, text    rect // from the top left of what may be printed on
	code        typeface
	adhesive    map[string]block
	from, trial float64 // heights; 0: left out
}

// Shares of the height of the text that code, adhesive and origin may take; the
// trial has the rest.
const (
	codeShare     = 0.33
	adhesiveShare = 0.25
	fromShare     = 0.25
)

// apart is the distance of the text from the quiet zone of the QR code, mm.
const apart = 0.5

// Sizes of type on labels, points.
const (
	largestCode = 26.0
	leastCode   = 9.0
	leastLabel  = 5.0
)

// arrange divides the label: the QR code on the left, or on top of a label that is
// upright.
func (in Labels) arrange(d *document, codes []*qr.Code) (arrangement, error) {
	c := in.Sheet.content(0)
	var a arrangement
	if c.width >= 1.2*c.height {
		side := min(c.height, 0.45*c.width)
		a.qr = rect{0, (c.height - side) / 2, side, side}
		a.text = rect{side + apart, 0, c.width - side - apart, c.height}
	} else {
		side := min(c.width, 0.55*c.height)
		a.qr = rect{(c.width - side) / 2, 0, side, side}
		a.text = rect{0, side + apart, c.width, c.height - side - apart}
	}
	most := 0
	for _, code := range codes {
		most = max(most, modules(code))
	}
	w, h := in.Sheet.label()
	need := leastModule * float64(most)
	if a.qr.width < need {
		return a, fmt.Errorf("labels of %.1f × %.1f mm are too small: the QR code needs %.1f mm and has %.1f mm", w, h, need, a.qr.width)
	}
	if a.text.width < leastTextWidth {
		return a, fmt.Errorf("labels of %.1f × %.1f mm are too small: the text needs %.1f mm beside the QR code and has %.1f mm", w, h, leastTextWidth, a.text.width)
	}
	a.code = typeface{min(largestCode, codeShare*a.text.height/(mmPerPoint*leading)), true}
	for _, l := range in.Labels {
		if wide := d.width(a.code, l.Code); wide > a.text.width {
			a.code.size *= a.text.width / wide * 0.999
		}
	}
	if a.code.size < leastCode {
		return a, fmt.Errorf("labels of %.1f × %.1f mm are too small: the code would be printed at %.1f points, and must have %.0f to be read", w, h, a.code.size, leastCode)
	}
	a.from, a.trial = fromShare*a.text.height, (1-codeShare-adhesiveShare-fromShare)*a.text.height
	if a.from < 2*(typeface{size: leastLabel}).height() {
		a.from, a.trial = a.from+a.trial, 0
	}
	var adhesives []string
	for _, l := range in.Labels {
		adhesives = append(adhesives, in.adhesive(l))
	}
	a.adhesive = d.unlike(adhesives, func(s string) block {
		return d.fit(s, a.text.width, adhesiveShare*a.text.height, min(14, 0.7*a.code.size), leastLabel, true)
	})
	return a, nil
}

// adhesive is what a label says of it.
func (in Labels) adhesive(l Label) string {
	if in.Blind && l.Adhesive != "" {
		return "adhesive" + string(noBreak) + l.Adhesive
	}
	return l.Adhesive
}

// draw prints one label.
func (in Labels) draw(d *document, a arrangement, l Label, code *qr.Code, c rect) {
	d.qr(code, c.x+a.qr.x, c.y+a.qr.y, a.qr.width)
	t := a.text
	blocks := []block{{a.code, []string{l.Code}, false}}
	if l.Adhesive != "" {
		blocks = append(blocks, a.adhesive[in.adhesive(l)])
	}
	if l.from(l.Wood) != "" {
		blocks = append(blocks, d.fitFrom(l, t.width, a.from))
	}
	if clean(in.Trial) != "" && a.trial > 0 {
		blocks = append(blocks, d.fit(in.Trial, t.width, a.trial, 8, leastLabel, false))
	}
	height := 0.0
	for _, b := range blocks {
		height += b.height()
	}
	gap := min(1.2, (t.height-height)/float64(len(blocks)+1))
	y := c.y + t.y + (t.height-height-gap*float64(len(blocks)-1))/2
	for _, b := range blocks {
		d.block(b, c.x+t.x, y, t.width, left)
		y += b.height() + gap
	}
}

// leastWood is how many letters of a wood tell it from another, or nearly.
const leastWood = 5

// fitFrom sets where the specimen comes from. Where there is too little room, it
// is the name of the wood that is shortened, as long as some of it is left.
func (d *document) fitFrom(l Label, width, height float64) block {
	wood := []rune(clean(l.Wood))
	wood = wood[:min(len(wood), 80)] // more is not fitted on any label
	whole := d.fit(l.from(l.Wood), width, height, 10, leastLabel, false)
	for keep := len(wood); keep > leastWood && whole.shortened; keep-- {
		short := strings.TrimRight(string(wood[:keep-1]), " ") + "…"
		if b := d.fit(l.from(short), width, height, leastLabel, leastLabel, false); !b.shortened {
			return b
		}
	}
	return whole
}
