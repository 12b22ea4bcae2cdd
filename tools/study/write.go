package main

import (
	"fmt"
	"runtime"
	"strings"
	"sync"
)

// cache keeps values that many trials ask for.
type cache struct {
	mu sync.Mutex
	m  map[[2]float64]float64
	f  func(int, float64) float64
}

func newCache(f func(int, float64) float64) *cache {
	return &cache{m: make(map[[2]float64]float64), f: f}
}

func (c *cache) get(k int, x float64) float64 {
	key := [2]float64{float64(k), x}
	c.mu.Lock()
	v, ok := c.m[key]
	c.mu.Unlock()
	if !ok {
		v = c.f(k, x)
		c.mu.Lock()
		c.m[key] = v
		c.mu.Unlock()
	}
	return v
}

func formatPercent(x float64) string { return fmt.Sprintf("%.1f", x) }

// write makes the section for docs/measured.md.
func write(rows []row, trials, draws int) string {
	var b strings.Builder
	fmt.Fprintf(&b, `
%d simulated trials a setting, %d draws each, %s on %s/%s. Each trial: 6 adhesives, 2 woods, 4 to 6 specimens a
cell, 5 boards a wood (standard deviation 0.08 on the log scale), scatter 0.17, in the unequal settings 0.10 to 0.30.
Strengths: *spread* 1, 1.05, 1.15, 1.3, 1.5, 1.8; *trade* 1, 1, 1.5, 2.2, 3, 3.6; *drawn* anew for each trial with
standard deviation 0.4 on the log scale; *near* 1, 1, 1.1, 1.1, 1.2, 1.2. Figures are percent; with %d trials an
entry near 95 has a standard error of about 0.1 (single intervals) to 0.35 (families).

**bondtrial.** Single: two-sided 95 %% intervals of a ratio that hold. One-sided: those where one adhesive is only "at
least". Family: woods in which all simultaneous statements hold at once. Wrong "stronger": of all such verdicts.
Wrong "same": of all pairs that differ by more than the margin. At least: statements that lie at or below the truth,
with how many there were and how far below it they lie on average, on the log scale times 100.

| strengths | scatter | wood-limited | single | one-sided | family | no statement | wrong "stronger" | wrong "same" | at least | of | short by |
| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |
`, trials, draws, runtime.Version(), runtime.GOOS, runtime.GOARCH, trials)
	for _, r := range rows {
		t := r.ways[0]
		short := "–"
		if r.atLeast.n > 0 {
			short = fmt.Sprintf("%.0f", 100*r.atLeast.short/float64(r.atLeast.n))
		}
		fmt.Fprintf(&b, "| %s | %s | %.0f | %s | %s | %s | %s | %s | %s | %s | %d | %s |\n", r.truth, r.sds, 100*r.limited,
			share(t.right, t.n), share(t.oneRight, t.oneSided), share(t.hold, t.families), share(t.none, t.n+t.oneSided+t.none),
			fine(t.wrong, t.claims), fine(t.apartAlike, t.apart), share(r.atLeast.right, r.atLeast.n), r.atLeast.n, short)
	}
	for _, r := range rows {
		if r.little > 0 {
			fmt.Fprintf(&b, "\nOf the trials %s, %s, %.0f %% wood-limited, %d allowed no answer and are left out.\n", r.truth, r.sds, 100*r.limited, r.little)
		}
	}
	b.WriteString("\n**Simpler ways, on the same trials.**\n\n| strengths | scatter | wood-limited | way | single | family | pairs without an interval | wrong \"stronger\" |\n| --- | --- | ---: | --- | ---: | ---: | ---: | ---: |\n")
	for _, r := range rows {
		for w, t := range r.ways {
			if w > 0 {
				fmt.Fprintf(&b, "| %s | %s | %.0f | %s | %s | %s | %s | %s |\n", r.truth, r.sds, 100*r.limited, ways[w].name,
					share(t.right, t.n), share(t.hold, t.families), share(t.none, t.n+t.oneSided+t.none), fine(t.wrong, t.claims))
			}
		}
	}
	b.WriteByte('\n')
	return b.String()
}

func fine(n, of int) string {
	if of == 0 {
		return "–"
	}
	return fmt.Sprintf("%.2f", 100*float64(n)/float64(of))
}
