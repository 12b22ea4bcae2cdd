package figure

import (
	"fmt"
	"strings"

	"bondtrial/internal/answer"
)

// count says how many specimens a cell has, and how many of them are only lower
// bounds.
func count(c *answer.Cell) string {
	n := fmt.Sprintf("n %d", c.N)
	for _, l := range []struct {
		n    int
		what string
	}{{c.WoodLimited, "wood-limited"}, {c.RigLimited, "rig-limited"}} {
		switch l.n {
		case 0:
		case c.N:
			n += ", all " + l.what
		default:
			n += fmt.Sprintf(", %d %s", l.n, l.what)
		}
	}
	return n
}

// heading names a condition in one line.
func heading(c answer.Condition) string { return clean(c.String()) }

// sentence joins parts to "a; b; c.".
func sentence(parts []string) string { return strings.Join(parts, "; ") + "." }
