package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"tetherbell/simulator/drill"
)

// attemptsPath is where attempts are kept unless another file is named: beside
// the baselines.
func attemptsPath() (string, error) {
	dir, err := os.UserConfigDir()
	if err != nil {
		return "", hinted(fmt.Errorf("no folder for your own settings: %w", err), "name a file: --attempts FILE")
	}
	return filepath.Join(dir, "tetherbell", "attempts.jsonl"), nil
}

// keepAttempt adds a row to the file of attempts, which only ever grows: in one
// write of one line, which is on the disk before it returns. After a line that a
// fault has torn it begins a new one, so that the next is whole.
func keepAttempt(path string, row *drill.Row) (err error) {
	line, err := row.Append(nil)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = hinted(fmt.Errorf("keep attempt: %w", err), "may you write to "+path+"? name another file: --attempts FILE")
		}
	}()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_APPEND|os.O_RDWR, 0o644)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if torn, err := isTorn(f); err != nil {
		return err
	} else if torn {
		line = append([]byte{'\n'}, line...)
	}
	if _, err := f.Write(line); err != nil {
		return err
	}
	return f.Sync()
}

// isTorn reports whether a file's last line has no end.
func isTorn(f *os.File) (bool, error) {
	info, err := f.Stat()
	if err != nil || info.Size() == 0 || !info.Mode().IsRegular() {
		return false, err
	}
	var last [1]byte
	if _, err := f.ReadAt(last[:], info.Size()-1); err != nil && !errors.Is(err, io.EOF) {
		return false, err
	}
	return last[0] != '\n', nil
}

// readAttempts reads what was kept; no file is no attempts.
func readAttempts(path string) (rows []drill.Row, bad int, err error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, 0, nil
	}
	if err != nil {
		return nil, 0, fmt.Errorf("open attempts: %w", err)
	}
	defer f.Close()
	rows, bad, err = drill.Read(f)
	if err != nil {
		err = fmt.Errorf("%s: %w", path, err)
	}
	return rows, bad, err
}
