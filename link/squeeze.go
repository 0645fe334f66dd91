package link

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	seekable "github.com/SaveTheRbtz/zstd-seekable-format-go/pkg"
	"github.com/klauspost/compress/zstd"
)

// ErrNotClosed says that a recording was not written to its end: it is torn,
// or still being written.
var ErrNotClosed = errors.New("it has no #end: it is torn, or still being written")

// A Squeezed tells what became of a recording that was compressed.
type Squeezed struct {
	Path        string // of the compressed file
	Text, Bytes int64  // length of the recording, and of the compressed file
}

// staleAfter is the age of a half-made file whose maker is dead: one that
// works on it writes every few milliseconds.
const staleAfter = 10 * time.Minute

// Squeeze makes NAME.bell.zst of NAME.bell, in the seekable format of
// Zstandard: frames of a million bytes of text, and a table of them at the
// end. The recording is removed only when the compressed file has been read
// back, is the same byte for byte, and is safe on the disk under its name. A
// recording without its #end is refused with [ErrNotClosed]; no file is ever
// overwritten.
//
// A run that was cut off leaves the recording, and is made good by the next.
func Squeeze(ctx context.Context, path string) (Squeezed, error) {
	s, err := squeeze(ctx, path)
	if err != nil {
		return s, fmt.Errorf("compress recording %s: %w", path, bare(err))
	}
	return s, nil
}

// bare leaves out of what the system says the path, which is said already.
func bare(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

func squeeze(ctx context.Context, path string) (s Squeezed, err error) {
	s.Path = path + filepath.Ext(SqueezedExt)
	src, info, err := openClosed(path)
	if err != nil {
		return s, err
	}
	defer src.Close()
	s.Text = info.Size()
	half := s.Path + ".part"
	switch there, err := os.Lstat(s.Path); {
	case err == nil && there.Size() > 0: // from a run that was cut off at its last step, or of another
		if err := sameText(ctx, s.Path, src); err != nil {
			return s, fmt.Errorf("%s is there already, and holds something else", filepath.Base(s.Path))
		}
	default:
		own, err := writeHalf(ctx, half, src, info)
		if err != nil {
			return s, err
		}
		if err = sameText(ctx, half, src); err == nil {
			err = giveName(half, s.Path, own)
		}
		if err != nil {
			if is, errStat := os.Lstat(half); errStat == nil && os.SameFile(is, own) {
				_ = os.Remove(half)
			}
			return s, err
		}
		_ = os.Chtimes(s.Path, time.Time{}, info.ModTime()) // it tells the day where no header does
	}
	syncFolder(filepath.Dir(path))
	if there, err := os.Stat(s.Path); err == nil {
		s.Bytes = there.Size()
	}
	if err := unchanged(path, info); err != nil {
		return s, err
	}
	_ = src.Close() // or some systems do not remove it
	if err := os.Remove(path); err != nil {
		return s, fmt.Errorf("remove what was compressed: %w", bare(err))
	}
	syncFolder(filepath.Dir(path))
	return s, nil
}

// openClosed opens a plain recording that has its end.
func openClosed(path string) (*os.File, fs.FileInfo, error) {
	r, err := OpenRecording(path)
	if err != nil {
		var open *OpenError
		if errors.As(err, &open) {
			open.Name = filepath.Base(path)
		}
		return nil, nil, err
	}
	info, err := r.f.Stat()
	switch {
	case err != nil:
	case r.Squeezed():
		err = errors.New("it is compressed already")
	case !info.Mode().IsRegular():
		err = errors.New("it is no file")
	case !strings.HasSuffix(path, Ext):
		err = errors.New("its name does not end in " + Ext)
	case !endsClosed(r.f, info.Size()):
		err = ErrNotClosed
	}
	if err != nil {
		r.Close()
		return nil, nil, err
	}
	return r.f, info, nil
}

// endsClosed reports whether the last line of a file is its #end.
func endsClosed(f io.ReaderAt, size int64) bool {
	tail := make([]byte, min(size, MaxLine+16))
	if _, err := f.ReadAt(tail, size-int64(len(tail))); err != nil && !errors.Is(err, io.EOF) {
		return false
	}
	body, whole := bytes.CutSuffix(tail, []byte{'\n'})
	if !whole {
		return false
	}
	var it Item
	ParseItem(body[bytes.LastIndexByte(body, '\n')+1:], &it)
	return it.Kind == End
}

// writeHalf writes the compressed text to a file of its own and forces it to
// the disk. It returns which file that is: another run may take its name for
// one that is left over.
func writeHalf(ctx context.Context, path string, src io.ReaderAt, info fs.FileInfo) (own fs.FileInfo, err error) {
	if there, err := os.Lstat(path); err == nil && time.Since(there.ModTime()) > staleAfter {
		_ = os.Remove(path)
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, info.Mode().Perm())
	if errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("%s is there: somebody else is compressing it, or was cut off less than %.0f minutes ago", filepath.Base(path), staleAfter.Minutes())
	}
	if err != nil {
		return nil, err
	}
	defer func() {
		if err = errors.Join(err, f.Close()); err != nil {
			_ = os.Remove(path)
		}
	}()
	if own, err = f.Stat(); err != nil {
		return nil, err
	}
	if err := squeezeText(ctx, f, io.NewSectionReader(src, 0, info.Size())); err != nil {
		return nil, err
	}
	return own, f.Sync()
}

// squeezeText compresses a text, a frame at a time: a monitor that runs on the
// same machine needs the other processors.
func squeezeText(ctx context.Context, dst io.Writer, src io.Reader) error {
	enc, err := zstd.NewWriter(nil, zstd.WithEncoderConcurrency(1), zstd.WithEncoderLevel(zstd.SpeedDefault))
	if err != nil {
		return err
	}
	defer enc.Close()
	w, err := seekable.NewWriter(dst, enc)
	if err != nil {
		return err
	}
	buf := make([]byte, frameText)
	for {
		n, err := io.ReadFull(src, buf)
		if n > 0 {
			if _, err := w.Write(buf[:n]); err != nil {
				return err
			}
		}
		switch {
		case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
			return w.Close()
		case err != nil:
			return err
		case ctx.Err() != nil:
			return ctx.Err()
		}
	}
}

// sameText reads a compressed file and compares it with a recording, byte for
// byte.
func sameText(ctx context.Context, path string, want *os.File) error {
	if _, err := want.Seek(0, io.SeekStart); err != nil {
		return err
	}
	r, err := OpenRecording(path)
	if err != nil {
		return err
	}
	defer r.Close()
	a, b := make([]byte, frameText), make([]byte, frameText)
	for ctx.Err() == nil {
		n, errN := io.ReadFull(r, a)
		m, errM := io.ReadFull(want, b)
		switch {
		case !bytes.Equal(a[:n], b[:m]) || r.Damage() != nil || !r.Squeezed():
			return errors.New("what was written reads back as something else: is the disk sound?")
		case errN != nil && errM != nil:
			return nil
		case errN != nil || errM != nil:
			return errors.New("what was written reads back in another length: is the disk sound?")
		}
	}
	return ctx.Err()
}

// errNotOurs says that two runs got into each other's way.
var errNotOurs = errors.New("somebody else is compressing it: the recording is kept")

// giveName renames a file, and overwrites none: the name is taken first by an
// empty file; an empty one that is there is left over from a run that was cut
// off. What has the name in the end must be the very file that was read back.
func giveName(half, path string, own fs.FileInfo) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err == nil {
		err = f.Close()
	} else if there, errStat := os.Lstat(path); errStat == nil && there.Mode().IsRegular() && there.Size() == 0 {
		err = nil
	}
	if err != nil {
		return err
	}
	if is, err := os.Lstat(half); err != nil || !os.SameFile(is, own) {
		return errNotOurs
	}
	if err := os.Rename(half, path); err != nil {
		return err
	}
	if is, err := os.Lstat(path); err != nil || !os.SameFile(is, own) {
		return errNotOurs
	}
	return nil
}

// unchanged refuses a recording that somebody wrote to meanwhile.
func unchanged(path string, was fs.FileInfo) error {
	is, err := os.Stat(path)
	if err != nil {
		return err
	}
	if !os.SameFile(was, is) || is.Size() != was.Size() || !is.ModTime().Equal(was.ModTime()) {
		return errors.New("it was changed while it was compressed: both files are kept")
	}
	return nil
}
