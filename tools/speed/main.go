// Command speed measures how long answers take, against peers where there are
// any, in one run, and writes the figures into docs/measured.md. See "make speed".
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"bondtrial"
	"bondtrial/internal/simulate"
	"bondtrial/internal/table"
	"bondtrial/stat/gibbs"
	"bondtrial/tools/measured"
)

func main() {
	out := flag.String("out", "docs/measured.md", "file with the section to replace")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	var b strings.Builder
	fmt.Fprintf(&b, "\n%s on %s/%s, %d processors.\n", runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.GOMAXPROCS(0))
	for _, part := range []func(context.Context, io.Writer) error{whole, againstJAGS, growth} {
		if err := part(ctx, &b); err != nil {
			fmt.Fprintln(os.Stderr, "speed:", err)
			os.Exit(1)
		}
	}
	if err := measured.Replace(*out, "speed", b.String()); err != nil {
		fmt.Fprintln(os.Stderr, "speed:", err)
		os.Exit(1)
	}
}

// program builds the command line into a temporary folder.
func program(ctx context.Context) (dir, bin string, err error) {
	if dir, err = os.MkdirTemp("", "bondtrial-speed-"); err != nil {
		return "", "", err
	}
	bin = filepath.Join(dir, "bondtrial")
	c := exec.CommandContext(ctx, "go", "build", "-o", bin, "./cmd/bondtrial")
	c.Stderr = os.Stderr
	return dir, bin, c.Run()
}

// whole times the command on the demo's readings, figures and report included.
func whole(ctx context.Context, out io.Writer) error {
	dir, bin, err := program(ctx)
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	readings := simulate.DemoReadings(simulate.DemoSeed)
	file := filepath.Join(dir, "readings.csv")
	if err := writeReadings(file, readings, []string{simulate.DemoFactor}); err != nil {
		return err
	}
	var took []float64
	for range 7 {
		start := time.Now()
		c := exec.CommandContext(ctx, bin, "answer", file, "--factor", simulate.DemoFactor, "--html", filepath.Join(dir, "report.html"))
		if msg, err := c.CombinedOutput(); err != nil {
			return fmt.Errorf("%w: %s", err, msg)
		}
		took = append(took, time.Since(start).Seconds())
	}
	fmt.Fprintf(out, "\n**The whole command** on the demo's %d readings in 24 cells, default draws, with the report and its figures, repeated at two other\nthresholds, as whole processes: median of 7 runs %.2f s, fastest %.2f s, slowest %.2f s.\n",
		len(readings), median(took), least(took), most(took))
	return nil
}

func writeReadings(file string, rs []bondtrial.Reading, factors []string) error {
	f, err := os.Create(file)
	if err != nil {
		return err
	}
	defer f.Close()
	return table.Write(f, rs, factors)
}

// againstJAGS times the sampler and JAGS on one model with the same priors, by
// effective draws of the cells' means in a second. JAGS runs its four chains one
// after another on one processor; the sampler is timed on one as well, and as it
// comes.
func againstJAGS(ctx context.Context, out io.Writer) error {
	if _, err := exec.LookPath("Rscript"); err != nil {
		fmt.Fprintf(out, "\n**Against JAGS**: not measured, R is not installed.\n")
		return nil
	}
	m, board := model()
	dir, err := os.MkdirTemp("", "bondtrial-speed-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	var csv strings.Builder
	csv.WriteString("lo,bound,cell,board,group\n")
	bounds := 0
	for i := range m.Lo {
		bound := m.Lo[i] != m.Hi[i]
		if bound {
			bounds++
		}
		fmt.Fprintf(&csv, "%.10f,%s,%d,%d,%d\n", m.Lo[i], strings.ToUpper(fmt.Sprint(bound)), m.Cell[i]+1, board[i]+1, m.Group[m.Cell[i]]+1)
	}
	file := filepath.Join(dir, "data.csv")
	if err := os.WriteFile(file, []byte(csv.String()), 0o644); err != nil {
		return err
	}
	var ratios, slowest, together []float64
	version := ""
	for run := range 3 {
		c := exec.CommandContext(ctx, "Rscript", "tools/speed/jags.R", file, "20000")
		c.Stderr = os.Stderr
		text, err := c.Output()
		if err != nil {
			return err
		}
		var sec, minMu, medMu, minAll float64
		if _, err := fmt.Sscan(string(text), &sec, &minMu, &medMu, &minAll); err != nil {
			return fmt.Errorf("reading what jags.R prints: %w", err)
		}
		version = strings.TrimSpace(strings.SplitN(string(text), "\n", 2)[1])
		old := runtime.GOMAXPROCS(1)
		start := time.Now()
		p, err := gibbs.Sample(ctx, m, gibbs.Settings{Seed: uint64(run), Draws: 80_000})
		took := time.Since(start).Seconds()
		runtime.GOMAXPROCS(old)
		if err != nil {
			return err
		}
		start = time.Now()
		if _, err := gibbs.Sample(ctx, m, gibbs.Settings{Seed: uint64(run), Draws: 80_000}); err != nil {
			return err
		}
		asItComes := time.Since(start).Seconds()
		lowest := math.Inf(1)
		for _, d := range p.Mean {
			lowest = min(lowest, gibbs.ESSMean(d, p.Chains))
		}
		lowestAll := lowest
		for _, set := range [][][]float64{p.Sigma, p.TermSD} {
			for _, d := range set {
				lowestAll = min(lowestAll, gibbs.ESSMean(d, p.Chains))
			}
		}
		ratios = append(ratios, (lowest/took)/(minMu/sec))
		together = append(together, (lowest/asItComes)/(minMu/sec))
		slowest = append(slowest, (lowestAll/took)/(minAll/sec))
	}
	fmt.Fprintf(out, `
**Against JAGS** (%s): %d readings, %d of them bounds, 12 cells, 10 boards, a scatter for each of 6 adhesives, the same
model, priors and data, 80,000 draws each, three runs in turn. Effective draws in a second of the mean that mixes worst:
%.0f times as many as JAGS (%.0f to %.0f) as both come, JAGS on one processor and the sampler on %d; %.0f times (%.0f to
%.0f) with one processor each. Of the parameter that mixes worst of all, scatters included, with one processor each: %.0f
times (%.0f to %.0f).
`, version, len(m.Lo), bounds, median(together), least(together), most(together), runtime.GOMAXPROCS(0),
		median(ratios), least(ratios), most(ratios), median(slowest), least(slowest), most(slowest))
	return nil
}

// model is a simulated trial in which every cell has bond breaks, so that JAGS
// can hold it.
func model() (*gibbs.Model, []int) {
	truth := simulate.Truth{BoardSD: 0.08, Least: 7, Most: 8}
	for _, w := range []string{"hardwood", "softwood"} {
		truth.Woods = append(truth.Woods, simulate.Wood{Name: w, Strength: 10, SD: 0.14, Boards: 5})
	}
	for i, x := range []float64{1, 1.1, 1.3, 1.5, 1.7, 1.9} {
		truth.Adhesives = append(truth.Adhesives, simulate.Adhesive{Name: string(rune('A' + i)), Strength: []float64{4 * x, 4 * x}, SD: 0.17})
	}
	truth.LimitShare(0.3)
	for seed := uint64(1); ; seed++ {
		m := &gibbs.Model{Cells: 12, Group: []int{0, 1, 2, 3, 4, 5, 0, 1, 2, 3, 4, 5}, Groups: 6, ScatterPrior: gibbs.HalfT{DF: 3, Scale: 0.3}, ScatterRange: gibbs.Range{Lo: 1e-3, Hi: 1e3}}
		board := make([]int, 0, 100)
		exact := make([]int, 12)
		for _, r := range truth.Readings(rand.New(rand.NewPCG(seed, 1))) {
			b, _ := r.BondBound(bondtrial.DefaultThreshold)
			w := 0
			if r.Wood == "softwood" {
				w = 1
			}
			a := int(r.Adhesive[0] - 'A')
			if b.Exact() {
				exact[6*w+a]++
			}
			m.Lo, m.Hi = append(m.Lo, math.Log(float64(b.Lo))), append(m.Hi, math.Log(float64(b.Hi)))
			m.Cell = append(m.Cell, 6*w+a)
			board = append(board, 5*w+int(r.Board[0]-'1'))
		}
		fewest := exact[0]
		for _, n := range exact {
			fewest = min(fewest, n)
		}
		if fewest >= 2 {
			m.Terms = []gibbs.Term{{Level: board, Levels: 10, Prior: gibbs.HalfT{DF: 3, Scale: 0.2}}}
			return m, board
		}
	}
}

// growth times the command on more and more readings: 12 adhesives on 2 woods, a
// board for every 20 specimens.
func growth(ctx context.Context, out io.Writer) error {
	dir, bin, err := program(ctx)
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	fmt.Fprintf(out, "\n**Growth**: 12 adhesives on 2 woods, 35 %% wood-limited, a board for every 20 specimens, default draws, with the report.\n\n| readings | seconds | seconds for 1,000 readings | most memory, MB |\n| ---: | ---: | ---: | ---: |\n")
	for _, n := range []int{100, 1000, 10_000, 30_000, 100_000} {
		truth := simulate.Truth{BoardSD: 0.08, Least: n / 24, Most: n / 24}
		for _, w := range []string{"hardwood", "softwood"} {
			truth.Woods = append(truth.Woods, simulate.Wood{Name: w, Strength: 10, SD: 0.14, Boards: max(5, n/40)})
		}
		for i := range 12 {
			x := 4 * math.Exp(0.06*float64(i))
			truth.Adhesives = append(truth.Adhesives, simulate.Adhesive{Name: string(rune('A' + i)), Strength: []float64{x, x}, SD: 0.17})
		}
		truth.LimitShare(0.35)
		file := filepath.Join(dir, "many.csv")
		rs := truth.Readings(rand.New(rand.NewPCG(1, uint64(n))))
		if err := writeReadings(file, rs, nil); err != nil {
			return err
		}
		start := time.Now()
		c := exec.CommandContext(ctx, bin, "answer", file, "--html", filepath.Join(dir, "many.html"))
		if msg, err := c.CombinedOutput(); err != nil {
			return fmt.Errorf("%w: %.2000s", err, msg)
		}
		took := time.Since(start).Seconds()
		fmt.Fprintf(out, "| %d | %.2f | %.3f | %s |\n", len(rs), took, 1000*took/float64(len(rs)), memory(c.ProcessState))
	}
	return nil
}
