//go:build unix

package link

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// released is how long a read may take to come back: wide, for a machine that
// stands still meanwhile.
const released = time.Minute

// openPatient opens a pipe whose writer comes however late the machine lets it:
// within two seconds is what the program gives it.
func openPatient(t *testing.T, path string) *Recording {
	t.Helper()
	r, err := OpenRecording(path)
	require.NoError(t, err)
	r.deadline = time.Now().Add(released)
	return r
}

func newPipe(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "pipe")
	require.NoError(t, unix.Mkfifo(path, 0o600))
	return path
}

// A pipe without a writer does not hold up its opening, and its reading ends
// by Close, or by itself.
func TestOpenPipeWithoutWriter(t *testing.T) {
	t.Parallel()
	r := openPatient(t, newPipe(t))
	assert.True(t, r.Pipe())
	done := make(chan error, 1)
	go func() {
		_, err := r.Read(make([]byte, 10))
		done <- err
	}()
	select {
	case err := <-done:
		t.Fatalf("ended by itself at once: %v", err)
	case <-time.After(100 * time.Millisecond):
	}
	require.NoError(t, r.Close())
	select {
	case err := <-done:
		assert.ErrorIs(t, err, os.ErrClosed)
	case <-time.After(released):
		t.Fatal("Close does not release a read")
	}

	r, err := OpenRecording(newPipe(t))
	require.NoError(t, err)
	defer r.Close()
	_, err = r.Read(make([]byte, 10))
	assert.Equal(t, io.EOF, err)
}

// A writer that comes a little later, and then takes its time, is read to its
// end; one that stays without a word is left by Close.
func TestReadPipe(t *testing.T) {
	t.Parallel()
	path := newPipe(t)
	r := openPatient(t, path)
	go func() {
		time.Sleep(60 * time.Millisecond)
		w, err := os.OpenFile(path, os.O_WRONLY, 0)
		if err != nil {
			return
		}
		_, _ = w.WriteString("one\n")
		time.Sleep(60 * time.Millisecond)
		_, _ = w.WriteString("two\n")
		w.Close()
	}()
	got, err := io.ReadAll(r)
	require.NoError(t, err)
	assert.Equal(t, "one\ntwo\n", string(got))
	require.NoError(t, r.Close())

	r = openPatient(t, path)
	w, err := os.OpenFile(path, os.O_WRONLY, 0)
	require.NoError(t, err)
	defer w.Close()
	done := make(chan error, 1)
	go func() {
		_, err := r.Read(make([]byte, 10))
		done <- err
	}()
	time.Sleep(60 * time.Millisecond)
	require.NoError(t, r.Close())
	select {
	case err := <-done:
		assert.ErrorIs(t, err, os.ErrClosed)
	case <-time.After(released):
		t.Fatal("Close does not release a read")
	}
}

// A compressed recording that comes through a pipe is read too, and what
// begins like one is given as it is. A growing file it cannot be.
func TestOpenCompressedPipe(t *testing.T) {
	t.Parallel()
	text := longText(300_000)
	for name, c := range map[string]struct{ sent, want []byte }{
		"compressed":     {squeezedBytes(t, text), text},
		"plain":          {text, text},
		"begins alike":   {[]byte("(\xb5/ but no more"), []byte("(\xb5/ but no more")},
		"shorter":        {[]byte("(\xb5"), []byte("(\xb5")},
		"frame to skip":  {append([]byte("\x51\x2a\x4d\x18\x02\x00\x00\x00ab"), squeezedBytes(t, text)...), text},
		"one byte alone": {[]byte("P"), []byte("P")},
	} {
		t.Run(name, func(t *testing.T) {
			path := newPipe(t)
			r := openPatient(t, path)
			defer r.Close()
			go func() {
				w, err := os.OpenFile(path, os.O_WRONLY, 0)
				if err != nil {
					return
				}
				defer w.Close()
				_, _ = w.Write(c.sent[:1])
				time.Sleep(20 * time.Millisecond)
				_, _ = w.Write(c.sent[1:])
			}()
			got, err := io.ReadAll(r)
			require.NoError(t, err)
			assert.True(t, bytes.Equal(c.want, got), "%d bytes", len(got))
			assert.NoError(t, r.Damage())
		})
	}
	path := filepath.Join(t.TempDir(), "x.bell.zst")
	require.NoError(t, os.WriteFile(path, squeezedBytes(t, text), 0o600))
	_, err := OpenTail(path)
	var open *OpenError
	require.ErrorAs(t, err, &open)
	assert.Equal(t, Compressed, open.Fault)
}

// Close releases a reader of a compressed pipe that says nothing more.
func TestCloseCompressedPipe(t *testing.T) {
	t.Parallel()
	path := newPipe(t)
	r, err := OpenRecording(path)
	require.NoError(t, err)
	w, err := os.OpenFile(path, os.O_WRONLY, 0)
	require.NoError(t, err)
	defer w.Close()
	_, err = w.Write(squeezedBytes(t, longText(2_500_000))[:40_000]) // less than a pipe holds
	require.NoError(t, err)
	done := make(chan error, 1)
	go func() {
		_, err := io.Copy(io.Discard, r)
		done <- err
	}()
	time.Sleep(100 * time.Millisecond)
	closed := make(chan struct{})
	go func() { r.Close(); close(closed) }()
	select {
	case <-closed:
	case <-time.After(released):
		t.Fatal("Close hangs")
	}
	select {
	case <-done:
	case <-time.After(released):
		t.Fatal("the reader hangs")
	}
}
