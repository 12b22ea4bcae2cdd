package paper

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
)

// document is a PDF being drawn, black on white, mm from the top left corner.
type document struct {
	pdf      *fpdf.Fpdf
	size     Size
	advances [2]map[rune]float64 // see advance
}

const family = "liberation"

// newDocument returns a document without pages.
func newDocument(size Size, title string, date time.Time) *document {
	if date.IsZero() {
		panic(zeroDate) // the PDF library would take the clock's
	}
	pdf := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: size.Width, Ht: size.Height}})
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(date)
	pdf.SetModificationDate(date)
	pdf.SetProducer("bondtrial", true)
	pdf.SetTitle(clean(title), true)
	pdf.SetLang("en")
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	pdf.AddUTF8FontFromBytes(family, "", liberationsansregular.TTF)
	pdf.AddUTF8FontFromBytes(family, "B", liberationsansbold.TTF)
	return &document{pdf: pdf, size: size, advances: [2]map[rune]float64{make(map[rune]float64), make(map[rune]float64)}}
}

// page begins a page.
func (d *document) page() { d.pdf.AddPage() }

// write ends the document and writes it out whole, or not at all.
func (d *document) write(w io.Writer) error {
	var b bytes.Buffer
	if err := d.pdf.Output(&b); err != nil {
		return fmt.Errorf("making the PDF: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

func (d *document) set(t typeface) {
	style := ""
	if t.bold {
		style = "B"
	}
	d.pdf.SetFont(family, style, t.size)
}

// align says where in its place a line of text stands.
type align int

const (
	left align = iota
	centre
	right
)

// line writes a line of clean text: its place is from x, width wide, and its
// capitals stand in the middle of the height of a line from y.
func (d *document) line(t typeface, s string, x, y, width float64, a align) {
	d.set(t)
	switch a {
	case centre:
		x += (width - d.width(t, s)) / 2
	case right:
		x += width - d.width(t, s)
	}
	d.pdf.Text(x, y+(t.height()+t.size*mmPerPoint*capHeight)/2, s)
}

// block writes lines of text from y down.
func (d *document) block(b block, x, y, width float64, a align) {
	for _, s := range b.lines {
		d.line(b.typeface, s, x, y, width, a)
		y += b.typeface.height()
	}
}

// middle writes lines of text in the middle of a height.
func (d *document) middle(b block, x, y, width, height float64, a align) {
	d.block(b, x, y+(height-b.height())/2, width, a)
}

// Widths of rules, mm.
const (
	thin  = 0.15
	thick = 0.4
)

// rule draws a straight line.
func (d *document) rule(x1, y1, x2, y2, width float64) {
	d.pdf.SetLineWidth(width)
	d.pdf.Line(x1, y1, x2, y2)
}

// box draws a frame.
func (d *document) box(x, y, width, height, line float64) {
	d.pdf.SetLineWidth(line)
	d.pdf.Rect(x, y, width, height, "D")
}

// dashes draws a dashed line.
func (d *document) dashes(x1, y1, x2, y2 float64) {
	d.pdf.SetDashPattern([]float64{3, 2}, 0)
	d.rule(x1, y1, x2, y2, 0.25)
	d.pdf.SetDashPattern(nil, 0)
}
