package link

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

const (
	// Ext ends the name of a recording.
	Ext = ".bell"
	// SqueezedExt ends the name of a recording that was compressed.
	SqueezedExt = Ext + ".zst"
)

// nameTries bounds how many names are taken already. A name is a millisecond,
// so whoever meets so many of them meets something else than recordings.
const nameTries = 1000

// Name returns the name of a recording that starts at a time: the second in
// UTC, and the millisecond. In the order of their bytes names are in the order
// of time; the older form without the millisecond, which a number could follow
// as in 20261125T064111Z-2.bell, comes before all others of its second.
func Name(start time.Time) string {
	start = start.UTC()
	return fmt.Sprintf("%s_%03d%s", start.Format("20060102T150405Z"), start.Nanosecond()/int(time.Millisecond), Ext)
}

// Create makes a new recording in a folder, which is made when it is not
// there, and starts to write it. The name is the start ([Name]), or the next
// millisecond that no recording has; a file that is already there is never
// touched.
func Create(dir string, start time.Time, h SessionHeader) (*Recorder, error) {
	if _, err := headerText(h); err != nil { // before there is a file
		return nil, err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("make folder for recordings: %w", err)
	}
	if h.Start == "" {
		h.Start = start.UTC().Format(time.RFC3339)
	}
	f, path, err := newFile(dir, start)
	if err != nil {
		return nil, err
	}
	r := &Recorder{f: f, path: path, wake: make(chan struct{}, 1), done: make(chan struct{})}
	r.again = func(name string, at int64) (*part, error) { return continuation(dir, filepath.Base(name), at, h) }
	if err := r.start(h); err != nil {
		return nil, err
	}
	return r, nil
}

// newFile makes a file under a name that neither a recording nor a compressed
// one has.
func newFile(dir string, start time.Time) (*os.File, string, error) {
	for i := range nameTries {
		path := filepath.Join(dir, Name(start.Add(time.Duration(i)*time.Millisecond)))
		f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY|os.O_APPEND, 0o644)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return nil, "", fmt.Errorf("make recording: %w", err)
		}
		// Looked for now and not before: whoever comes later sees our name.
		if _, err := os.Lstat(path + filepath.Ext(SqueezedExt)); err == nil {
			_ = f.Close()
			_ = os.Remove(path)
			continue
		}
		syncNames(dir)
		return f, path, nil
	}
	return nil, "", fmt.Errorf("make recording in %s: %d names from %s on are taken", dir, nameTries, Name(start))
}

// A part is a file that goes on where another was lost.
type part struct {
	f    File
	path string
	head []byte // its first line, still to be written
}

// continuation makes the file after a lost one. A folder that is gone is not
// made again: in its place another disk may come back.
func continuation(dir, name string, at int64, h SessionHeader) (*part, error) {
	now := time.Now()
	h.Start = now.UTC().Format(time.RFC3339)
	h.Continues, h.ContinuesAt = name, at
	text, err := json.Marshal(h)
	if err != nil {
		return nil, fmt.Errorf("write recording's header: %w", err)
	}
	f, path, err := newFile(dir, now)
	if err != nil {
		return nil, err
	}
	return &part{f: f, path: path, head: append(append([]byte("#session "), text...), '\n')}, nil
}

// drop takes away a part that could not be begun.
func (p *part) drop() {
	_ = p.f.Close()
	_ = os.Remove(p.path)
}
