package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"bondtrial/internal/feed"
	"bondtrial/internal/show"
)

// feedFlags are the flags of feed as they were given.
type feedFlags struct {
	simulate bool
	seed     uint64
	breaks   int
	speed    int
	pattern  string
	keep     string
	pace     bool
	ports    bool
}

func newFeed() *cobra.Command {
	var f feedFlags
	c := &cobra.Command{
		Use:   "feed PORT",
		Short: "Read live lines from a rig, and keep them on the disk as they come",
		Long: `Feed reads the lines that a rig sends through a serial port, shows the latest
number and the largest so far, and with --keep writes every line to a file that
survives a crash. In place of a port, "-" reads standard input, and a file that
was kept, or recorded otherwise, is read again.

How lines are to be read is found by looking at the first ones, and said. Lines
that are no readings are counted and shown, an unplugged port is waited for, and
recording goes on. docs/wiring.md says how a load cell comes to send lines.

A loaded rig stores force: wear eye protection, and unload before you touch a
specimen that did not break.`,
		Example: `  bondtrial feed --ports
  bondtrial feed /dev/ttyACM0 --keep break-17.txt
  bondtrial feed COM3 --pattern "{time_ms},{counts}"
  bondtrial feed --simulate --breaks 2`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, args) },
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.StringVar(&f.keep, "keep", "", "new `FILE` to write every line to as it comes")
	fl.StringVar(&f.pattern, "pattern", "", "what stands in a line, such as \"{time_ms},{counts}\"; without it, found (`PATTERN`)")
	fl.IntVar(&f.speed, "speed", 0, fmt.Sprintf("of a serial port, in `BAUD`; without it %d", feed.DefaultSpeed))
	fl.BoolVar(&f.pace, "own-pace", false, "give a recorded file as fast as it was recorded, not as fast as it goes")
	fl.BoolVar(&f.ports, "ports", false, "list the serial ports there are")
	fl.BoolVar(&f.simulate, "simulate", false, "read a simulated rig: nothing real is measured")
	fl.IntVar(&f.breaks, "breaks", 1, "with --simulate: `NUMBER` of joints that it breaks")
	fl.Uint64Var(&f.seed, "seed", 1, "with --simulate: `NUMBER` that its chance starts from")
	return c
}

func (f *feedFlags) run(c *cobra.Command, args []string) error {
	if f.ports {
		for _, p := range feed.Ports() {
			fmt.Fprintln(c.OutOrStdout(), p)
		}
		return nil
	}
	var pattern *feed.Pattern
	if f.pattern != "" {
		var err error
		if pattern, err = feed.ParsePattern(f.pattern); err != nil {
			return fmt.Errorf("--pattern: %w", err)
		}
	}
	source, err := f.source(c, args, pattern)
	if err != nil {
		return err
	}
	sink := func(*feed.Batch) error { return nil }
	var journal *feed.Journal
	screen := &feedScreen{out: c.OutOrStdout(), live: isTerminal(c.OutOrStdout()), peak: math.Inf(-1)}
	rec := feed.NewRecorder(source, func(b *feed.Batch) error { return sink(b) }, feed.Options{Clock: feed.SystemClock{}, Pattern: pattern, Watch: screen.watch})
	if f.keep != "" {
		file, err := os.OpenFile(f.keep, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if errors.Is(err, os.ErrExist) {
			return fmt.Errorf("--keep %s: the file is there already, and is not written over: name a new one", f.keep)
		}
		if err != nil {
			return fmt.Errorf("--keep: %w", err)
		}
		defer file.Close()
		if journal, err = feed.NewJournal(file, rec.Header(time.Now())); err != nil {
			return fmt.Errorf("--keep %s: %w", f.keep, err)
		}
		sink = journal.Keep
	}
	fmt.Fprintf(screen.out, "%s\n", source.Describe())
	err = rec.Run(c.Context())
	if errors.Is(err, context.Canceled) {
		err = nil // that is how reading a port ends
	}
	if journal != nil {
		err = errors.Join(err, journal.End())
	}
	screen.end(rec.Status(), f.keep)
	return err
}

// source is what the arguments name.
func (f *feedFlags) source(c *cobra.Command, args []string, pattern *feed.Pattern) (feed.Source, error) {
	switch {
	case f.simulate && len(args) > 0:
		return nil, fmt.Errorf("--simulate takes no port: leave %s out", args[0])
	case f.simulate && f.breaks < 1:
		return nil, fmt.Errorf("--breaks %d: give 1 or more", f.breaks)
	case f.simulate:
		return feed.NewSimulator(feed.Simulation{Seed: f.seed, Breaks: f.breaks, Noise: 2, Travel: true, FullPace: !isTerminal(c.OutOrStdout())}, feed.SystemClock{}), nil
	case len(args) == 0:
		return nil, fmt.Errorf("name a serial port, a file, or - for standard input; \"%s --ports\" lists the ports there are", c.CommandPath())
	case args[0] == "-":
		return feed.NewPipe("standard input", c.InOrStdin(), feed.SystemClock{}), nil
	}
	if info, err := os.Stat(args[0]); err == nil && info.Mode().IsRegular() {
		file, err := os.Open(args[0])
		if err != nil {
			return nil, err
		}
		return feed.NewReplay(filepath.Base(args[0]), file, feed.ReplayOptions{OwnPace: f.pace, Pattern: pattern}, feed.SystemClock{}), nil
	}
	return feed.NewSerial(args[0], f.speed, feed.SystemClock{}), nil
}

// feedScreen shows what arrives: on a terminal the latest number on one line, else
// only what happens.
type feedScreen struct {
	out  io.Writer
	live bool

	mu    sync.Mutex
	shown time.Time
	peak  float64
}

func (s *feedScreen) watch(samples []feed.Sample, events []feed.Event) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, e := range events {
		s.clear()
		fmt.Fprintf(s.out, "%s  %s\n", e.At.Format("15:04:05"), e.Words)
	}
	for _, x := range samples {
		s.peak = max(s.peak, x.Force)
	}
	if n := len(samples); s.live && n > 0 && time.Since(s.shown) > 100*time.Millisecond {
		s.shown = time.Now()
		fmt.Fprintf(s.out, "\r\x1b[K%12.6g   largest so far %.6g   (^C ends)", samples[n-1].Force, s.peak)
	}
}

func (s *feedScreen) clear() {
	if s.live {
		fmt.Fprint(s.out, "\r\x1b[K")
	}
}

// end says what there was in all.
func (s *feedScreen) end(st feed.Status, kept string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.clear()
	fmt.Fprintf(s.out, "%d lines, %d readings", st.Counts.Lines, st.Counts.Samples)
	if st.Counts.Garbage > 0 {
		fmt.Fprintf(s.out, ", %d no readings, such as %s", st.Counts.Garbage, st.Example)
	}
	if st.Pattern != nil {
		fmt.Fprintf(s.out, "\nLines read as: %s", st.Pattern.Words())
	}
	if !math.IsInf(s.peak, -1) {
		unit := "N"
		if st.Pattern != nil && st.Pattern.Counts() {
			unit = "counts"
		}
		fmt.Fprintf(s.out, "\nLargest: %s %s as sent, with the zero in it", show.Trim(s.peak), unit)
	}
	if st.Advice != "" {
		fmt.Fprintf(s.out, "\n%s", strings.TrimSpace(st.Advice))
	}
	if kept != "" {
		fmt.Fprintf(s.out, "\nEvery line is in %s", kept)
	}
	fmt.Fprintln(s.out)
}
