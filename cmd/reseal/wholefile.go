package main

import (
	"fmt"
	"os"
	"path/filepath"
)

// wholeFile is a file that appears under its name only when it is complete.
type wholeFile struct {
	*os.File
	path string
	kept bool
}

// newWholeFile begins a file that keep will put at path.
func newWholeFile(path string) (*wholeFile, error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return nil, fmt.Errorf("%s cannot be written: %w", path, err)
	}
	return &wholeFile{File: f, path: path}, nil
}

// keep puts the file in place.
func (f *wholeFile) keep() error {
	if err := f.Close(); err != nil {
		return fmt.Errorf("%s: %w", f.path, err)
	}
	if err := os.Chmod(f.Name(), 0o644); err != nil {
		return err
	}
	f.kept = true
	return os.Rename(f.Name(), f.path)
}

// discard removes the file unless it was kept.
func (f *wholeFile) discard() {
	if !f.kept {
		f.Close()
		os.Remove(f.Name())
	}
}
