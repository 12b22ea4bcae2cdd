package answer

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"bondtrial/internal/table"
)

// Tables that once broke the engine. README.md in the folder says how.
func TestHardTables(t *testing.T) {
	files, err := filepath.Glob("testdata/hard/*.csv")
	if err != nil || len(files) == 0 {
		t.Fatalf("no tables: %v", err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			data, err := table.ReadFile(file, table.Options{})
			if err != nil {
				t.Fatal(err)
			}
			ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
			defer cancel()
			a, err := Compute(ctx, data.Readings, DefaultSettings())
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range a.Cells {
				if !c.OnlyAtLeast && !(c.Low > 0 && c.Low < c.Typical && c.Typical < c.High && c.High.Exists()) {
					t.Errorf("%s: %v from %v to %v", c.Adhesive, c.Typical, c.Low, c.High)
				}
			}
			if a.Fit.MaxRHat > 1.05 {
				t.Errorf("R-hat %.3f", a.Fit.MaxRHat)
			}
			if file == "testdata/hard/lost-digits.csv" && !warned(a, "Specimen A4 (Bluebottle on oak)") {
				t.Errorf("a reading of a thousandth is not pointed out: %q", a.Warnings)
			}
		})
	}
}
