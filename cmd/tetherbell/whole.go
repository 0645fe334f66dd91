package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"tetherbell/decode/craft"
	"tetherbell/link"
)

// maxWhole bounds files that are read at once; none that is meant is near it.
const maxWhole = 1 << 20

// readWhole reads a small file. A pipe that stays silent is left with ctx.
func readWhole(ctx context.Context, what, path string) ([]byte, error) {
	f, err := openNamed(ctx, what, path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxWhole))
	if err != nil {
		return nil, readError(ctx, what, path, err)
	}
	return text, damaged(path, f)
}

// openNamed opens an input that is no recording: what it is stands in the error.
func openNamed(ctx context.Context, what, path string) (*input, error) {
	f, err := openInput(ctx, path)
	var open *link.OpenError
	if errors.As(err, &open) {
		open.What = what
	}
	return f, err
}

// An input is a file or a pipe that ctx closes.
type input struct {
	*link.Recording
	stop func() bool
}

// openInput opens a file to read; the end of ctx releases its reader.
func openInput(ctx context.Context, path string) (*input, error) {
	f, err := link.OpenRecording(path)
	if err != nil {
		return nil, err
	}
	return &input{f, context.AfterFunc(ctx, func() { f.Close() })}, nil
}

// Close closes it, unless ctx did.
func (i *input) Close() error {
	i.stop()
	return i.Recording.Close()
}

// openFile opens a recording that must be read more than once.
func openFile(ctx context.Context, path string) (*input, error) {
	f, err := openInput(ctx, path)
	if err == nil && f.Pipe() {
		f.Close()
		err = hinted(fmt.Errorf("read recording %s: it is a pipe, which can be read only once", path),
			"keep it in a file first, or judge it with: tetherbell check "+path)
		return nil, err
	}
	return f, err
}

// damaged is the error of a compressed file that could not be read whole, for
// those who need all of it; nil when nothing is damaged, or r is not compressed.
func damaged(path string, r any) error {
	d, ok := r.(interface{ Damage() error })
	if !ok || d.Damage() == nil {
		return nil
	}
	return hinted(fmt.Errorf("read %s: %w", path, d.Damage()), "is there another copy of it? what can be had is judged by: tetherbell check "+path)
}

// tailOf reads the end of a recording, at most so many bytes of it, and tells how
// long it is. ok is false where that is not known, as of a compressed one without
// a table: its end is far. The reader is anywhere afterwards.
func tailOf(f io.ReadSeeker, most int64) (text []byte, length int64, ok bool, err error) {
	length, err = f.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, 0, false, nil
	}
	if _, err := f.Seek(max(0, length-most), io.SeekStart); err != nil {
		return nil, length, false, err
	}
	text, err = io.ReadAll(io.LimitReader(f, most))
	return text, length, err == nil, err
}

// errInterrupted is the end that the person asked for.
var errInterrupted = errors.New("interrupted")

func readError(ctx context.Context, what, path string, err error) error {
	if ctx.Err() != nil {
		err = errInterrupted
	}
	return fmt.Errorf("read %s %s: %w", what, path, err)
}

// loadCraft reads a craft file, and the baseline that is kept beside it.
func loadCraft(ctx context.Context, path string) (craft.Craft, error) {
	if path == "" {
		return craft.Craft{}, nil
	}
	text, err := readWhole(ctx, "craft file", path)
	if err != nil {
		return craft.Craft{}, err
	}
	c, err := craft.Parse(text)
	if err != nil {
		var field *craft.FieldError
		if errors.As(err, &field) {
			field.File = path
		}
		return c, hinted(err, craftExample)
	}
	c.Baseline, err = readBaseline(ctx, craft.BaselinePath(path))
	return c, err
}

const craftExample = "an example with every key in it is printed by: tetherbell craft --example"
