// Package measured puts a section of figures into docs/measured.md.
package measured

import (
	"fmt"
	"os"
	"strings"
)

// Replace puts text between the marks <!-- name --> and <!-- /name --> of a file,
// which must be there.
func Replace(path, name, text string) error {
	old, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	begin, end := "<!-- "+name+" -->\n", "<!-- /"+name+" -->"
	head, rest, ok := strings.Cut(string(old), begin)
	_, tail, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		return fmt.Errorf("%s has no section %q", path, name)
	}
	return os.WriteFile(path, []byte(head+begin+text+end+tail), 0o644)
}
