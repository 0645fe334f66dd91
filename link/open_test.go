//go:build unix

package link

import (
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

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
	r, err := OpenRecording(newPipe(t))
	require.NoError(t, err)
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
	case <-time.After(5 * time.Second):
		t.Fatal("Close does not release a read")
	}

	r, err = OpenRecording(newPipe(t))
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
	r, err := OpenRecording(path)
	require.NoError(t, err)
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

	r, err = OpenRecording(path)
	require.NoError(t, err)
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
	case <-time.After(5 * time.Second):
		t.Fatal("Close does not release a read")
	}
}
