package main

import (
	"context"
	"errors"
	"fmt"
	"hash/crc32"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode"

	"tetherbell/decode/craft"
)

// mostKnown bounds, in bytes, the baselines that are kept by name and loaded:
// they stand in the first line of a recording, which has its limit.
const mostKnown = 40 << 10

// readBaseline reads a baseline file; none is an empty one.
func readBaseline(ctx context.Context, path string) (craft.Baseline, error) {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return craft.Baseline{}, nil
	}
	text, err := readWhole(ctx, "baseline", path)
	if err != nil {
		return craft.Baseline{}, err
	}
	b, err := craft.ParseBaseline(text)
	if field := new(craft.FieldError); errors.As(err, &field) {
		field.File = path
	}
	return b, err
}

// writeBaseline writes a baseline file whole or not at all.
func writeBaseline(path string, b craft.Baseline) error {
	text, err := b.Text()
	if err != nil {
		return err
	}
	if _, err := craft.ParseBaseline(text); err != nil {
		return fmt.Errorf("keep baseline: %w", err) // what could not be read again is not written
	}
	if err := writeWhole(path, text); err != nil {
		return hinted(fmt.Errorf("keep baseline: %w", err), "may you write into the folder "+filepath.Dir(path)+"?")
	}
	return nil
}

// writeWhole puts a file in the place of another in one step.
func writeWhole(path string, text []byte) (err error) {
	if to, err := filepath.EvalSymlinks(path); err == nil {
		path = to // the file that is meant, not the link to it
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".tetherbell-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if _, err = f.Write(text); err != nil {
		return err
	}
	if err = f.Chmod(0o644); err != nil && !errors.Is(err, errors.ErrUnsupported) {
		return err
	}
	if err = f.Sync(); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// baselineDir is where baselines are kept by the craft's name.
func baselineDir() (string, error) {
	dir, err := os.UserConfigDir()
	if err != nil {
		return "", fmt.Errorf("no folder for your own settings: %w", err)
	}
	return filepath.Join(dir, "tetherbell", "baselines"), nil
}

// namedBaseline is the file of the craft of a name; its folder is made.
func namedBaseline(name string) (string, error) {
	dir, err := baselineDir()
	if err != nil {
		return "", err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", fmt.Errorf("make a folder for baselines: %w", err)
	}
	return filepath.Join(dir, fileName(name)+".toml"), nil
}

// fileName makes a file's name of a craft's: what no file system bears is
// replaced, and a checksum keeps apart what becomes alike.
func fileName(name string) string {
	safe := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune(" -_", r) {
			return r
		}
		return '_'
	}, name)
	if safe == name && strings.TrimSpace(safe) == safe && !reserved[strings.ToLower(safe)] {
		return safe
	}
	return fmt.Sprintf("%s-%08x", strings.TrimSpace(safe), crc32.ChecksumIEEE([]byte(name)))
}

// reserved are names that are devices on one of the systems.
var reserved = map[string]bool{
	"con": true, "prn": true, "aux": true, "nul": true,
	"com1": true, "com2": true, "com3": true, "com4": true, "com5": true, "com6": true, "com7": true, "com8": true, "com9": true,
	"lpt1": true, "lpt2": true, "lpt3": true, "lpt4": true, "lpt5": true, "lpt6": true, "lpt7": true, "lpt8": true, "lpt9": true,
}

// baselines are those kept by name, for sessions without a craft file. What
// cannot be read is said, once, and does not keep the others away.
func (c *console) baselines(ctx context.Context) []craft.Baseline {
	if c.known != nil {
		return *c.known
	}
	c.known = new([]craft.Baseline)
	dir, err := baselineDir()
	if err != nil {
		return nil
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil // nothing was accepted yet
	}
	entries = slices.DeleteFunc(entries, func(e fs.DirEntry) bool { return e.IsDir() || filepath.Ext(e.Name()) != ".toml" })
	slices.SortStableFunc(entries, func(a, b fs.DirEntry) int { return written(b).Compare(written(a)) })
	size := 0
	for i, e := range entries {
		b, err := readBaseline(ctx, filepath.Join(dir, e.Name()))
		if err != nil {
			c.note("%v: judged without it", err)
			continue
		}
		if b.Name == "" || len(b.Sessions) == 0 {
			continue
		}
		text, err := b.Text()
		if size += len(text); err != nil || size > mostKnown {
			c.note("%d baselines in %s are too many to load: craft that were not accepted lately are judged without", len(entries)-i, dir)
			break
		}
		*c.known = append(*c.known, b)
	}
	return *c.known
}

// written is when a file was written last.
func written(e fs.DirEntry) time.Time {
	info, err := e.Info()
	if err != nil {
		return time.Time{}
	}
	return info.ModTime()
}
