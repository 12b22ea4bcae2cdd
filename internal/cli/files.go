package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// writeFile writes a file whole or not at all. A link is followed; what is no
// ordinary file, such as a device, is written to as it is.
func writeFile(path string, write func(io.Writer) error) error {
	if err := replace(path, write); err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	return nil
}

func replace(path string, write func(io.Writer) error) error {
	mode := fs.FileMode(0o644)
	switch info, err := os.Stat(path); {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return err
	case !info.Mode().IsRegular():
		return writeInto(path, write)
	default:
		mode = info.Mode().Perm()
		if path, err = filepath.EvalSymlinks(path); err != nil {
			return err
		}
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".bondtrial-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	err = write(f)
	if err == nil {
		err = f.Chmod(mode)
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	return err
}

func writeInto(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	return errors.Join(write(f), f.Close())
}

// canWrite returns an error where a file could not be written, before long work is
// done for it.
func canWrite(path string) error {
	if info, err := os.Stat(path); err == nil {
		if info.IsDir() {
			return fmt.Errorf("%s is a folder: name a file", path)
		}
		if !info.Mode().IsRegular() {
			return nil
		}
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".bondtrial-*")
	if err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	return errors.Join(f.Close(), os.Remove(f.Name()))
}

// samePath reports whether two names are of one file.
func samePath(a, b string) bool {
	ia, erra := os.Stat(a)
	ib, errb := os.Stat(b)
	return erra == nil && errb == nil && os.SameFile(ia, ib)
}
