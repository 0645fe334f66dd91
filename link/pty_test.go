//go:build linux || darwin

package link

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// A real pseudo-terminal whose other end goes away and comes back under the
// same link.
func TestPortOnPseudoTerminal(t *testing.T) {
	link := filepath.Join(t.TempDir(), "bench")
	master, slave, err := pty.Open()
	require.NoError(t, err)
	require.NoError(t, os.Symlink(slave.Name(), link))
	p, err := OpenPort(link, 115200)
	require.NoError(t, err)
	assert.True(t, Pseudo(link))
	assert.Zero(t, p.Capacity())

	type heard struct {
		text string
		err  error
	}
	got := make(chan heard, 100)
	go func() {
		defer close(got)
		buf := make([]byte, 100)
		for {
			n, err := p.Read(buf)
			if n > 0 || err != nil {
				got <- heard{string(buf[:n]), err}
			}
			if errors.Is(err, io.EOF) {
				return
			}
		}
	}()
	next := func() heard {
		select {
		case h := <-got:
			return h
		case <-time.After(time.Minute):
			t.Fatal("nothing heard for a minute")
			return heard{}
		}
	}
	_, err = master.WriteString("one\r\n\x11\x03")
	require.NoError(t, err)
	assert.Equal(t, heard{"one\r\n\x11\x03", nil}, next(), "raw: no byte is changed or taken as a command")

	master.Close()
	slave.Close()
	assert.ErrorIs(t, next().err, ErrLost)
	master, slave, err = pty.Open()
	require.NoError(t, err)
	defer master.Close()
	defer slave.Close()
	require.NoError(t, os.Remove(link))
	require.NoError(t, os.Symlink(slave.Name(), link))
	assert.ErrorIs(t, next().err, ErrBack)
	_, err = master.WriteString("two")
	require.NoError(t, err)
	assert.Equal(t, "two", next().text)
	require.NoError(t, p.Close())
	assert.ErrorIs(t, next().err, io.EOF)
}

func TestPortNoPermission(t *testing.T) {
	if os.Getuid() == 0 {
		t.Skip("root may open anything")
	}
	master, slave, err := pty.Open()
	require.NoError(t, err)
	defer master.Close()
	defer slave.Close()
	require.NoError(t, os.Chmod(slave.Name(), 0))
	_, err = OpenPort(slave.Name(), 9600)
	var oe *OpenError
	require.ErrorAs(t, err, &oe)
	assert.Equal(t, NoPermission, oe.Fault)
}

func TestTailGrows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.bell")
	require.NoError(t, os.WriteFile(path, []byte("old\n"), 0o600))
	tail, err := OpenTail(path)
	require.NoError(t, err)
	buf := make([]byte, 100)
	n, err := tail.Read(buf)
	require.NoError(t, err)
	assert.Equal(t, "old\n", string(buf[:n]))
	n, err = tail.Read(buf)
	assert.NoError(t, err)
	assert.Zero(t, n)
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	defer f.Close()
	_, err = f.WriteString("new\n")
	require.NoError(t, err)
	n, err = tail.Read(buf)
	require.NoError(t, err)
	assert.Equal(t, "new\n", string(buf[:n]))
	require.NoError(t, f.Truncate(2))
	_, err = tail.Read(buf)
	assert.ErrorIs(t, err, ErrShrank)
	require.NoError(t, tail.Close())
	_, err = tail.Read(buf)
	assert.Equal(t, io.EOF, err)
}

// A real full disk: a file system of 64 KiB.
func TestRecorderOnFullFileSystem(t *testing.T) {
	if runtime.GOOS != "linux" || os.Getuid() != 0 {
		t.Skip("making a small file system needs root on Linux")
	}
	dir := t.TempDir()
	if err := mountSmall(dir); err != nil {
		t.Skip("making a small file system: ", err)
	}
	defer unmount(dir)
	ballast := filepath.Join(dir, "ballast")
	require.NoError(t, os.WriteFile(ballast, make([]byte, 40<<10), 0o600))
	r, err := Create(dir, time.Now(), SessionHeader{Tool: "tetherbell"})
	require.NoError(t, err)
	for range 2000 { // 40 000 bytes into 24 KiB
		r.Line([]byte("nineteen bytes long"))
	}
	require.Eventually(t, func() bool { return errors.Is(r.Status().Err, syscall.ENOSPC) }, time.Minute, 10*time.Millisecond)
	require.NoError(t, os.Remove(ballast))
	require.Eventually(t, func() bool { s := r.Status(); return s.Err == nil && s.Waiting == 0 }, time.Minute, 10*time.Millisecond)
	require.NoError(t, r.Close([]byte("{}"), time.Minute))
	f, err := os.Open(r.Status().Path)
	require.NoError(t, err)
	defer f.Close()
	got, s, _ := readAll(t, f)
	assert.Len(t, got, 2002)
	assert.Zero(t, s.Torn())
	for _, g := range got[1:2001] {
		require.Equal(t, seen{Wire, "nineteen bytes long"}, g)
	}
}
