package main

import (
	"io"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// A feed is a bridge under a test's hand: a disarmed craft's state lines at
// 50 a second, and settings when asked for.
type feed struct {
	t   *testing.T
	w   io.Writer
	seq uint16
	us  uint32
	buf []byte
}

func newFeed(t *testing.T, w io.Writer) *feed { return &feed{t: t, w: w} }

func (f *feed) send(s *decode.Sample) {
	f.t.Helper()
	s.Seq, s.Time = f.seq, f.us
	f.seq++
	f.buf = decode.Append(f.buf[:0], s)
	if w, ok := f.w.(*os.File); ok { // one whose reader has gone takes nothing, for ever
		_ = w.SetWriteDeadline(time.Now().Add(patience)) // a file that is none has no need of it
	}
	_, err := f.w.Write(f.buf)
	require.NoError(f.t, err)
}

// state sends n state lines at their pace.
func (f *feed) state(n int) {
	f.t.Helper()
	for range n {
		s := decode.Sample{Tag: decode.State}
		for i := range 7 {
			s.Put(i, 0)
		}
		s.Put(decode.Ground, 1)
		s.Put(decode.ControlOK, 1)
		f.send(&s)
		f.us += 20_000
		time.Sleep(20 * time.Millisecond)
	}
}

func (f *feed) stateUntil(done func() bool) {
	f.t.Helper()
	soon(f.t, func() bool {
		if done() {
			return true
		}
		f.state(1)
		return false
	}, "what the lines tell")
}

func (f *feed) set(name string, v float64) {
	f.t.Helper()
	s := decode.Sample{Tag: decode.Set, Word: []byte(name)}
	s.Put(decode.SetValue, v)
	f.send(&s)
}
