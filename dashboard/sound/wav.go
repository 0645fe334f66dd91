package sound

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// errNotRegular is said of a pipe, a device or a folder: a file that is
// renamed into place cannot stand there.
var errNotRegular = errors.New("not a regular file")

// partSamples is the silence between two patterns of a WAV file: a second, so
// that they are told apart.
const partSamples = Rate

// WriteWAV writes the patterns, high, medium and low with a second between,
// to a WAV file: 16 bits, one channel, Rate samples a second. The file is
// there whole or not at all; a regular file of that name is replaced.
func WriteWAV(path string) error {
	if err := writeWhole(path, appendWAV(nil, demonstration())); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return nil
}

// demonstration is what WriteWAV writes.
func demonstration() []int16 {
	var out []int16
	for i, p := range patterns {
		if i > 0 {
			out = append(out, make([]int16, partSamples)...)
		}
		out = append(out, bursts()[p.Priority]...)
	}
	return out
}

// appendWAV appends a RIFF file with one chunk of format and one of samples.
func appendWAV(dst []byte, samples []int16) []byte {
	const (
		formatSize = 16
		width      = 2 // bytes a sample
		pcm, mono  = 1, 1
	)
	le := binary.LittleEndian
	data := len(samples) * width
	dst = append(dst, "RIFF"...)
	dst = le.AppendUint32(dst, uint32(4+8+formatSize+8+data))
	dst = append(dst, "WAVEfmt "...)
	dst = le.AppendUint32(dst, formatSize)
	dst = le.AppendUint16(dst, pcm)
	dst = le.AppendUint16(dst, mono)
	dst = le.AppendUint32(dst, Rate)
	dst = le.AppendUint32(dst, Rate*width*mono)
	dst = le.AppendUint16(dst, width*mono)
	dst = le.AppendUint16(dst, 8*width)
	dst = append(dst, "data"...)
	dst = le.AppendUint32(dst, uint32(data))
	for _, s := range samples {
		dst = le.AppendUint16(dst, uint16(s))
	}
	return dst
}

// writeWhole writes beside the target and renames, so that nobody ever meets
// half a file. Errors come without the path: WriteWAV names it.
func writeWhole(path string, content []byte) (err error) {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real // replace what a link points to, not the link
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return errNotRegular
	}
	temp := fmt.Sprintf("%s.%d.tmp", path, os.Getpid())
	f, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return bare(err)
	}
	defer func() {
		if err != nil {
			os.Remove(temp)
		}
	}()
	if _, err = f.Write(content); err == nil {
		err = f.Sync()
	}
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err == nil {
		err = os.Rename(temp, path)
	}
	return bare(err)
}

// bare takes operation and path off an error of the file system; they speak
// of the temporary name, which means nothing to a person.
func bare(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		return l.Err
	}
	return err
}
