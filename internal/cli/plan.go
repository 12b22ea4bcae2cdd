package cli

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bondtrial/internal/plan"
	"bondtrial/internal/plan/trialfile"
	"bondtrial/internal/publish/handout"
)

// planFlags are the flags of plan as they were given.
type planFlags struct {
	example bool
	dir     string
	trials  int
	open    string
	by      string
}

func newPlan() *cobra.Command {
	var f planFlags
	c := &cobra.Command{
		Use:   "plan FILE",
		Short: "Plan a trial: how many, which board, which order, when",
		Long: `Plan reads a trial file, which says what you want to know, what you glue with,
what wood there is and when you have time, and writes one folder for the bench:
the plan to read, a table and JSON, a cut list, labels, sheets for glueing and
breaking, a calendar, and an empty table of readings for "bondtrial answer".

Write a trial file to begin with:   bondtrial plan --new > trial.toml

The same file gives the same plan. Labels carry blind names unless the file says
otherwise; what they stand for is in a sealed key, and opening it is recorded.

Exit status: 0 planned, 2 the file cannot be used or the trial is impossible; the
message says what is short and by how much.`,
		Example: `  bondtrial plan --new > trial.toml
  bondtrial plan trial.toml
  bondtrial plan trial.toml --dir benches-plan
  bondtrial plan --open benches-plan`,
		Args: func(c *cobra.Command, args []string) error {
			if f.example || f.open != "" {
				return cobra.NoArgs(c, args)
			}
			if len(args) == 0 {
				return fmt.Errorf("no trial file was named; \"%s --new\" prints one to begin with", c.CommandPath())
			}
			return cobra.ExactArgs(1)(c, args)
		},
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case f.example:
				_, err := c.OutOrStdout().Write(trialfile.Example())
				return err
			case f.open != "":
				return openKey(c, f.open, f.by)
			}
			return f.run(c, args[0])
		},
	}
	fl := c.Flags()
	fl.SortFlags = false
	fl.BoolVar(&f.example, "new", false, "print a trial file to begin with, in which everything is explained")
	fl.StringVar(&f.dir, "dir", "", "`FOLDER` to write to; without it, the name of the trial file with -plan")
	fl.IntVar(&f.trials, "trials", plan.DefaultTrials, "`NUMBER` of trials to simulate for each number of specimens; more is slower and surer")
	fl.StringVar(&f.open, "open", "", "open the sealed key in this `FOLDER`, which is recorded there")
	fl.StringVar(&f.by, "by", "", "`NAME` of who opens it, for the record")
	return c
}

func (f *planFlags) run(c *cobra.Command, path string) error {
	if f.trials < 50 || f.trials > 100_000 {
		return fmt.Errorf("--trials %d: give from 50 to 100000", f.trials)
	}
	dir := f.dir
	if dir == "" && path == "-" {
		return errors.New("a trial from standard input has no name: name the folder with --dir")
	}
	if dir == "" {
		base := filepath.Base(path)
		dir = base[:len(base)-len(filepath.Ext(base))] + "-plan"
	}
	t, err := readTrial(c, path)
	if err != nil {
		return err
	}
	p := newProgress(c.ErrOrStderr())
	made, err := plan.Make(c.Context(), t, plan.Options{Trials: f.trials, Progress: p.show})
	p.done()
	if err != nil {
		return fmt.Errorf("%s: %w", filepath.Base(path), err)
	}
	files, err := handout.Files(made)
	if err != nil {
		return err
	}
	if err := writeFolder(dir, files); err != nil {
		return err
	}
	out := c.OutOrStdout()
	if _, err := out.Write(files[0].Content); err != nil {
		return err
	}
	fmt.Fprintf(out, "\nWritten to %s:", dir)
	for _, file := range files {
		fmt.Fprintf(out, " %s", file.Name)
	}
	fmt.Fprintln(out)
	return nil
}

func readTrial(c *cobra.Command, path string) (*trialfile.Trial, error) {
	if path == "-" {
		return trialfile.Read(c.InOrStdin(), "standard input")
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return trialfile.Read(file, filepath.Base(path))
}

// writeFolder writes the files of a plan. A folder that holds another plan is left
// as it is, since labels and sheets of it may be in use.
func writeFolder(dir string, files []handout.File) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	for _, f := range files {
		path := filepath.Join(dir, f.Name)
		old, err := os.ReadFile(path)
		if err == nil && string(old) != string(f.Content) {
			return fmt.Errorf("%s is there already, filled in or of another plan: name another folder with --dir", path)
		}
	}
	for _, f := range files {
		err := writeFile(filepath.Join(dir, f.Name), func(w io.Writer) error {
			_, err := w.Write(f.Content)
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// keyPaper is the key on paper, which is there once it is opened.
const keyPaper = "key.pdf"

// openedRecord is the file in which the opening of a key is recorded.
const openedRecord = "key-opened.txt"

// openKey records that the key is opened, and then prints it.
func openKey(c *cobra.Command, dir, by string) error {
	content, err := os.ReadFile(filepath.Join(dir, handout.KeySealed))
	if err != nil {
		return err
	}
	key, err := handout.Open(content)
	if err != nil {
		return fmt.Errorf("%s: %w", filepath.Join(dir, handout.KeySealed), err)
	}
	record, err := os.OpenFile(filepath.Join(dir, openedRecord), os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		return fmt.Errorf("the opening cannot be recorded, and so the key stays sealed: %w", err)
	}
	broken, all := readingsDone(filepath.Join(dir, handout.Readings))
	if by != "" {
		by = fmt.Sprintf(" by %q", by)
	}
	if _, err = fmt.Fprintf(record, "%s: the key was opened%s; %d of %d readings were in %s.\n", time.Now().Format(time.RFC3339), by, broken, all, handout.Readings); err == nil {
		err = record.Sync()
	}
	if cerr := record.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return fmt.Errorf("the opening cannot be recorded, and so the key stays sealed: %w", err)
	}
	for _, k := range key {
		fmt.Fprintf(c.OutOrStdout(), "%-3s %s\n", k.Blind, k.Adhesive)
	}
	if content, err = os.ReadFile(filepath.Join(dir, handout.PlanJSON)); err != nil {
		return err
	}
	if err := writeFile(filepath.Join(dir, keyPaper), func(w io.Writer) error { return handout.KeyPaper(w, key, content) }); err != nil {
		return err
	}
	fmt.Fprintf(c.OutOrStdout(), "\nOn paper, to be folded: %s\n", filepath.Join(dir, keyPaper))
	if broken == 0 {
		fmt.Fprintf(c.OutOrStdout(), "Nothing is broken yet. Open the key again after the last break to have the readings with names.\n")
		return nil
	}
	if err := nameReadings(c, dir, key); err != nil {
		return err
	}
	if broken < all {
		fmt.Fprintf(c.ErrOrStderr(), "opened before the last break (%d of %d readings are in %s); recorded in %s\n", broken, all, handout.Readings, openedRecord)
	}
	return nil
}

// namedReadings is the table of readings with the adhesives' names.
const namedReadings = "readings-named.csv"

// nameReadings writes the readings once more with names in place of letters, and
// says how to answer from them.
func nameReadings(c *cobra.Command, dir string, key []handout.Key) error {
	rows, err := readingRows(filepath.Join(dir, handout.Readings))
	if err != nil {
		return err
	}
	column := slices.Index(rows[0], "adhesive")
	if column < 0 {
		return fmt.Errorf("%s has no column adhesive", filepath.Join(dir, handout.Readings))
	}
	for n, row := range rows[1:] {
		at := slices.IndexFunc(key, func(k handout.Key) bool { return strings.EqualFold(strings.TrimSpace(row[column]), k.Blind) })
		if at < 0 {
			return fmt.Errorf("%s, line %d (%s): %q is no letter of this plan", filepath.Join(dir, handout.Readings), n+2, row[0], row[column])
		}
		row[column] = key[at].Adhesive
	}
	path := filepath.Join(dir, namedReadings)
	if err := writeFile(path, func(w io.Writer) error { return csv.NewWriter(w).WriteAll(rows) }); err != nil {
		return err
	}
	try := []string{invocation(), "answer", path}
	var plan struct {
		Factors []string
		Units   string
	}
	if content, err := os.ReadFile(filepath.Join(dir, handout.PlanJSON)); err == nil && json.Unmarshal(content, &plan) == nil {
		for _, f := range plan.Factors {
			try = append(try, fmt.Sprintf("--factor %q", f))
		}
		for _, k := range key {
			if k.Control {
				try = append(try, fmt.Sprintf("--control %q", k.Adhesive))
			}
		}
		if plan.Units == "us" {
			try = append(try, "--units us")
		}
	}
	fmt.Fprintf(c.OutOrStdout(), "Readings with names: %s\nTry: %s\n", path, strings.Join(try, " "))
	return nil
}

func readingRows(path string) ([][]string, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	content, err := io.ReadAll(file)
	if err != nil {
		return nil, err
	}
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(content, []byte("\xef\xbb\xbf"))))
	header, _, _ := bytes.Cut(content, []byte("\n"))
	for _, sep := range ";\t" { // as a spreadsheet may have saved it
		if bytes.Count(header, []byte(string(sep))) > bytes.Count(header, []byte{byte(r.Comma)}) {
			r.Comma = sep
		}
	}
	rows, err := r.ReadAll()
	if err == nil && len(rows) == 0 {
		err = errors.New("the file is empty")
	}
	if err != nil {
		return nil, fmt.Errorf("%s, as it was saved, cannot be read as a table: %w", path, err)
	}
	return rows, nil
}

// readingsDone counts the lines of a plan's table of readings that have a force or
// a reason to be set aside.
func readingsDone(path string) (done, all int) {
	rows, err := readingRows(path)
	if err != nil {
		return 0, 0
	}
	peak := slices.IndexFunc(rows[0], func(s string) bool { return strings.HasPrefix(s, "peak_") })
	aside := slices.Index(rows[0], "set_aside")
	for _, r := range rows[1:] {
		all++
		if peak >= 0 && r[peak] != "" || aside >= 0 && r[aside] != "" {
			done++
		}
	}
	return done, all
}
