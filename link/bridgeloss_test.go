package link

import (
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// owned checks that each line "N ..." of a recording is of bridge N, and returns
// how many lines there are.
func owned(t *testing.T, text string) (n int) {
	t.Helper()
	s, it, from := NewSession(strings.NewReader(text)), Item{}, uint64(0)
	for s.Next(&it) == nil {
		switch it.Kind {
		case Bridge:
			from = it.Count
		case Wire:
			require.True(t, strings.HasPrefix(string(it.Line), fmt.Sprint(from, " ")), "%s is taken for a line of bridge %d", it.Line, from)
			n++
		}
	}
	return n
}

// Where lines found no room, so may have the one that says whose the next are:
// they must not be taken for another's.
func TestLossKeepsBridgesApart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &memFile{hold: make(chan struct{})}
		r := newRecorder(t, f)
		body := strings.Repeat("x", 180)
		for n := 0; r.Status().Dropped < 5000; n++ {
			r.Bridge(1+n%2, int64(n)*1000)
			for range 20 {
				r.Line([]byte(fmt.Sprint(1+n%2, " ", body)))
			}
		}
		r.Bridge(2, 7_000_000) // and this one is lost
		before := r.Status().Dropped
		r.Line([]byte("2 " + body))
		require.Greater(t, r.Status().Dropped, before)
		close(f.hold)
		f.mu.Lock()
		f.hold = nil
		f.mu.Unlock()
		time.Sleep(time.Second)
		r.Line([]byte("2 after"))
		require.NoError(t, r.Close([]byte("{}"), time.Second))
		text := f.text()
		assert.Contains(t, text, "\n#bridge 2 7.000000\n2 after\n")
		assert.Positive(t, owned(t, text))
	})
}

// A file that goes on where another was lost begins in the midst of a piece: it
// says whose.
func TestContinuationKeepsBridgesApart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &stick{}
		r := s.record(t)
		n := 0
		live := func(d time.Duration) {
			for end := time.Now().Add(d); time.Now().Before(end); n++ {
				if n%997 == 0 { // a piece lasts long, so that the file is lost within one
					r.Bridge(1+n/997%2, int64(n)*1000)
				}
				r.Line(fmt.Appendf(nil, "%d line %d", 1+n/997%2, n))
				time.Sleep(time.Millisecond)
			}
		}
		for range 3 {
			live(3250 * time.Millisecond)
			s.is(true)
			live(3 * time.Second)
			s.is(false)
		}
		live(3 * time.Second)
		require.NoError(t, r.Close([]byte("{}"), time.Second))
		require.Len(t, s.files, 4)
		for _, f := range s.files {
			assert.Positive(t, owned(t, string(f.disk)))
		}
	})
}
