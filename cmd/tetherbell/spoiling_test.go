package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSocketGoesAndComesBack: a cable that is pulled takes the port away from its
// reader, what is sent meanwhile is gone, and the link leads to the port again.
func TestSocketGoesAndComesBack(t *testing.T) {
	link := filepath.Join(t.TempDir(), "bench")
	p, err := openPseudo(link)
	if err != nil {
		t.Skip("no pseudo-terminal here:", err)
	}
	var paths []string
	s := newSocket(p, link, func(path string) error { paths = append(paths, path); return nil })
	var reader *os.File
	hears := func(text string) {
		t.Helper()
		reader, err = os.OpenFile(link, os.O_RDWR, 0)
		require.NoError(t, err)
		_, err = s.Write([]byte(text))
		require.NoError(t, err)
		buf := make([]byte, 64)
		n, err := reader.Read(buf)
		require.NoError(t, err)
		assert.Equal(t, text, string(buf[:n]))
	}
	hears("one\n")
	require.NoError(t, s.plugged(true), "it is in")
	require.NoError(t, s.plugged(false))
	require.NoError(t, s.plugged(false), "it is out")
	n, err := s.Write([]byte("two\n"))
	require.NoError(t, err)
	assert.Equal(t, 4, n)
	gone := make(chan error, 1)
	go func() { _, err := reader.Read(make([]byte, 64)); gone <- err }()
	select {
	case err := <-gone:
		assert.Error(t, err, "the port has gone")
	case <-time.After(10 * time.Second):
		t.Fatal("the reader hears nothing of it")
	}
	reader.Close()
	_, err = os.Lstat(link)
	assert.ErrorIs(t, err, os.ErrNotExist)
	require.NoError(t, s.plugged(true))
	hears("three\n")
	reader.Close()
	assert.Zero(t, s.end(false))
	assert.LessOrEqual(t, len(paths), 1)
}

// TestSpoiltPlayPullsTheCable: what the source says of its cable reaches the
// writer through the pump.
func TestSpoiltPlayPullsTheCable(t *testing.T) {
	p := play{seed: 1, fault: []string{"unplugged=1@1"}}
	sc, err := p.open(t.Context(), "calm")
	require.NoError(t, err)
	w := &pulled{}
	require.NoError(t, pump(t.Context(), sc, w, true))
	assert.Equal(t, []bool{true, false, true}, w.turns)
	assert.Zero(t, w.deaf, "nothing is sent while it is out")
}

// pulled is a writer that notes what happens to its cable.
type pulled struct {
	turns []bool
	deaf  int
}

func (p *pulled) plugged(in bool) error {
	if n := len(p.turns); n == 0 || p.turns[n-1] != in {
		p.turns = append(p.turns, in)
	}
	return nil
}

func (p *pulled) Write(b []byte) (int, error) {
	if n := len(p.turns); n > 0 && !p.turns[n-1] {
		p.deaf += len(b)
	}
	return len(b), nil
}

// TestFaultThatDidNothingIsTold: on standard error, in one line.
func TestFaultThatDidNothingIsTold(t *testing.T) {
	code, _, errs := told("simulate", "--fast", "--fault", "unplugged@60", "--fault", "flipped-bits=0.1", "calm")
	require.Equal(t, exitOK, code, errs)
	assert.Equal(t, "tetherbell: --fault unplugged=2@60 did nothing: the run ended first, at 40 s\n", errs)
}
