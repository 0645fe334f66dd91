package table

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// A file is one that is being written.
type file interface {
	io.Writer
	Sync() error
	Close() error
	Name() string
}

// A shelf holds the files of one session until all are whole.
type shelf struct {
	place Place
	files []shelved
	made  []string // folders, outermost first
	// create makes a new file in a folder; tests put a full disk here.
	create func(dir, pattern string) (file, error)
}

type shelved struct {
	file
	name string // its path in the place
	open bool
}

func newShelf(p Place) *shelf {
	return &shelf{place: p, create: func(dir, pattern string) (file, error) { return os.CreateTemp(dir, pattern) }}
}

// add begins a file. What goes wrong with it names it as it will be called.
func (s *shelf) add(name string) (io.Writer, error) {
	path := s.place.path(name)
	if err := s.mkdir(filepath.Dir(path)); err != nil {
		return nil, fmt.Errorf("make folder: %w", err)
	}
	sweep(path)
	// A name that no reader of tables takes for one.
	f, err := s.create(filepath.Dir(path), "."+filepath.Base(path)+".*.tmp")
	if err != nil {
		return nil, fmt.Errorf("write %s: %w", path, bare(err))
	}
	s.files = append(s.files, shelved{file: f, name: name, open: true})
	return named{f, path}, nil
}

// deadAfter is the age of a half-written file whose writer is dead: a table of
// an hour is written within minutes.
const deadAfter = time.Hour

// sweep removes what killed runs left of a table. They lie hidden, and nobody
// else would.
func sweep(path string) {
	left, err := filepath.Glob(filepath.Join(escapeGlob(filepath.Dir(path)), "."+escapeGlob(filepath.Base(path))+".*.tmp"))
	if err != nil {
		return
	}
	for _, f := range left {
		if is, err := os.Lstat(f); err == nil && is.Mode().IsRegular() && time.Since(is.ModTime()) > deadAfter {
			_ = os.Remove(f)
		}
	}
}

// escapeGlob has a name stand for itself in a pattern.
func escapeGlob(name string) string {
	return strings.NewReplacer("[", "[[]", "*", "[*]", "?", "[?]").Replace(name)
}

// mkdir makes a folder and remembers which were not there.
func (s *shelf) mkdir(dir string) error {
	var missing []string
	for d := dir; ; d = filepath.Dir(d) {
		if _, err := os.Stat(d); !errors.Is(err, fs.ErrNotExist) {
			break
		}
		missing = append(missing, d)
	}
	slices.Reverse(missing)
	s.made = append(s.made, missing...)
	return os.MkdirAll(dir, 0o755)
}

// A named writer tells which file it was that could not be written.
type named struct {
	file
	path string
}

func (n named) Write(p []byte) (int, error) {
	k, err := n.file.Write(p)
	if err != nil {
		err = fmt.Errorf("write %s: %w", n.path, bare(err))
	}
	return k, err
}

// bare takes off the name under which a file is being written.
func bare(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	return err
}

// commit moves all files into their places, once all of them are on disk.
func (s *shelf) commit() error {
	for i := range s.files {
		f := &s.files[i]
		err := errors.Join(f.Sync(), chmod(f.file), f.Close())
		f.open = false
		if err != nil {
			return fmt.Errorf("write %s: %w", s.place.path(f.name), bare(err))
		}
	}
	for len(s.files) > 0 {
		f := &s.files[0]
		if err := os.Rename(f.Name(), s.place.path(f.name)); err != nil {
			return fmt.Errorf("put %s in its place: %w", s.place.path(f.name), err)
		}
		s.files = s.files[1:]
	}
	s.made = nil
	return nil
}

// chmod lets others read what was made for its maker alone.
func chmod(f file) error {
	real, ok := f.(*os.File)
	if !ok {
		return nil
	}
	if err := real.Chmod(0o644); err != nil && !errors.Is(err, errors.ErrUnsupported) {
		return err
	}
	return nil
}

// drop throws away what is not in its place yet, and the folders made for it.
func (s *shelf) drop() {
	for i := range s.files {
		if s.files[i].open {
			_ = s.files[i].Close()
		}
		_ = os.Remove(s.files[i].Name())
	}
	s.files = nil
	for _, dir := range slices.Backward(s.made) {
		_ = os.Remove(dir) // stays where something lies in it
	}
	s.made = nil
}
