package rig

import (
	"encoding/csv"
	"errors"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
)

func rows(t testing.TB, file string) [][]string {
	t.Helper()
	raw, err := os.ReadFile("testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	all, err := csv.NewReader(strings.NewReader(string(raw))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return all[1:]
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func must[T any](t testing.TB) func(v T, err error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// close12 reports whether two numbers agree but for rounding.
func close12(a, b float64) bool { return math.Abs(a-b) <= 1e-12*max(math.Abs(a), math.Abs(b)) }

// fields lists the fields that an error names, in order.
func fields(err error) []string {
	var list []string
	var walk func(err error)
	walk = func(err error) {
		switch e := err.(type) {
		case nil:
		case interface{ Unwrap() []error }:
			for _, x := range e.Unwrap() {
				walk(x)
			}
		default:
			var f *FieldError
			if errors.As(err, &f) {
				list = append(list, f.Field)
			} else {
				list = append(list, "no field: "+err.Error())
			}
		}
	}
	walk(err)
	return list
}

func checkFields(t *testing.T, name string, err error, want ...string) {
	t.Helper()
	if got := fields(err); !slices.Equal(got, want) {
		t.Errorf("%s: the error names %q, want %q: %v", name, got, want, err)
	}
}

func mustPanic(t *testing.T, name string, f func()) {
	t.Helper()
	defer func() {
		if s, ok := recover().(string); !ok || !strings.HasPrefix(s, "rig: ") {
			t.Errorf("%s: panicked with %q", name, s)
		}
	}()
	f()
	t.Errorf("%s: no panic", name)
}
