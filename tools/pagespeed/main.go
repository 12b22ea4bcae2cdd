// Command pagespeed measures how long the pages of a full logbook take and how fast
// breaks are recorded through them. With -write it puts the figures into
// docs/measured.md.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"runtime/pprof"
	"strings"

	"bondtrial/tools/measured"
)

// What is wanted: a page is there before anybody notices waiting for it, and breaks
// are recorded faster than any bench can break.
const (
	wantMS     = 50  // 95 % of the requests of a page, milliseconds
	wantBreaks = 200 // a second, where the disk allows
)

func main() {
	write := flag.Bool("write", false, "put the figures into docs/measured.md")
	trials := flag.Int("trials", 200, "how many finished trials the logbook has")
	requests := flag.Int("requests", 40, "how many requests of each page each client sends")
	only := flag.String("only", "", "measure only pages whose address contains this")
	profile := flag.String("cpuprofile", "", "write a profile of the processor's work to this file")
	dir := flag.String("dir", "", "folder for the logbook; empty: a temporary one")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, settings{*write, *trials, *requests, *only, *profile, *dir}); err != nil {
		fmt.Fprintln(os.Stderr, "pagespeed:", err)
		os.Exit(1)
	}
}

type settings struct {
	write            bool
	trials, requests int
	only             string
	profile, dir     string
}

func run(ctx context.Context, s settings) error {
	busy := load()
	dir, err := os.MkdirTemp(s.dir, "pagespeed-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	f, err := fill(ctx, dir, s.trials, 8)
	if err != nil {
		return err
	}
	defer f.log.Close()
	size, err := os.Stat(f.log.Path())
	if err != nil {
		return err
	}
	var b strings.Builder
	out := io.MultiWriter(os.Stdout, &b)
	last, _, err := f.log.Last(ctx)
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "\n%s on %s/%s, %d processors%s. A logbook of %d trials with 100 specimens each, all planned and glued and those of %d trials broken with\na trace each: %d entries, %.0f MB, filled in %.0f s.\n",
		runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.GOMAXPROCS(0), busy, len(f.finished)+len(f.fresh), len(f.finished), last.Seq, float64(size.Size())/1e6, f.took.Seconds())
	h, err := serve(f)
	if err != nil {
		return err
	}
	defer h.close()
	if s.profile != "" {
		file, err := os.Create(s.profile)
		if err != nil {
			return err
		}
		defer file.Close()
		if err := pprof.StartCPUProfile(file); err != nil {
			return err
		}
		defer pprof.StopCPUProfile()
	}
	if err := h.pages(ctx, out, s); err != nil {
		return err
	}
	if s.only == "" {
		if err := h.breaks(ctx, out); err != nil {
			return err
		}
	}
	if s.write {
		return measured.Replace("docs/measured.md", "pages", b.String())
	}
	return nil
}

// load says how busy the machine was with other things before, where the system
// tells.
func load() string {
	b, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return ""
	}
	minute, _, _ := strings.Cut(string(b), " ")
	return " with a load of " + minute + " from other work"
}
