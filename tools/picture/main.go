// Command picture draws the picture in the README from the demo's readings. See
// "make picture".
package main

import (
	"context"
	"fmt"
	"os"

	"bondtrial/internal/answer"
	"bondtrial/internal/figure"
	"bondtrial/internal/simulate"
)

func main() {
	if err := draw("docs/strength.png"); err != nil {
		fmt.Fprintln(os.Stderr, "picture:", err)
		os.Exit(1)
	}
}

func draw(path string) error {
	a, err := answer.Compute(context.Background(), simulate.DemoReadings(simulate.DemoSeed), answer.DefaultSettings())
	if err != nil {
		return err
	}
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	return figure.Strength(a, figure.Column()).WritePNG(f, 192)
}
