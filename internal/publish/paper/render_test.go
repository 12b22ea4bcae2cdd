package paper

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// dpi is the resolution of the poorest printer or camera that labels must survive.
const dpi = 150

// run runs a program that reads PDF or pictures back. Where it is missing the test
// fails and says what to install.
func run(t *testing.T, debian, name string, args ...string) []byte {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		t.Fatalf("%s is needed to read back what is printed: install the Debian package %s", name, debian)
	}
	var out, errs bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Run(); err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, errs.String())
	}
	return out.Bytes()
}

// made returns a PDF and the file that holds it. It also holds that the same input
// gives the same bytes.
func made(t *testing.T, write func(w io.Writer) error) string {
	t.Helper()
	var b, again bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	if err := write(&again); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Error("the same input gives other bytes")
	}
	file := filepath.Join(t.TempDir(), "made.pdf")
	if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// picture is a page as it is rendered, grey.
type picture struct{ *image.Gray }

// render returns the pages at dpi.
func render(t *testing.T, file string) []picture {
	t.Helper()
	stem := filepath.Join(t.TempDir(), "page")
	run(t, "poppler-utils", "pdftoppm", "-r", fmt.Sprint(dpi), "-gray", file, stem)
	names, err := filepath.Glob(stem + "*.pgm") // sorted, numbers of one width
	if err != nil || len(names) == 0 {
		t.Fatalf("no pages rendered: %v", err)
	}
	var pages []picture
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		var width, height, white int
		if _, err := fmt.Fscanf(bytes.NewReader(data), "P5\n%d %d\n%d", &width, &height, &white); err != nil || white != 255 || len(data) < width*height {
			t.Fatalf("%s is no grey picture of 8 bits: %v", name, err)
		}
		pages = append(pages, picture{&image.Gray{Pix: data[len(data)-width*height:], Stride: width, Rect: image.Rect(0, 0, width, height)}})
	}
	return pages
}

// pixels is a place in mm as a place in the picture: the pixels that it touches.
func pixels(r rect) image.Rectangle {
	at := func(mm float64) int { return int(mm / 25.4 * dpi) }
	return image.Rect(at(r.x), at(r.y), at(r.x+r.width)+1, at(r.y+r.height)+1)
}

// ink returns the place of a pixel that is not white, outside the places given.
func (p picture) ink(outside ...rect) (at image.Point, found bool) {
	free := p.copyOf(p.Bounds())
	for _, r := range outside {
		white := pixels(r).Intersect(free.Bounds())
		for y := white.Min.Y; y < white.Max.Y; y++ {
			row := free.Pix[y*free.Stride+white.Min.X : y*free.Stride+white.Max.X]
			for x := range row {
				row[x] = 255
			}
		}
	}
	for i, v := range free.Pix {
		if v != 255 {
			return image.Pt(i%free.Stride, i/free.Stride), true
		}
	}
	return image.Point{}, false
}

// copyOf copies a part of the picture.
func (p picture) copyOf(from image.Rectangle) picture {
	grey := image.NewGray(image.Rect(0, 0, from.Dx(), from.Dy()))
	for y := range from.Dy() {
		at := p.PixOffset(from.Min.X, from.Min.Y+y)
		copy(grey.Pix[y*grey.Stride:(y+1)*grey.Stride], p.Pix[at:at+from.Dx()])
	}
	return picture{grey}
}

// part is a part of the picture.
func (p picture) part(r rect) picture { return p.copyOf(pixels(r).Intersect(p.Bounds())) }

// readQR reads the QR codes of pictures: for each what it holds, or several.
func readQR(t *testing.T, pictures []picture) [][]string {
	t.Helper()
	dir := t.TempDir()
	args := []string{"-q", "--nodbus", "--xml", "-Sdisable", "-Sqrcode.enable"}
	index := make(map[string]int)
	for i, p := range pictures {
		var b bytes.Buffer
		if err := png.Encode(&b, p.Gray); err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(dir, fmt.Sprintf("%d.png", i))
		index[name] = i
		if err := os.WriteFile(name, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		args = append(args, name)
	}
	var found struct {
		Sources []struct {
			Href string   `xml:"href,attr"`
			Data []string `xml:"index>symbol>data"`
		} `xml:"source"`
	}
	if err := xml.Unmarshal(run(t, "zbar-tools", "zbarimg", args...), &found); err != nil {
		t.Fatal(err)
	}
	codes := make([][]string, len(pictures))
	for _, s := range found.Sources {
		codes[index[s.Href]] = s.Data
	}
	return codes
}

// word is a word as it lies on a page, mm.
type word struct {
	text string
	rect
}

// words returns the words of each page in the order in which they were written.
func words(t *testing.T, file string) (pages [][]word, sizes []Size) {
	t.Helper()
	dec := xml.NewDecoder(bytes.NewReader(run(t, "poppler-utils", "pdftotext", "-raw", "-bbox", file, "-")))
	dec.Strict = false
	var doc struct {
		Pages []struct {
			Width  float64 `xml:"width,attr"`
			Height float64 `xml:"height,attr"`
			Words  []struct {
				XMin float64 `xml:"xMin,attr"`
				YMin float64 `xml:"yMin,attr"`
				XMax float64 `xml:"xMax,attr"`
				YMax float64 `xml:"yMax,attr"`
				Text string  `xml:",chardata"`
			} `xml:"word"`
		} `xml:"body>doc>page"`
	}
	if err := dec.Decode(&doc); err != nil {
		t.Fatal(err)
	}
	const mm = mmPerPoint
	for _, p := range doc.Pages {
		var page []word
		for _, w := range p.Words {
			page = append(page, word{w.Text, rect{w.XMin * mm, w.YMin * mm, (w.XMax - w.XMin) * mm, (w.YMax - w.YMin) * mm}})
		}
		pages = append(pages, page)
		sizes = append(sizes, Size{p.Width * mm, p.Height * mm})
	}
	return pages, sizes
}

// plain returns the text of each page, in the order written, with one space
// wherever there is white space.
func plain(t *testing.T, file string) []string {
	t.Helper()
	all := string(run(t, "poppler-utils", "pdftotext", "-raw", file, "-"))
	var pages []string
	for _, p := range strings.Split(strings.TrimSuffix(all, "\f"), "\f") {
		pages = append(pages, spaced(p))
	}
	return pages
}

func spaced(s string) string { return strings.Join(strings.Fields(s), " ") }

// inOrder returns the first text that does not follow after the ones before it.
func inOrder(page string, texts ...string) (missing string, ok bool) {
	for _, s := range texts {
		i := strings.Index(page, spaced(s))
		if i < 0 {
			return s, false
		}
		page = page[i+len(spaced(s)):]
	}
	return "", true
}

// slack is what a place may be off: the PDF holds hundredths of a point, each end
// rounded, 0.0035 mm together.
const slack = 0.005

// holds reports whether a lies within r.
func (r rect) holds(a rect) bool {
	return a.x >= r.x-slack && a.y >= r.y-slack && a.x+a.width <= r.x+r.width+slack && a.y+a.height <= r.y+r.height+slack
}

// meets reports whether a and r have more than an edge in common.
func (r rect) meets(a rect) bool {
	return a.x+a.width > r.x+slack && r.x+r.width > a.x+slack && a.y+a.height > r.y+slack && r.y+r.height > a.y+slack
}
