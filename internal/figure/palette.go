package figure

import (
	"fmt"
	"image/color"
	"strings"
)

// role is what a colour is for. An SVG names roles and leaves the colours to the
// page (ThemeCSS); other outputs take the colours of light or dark.
type role int

const (
	paper     role = iota // behind everything
	ink                   // what is read first: names, ticks at typical values
	muted                 // what is read second: counts, axis labels, notes
	grid                  // lines that guide the eye
	edge                  // axes
	mark                  // specimens
	bar                   // 95 % ranges
	band                  // ranges behind the specimens: of the wood's own strength, of a fitted line
	bandLine              // and their middles
	alike                 // ratios within the margin
	stronger              // grounds of the verdicts
	weaker                //
	same                  //
	unsettled             //
	oneSided              //
	roles
)

// The hues are those of Okabe and Ito's palette for all kinds of colour vision
// (blue 0072B2, sky blue 56B4E9, bluish green 009E73, vermilion D55E00, orange
// E69F00, yellow F0E442), thinned with the paper where text stands on them.
var colours = [roles]struct {
	name        string
	light, dark uint32
}{
	paper:     {"paper", 0xffffff, 0x16191d},
	ink:       {"ink", 0x1f2328, 0xe6e8eb},
	muted:     {"muted", 0x57606a, 0xa9b1ba},
	grid:      {"grid", 0xe3e6ea, 0x2d3239},
	edge:      {"edge", 0x868f99, 0x6f7882},
	mark:      {"mark", 0x0072b2, 0x56b4e9},
	bar:       {"bar", 0x7b858f, 0x77828d},
	band:      {"band", 0xfbebcc, 0x40321a},
	bandLine:  {"band-line", 0xa87200, 0xe69f00},
	alike:     {"alike", 0xe3f1fa, 0x223540},
	stronger:  {"stronger", 0xbfe7dc, 0x0e4c3e},
	weaker:    {"weaker", 0xf6d5bd, 0x5f3312},
	same:      {"same", 0xcfe8f8, 0x2a4b5e},
	unsettled: {"unsettled", 0xeceef1, 0x2a3037},
	oneSided:  {"one-sided", 0xf8f3b0, 0x53521f},
}

// paint is a colour in a role. It is a color.Color, premultiplied as such must
// be.
type paint struct {
	role  role
	alpha uint8
	dark  bool
}

func (p paint) rgb() uint32 {
	if p.dark {
		return colours[p.role].dark
	}
	return colours[p.role].light
}

// RGBA returns the colour, premultiplied by its alpha.
func (p paint) RGBA() (r, g, b, a uint32) {
	c := p.rgb()
	return color.NRGBA{R: uint8(c >> 16), G: uint8(c >> 8), B: uint8(c), A: p.alpha}.RGBA()
}

// css is the colour as a CSS value: a variable, and what to use without it.
func (p paint) css() string {
	return fmt.Sprintf("var(--fig-%s,#%06x)", colours[p.role].name, p.rgb())
}

// ThemeCSS is the style block that gives the SVG figures of a page their colours:
// light, dark where the system asks for it, and light again on paper. A page that
// leaves it out shows the figures in light.
func ThemeCSS() string {
	var light, dark strings.Builder
	for _, c := range colours {
		fmt.Fprintf(&light, "--fig-%s:#%06x;", c.name, c.light)
		fmt.Fprintf(&dark, "--fig-%s:#%06x;", c.name, c.dark)
	}
	return fmt.Sprintf(":root{%s}\n@media screen and (prefers-color-scheme:dark){:root{%s}}\n", light.String(), dark.String())
}
