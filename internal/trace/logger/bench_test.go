package logger

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"bondtrial/internal/trace"
)

// made is a file of a kilohertz logger with three columns.
func made(lines int) []byte {
	var b bytes.Buffer
	b.WriteString("time_s,force_N,travel_mm\n")
	for i := range lines {
		fmt.Fprintf(&b, "%.3f,%.2f,%.4f\n", float64(i)/1000, 3000*math.Sin(float64(i)/1e5), float64(i)/5e5)
	}
	return b.Bytes()
}

func BenchmarkStream(b *testing.B) {
	data := made(1_000_000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		n := 0
		if _, err := Stream(bytes.NewReader(data), "t", Options{}, func(r trace.Record) error { n += r.Len(); return nil }); err != nil || n != 1_000_000 {
			b.Fatal(n, err)
		}
	}
}

func BenchmarkStreamOneWorker(b *testing.B) {
	data := made(1_000_000)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, err := Stream(bytes.NewReader(data), "t", Options{Workers: 1}, func(trace.Record) error { return nil }); err != nil {
			b.Fatal(err)
		}
	}
}
