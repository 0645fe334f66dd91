package link

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// fakePort says one answer after the other, then waits as a real port does.
type fakePort struct {
	answers []answer
	closed  bool
}

type answer struct {
	text string
	err  error
	now  bool // do not wait before an empty answer
}

var errPulled = errors.New("pulled out")

func (f *fakePort) Read(p []byte) (int, error) {
	if len(f.answers) == 0 {
		time.Sleep(readWait)
		return 0, nil
	}
	a := f.answers[0]
	f.answers = f.answers[1:]
	if a.text == "" && a.err == nil && !a.now {
		time.Sleep(readWait)
	}
	return copy(p, a.text), a.err
}

func (f *fakePort) Close() error { f.closed = true; return nil }

func TestPortComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		first := &fakePort{answers: []answer{{text: "abc"}, {}, {err: errPulled}}}
		second := &fakePort{answers: []answer{{text: "def"}}}
		began, tries := time.Now(), []time.Duration{}
		open := func(name string, baud int) (rawPort, error) {
			assert.Equal(t, "/dev/bench", name)
			if len(tries) == 0 && !first.closed {
				return first, nil
			}
			tries = append(tries, time.Since(began))
			if len(tries) < 7 {
				return nil, &OpenError{What: "port", Name: name, Fault: Missing}
			}
			return second, nil
		}
		p, err := openWith("/dev/bench", 115200, open)
		require.NoError(t, err)
		assert.True(t, p.Status().Open)
		var got []string
		buf := make([]byte, 10)
		for len(got) < 4 {
			n, err := p.Read(buf)
			if err != nil {
				got = append(got, err.Error())
				if errors.Is(err, ErrLost) {
					s := p.Status()
					assert.False(t, s.Open)
					assert.ErrorIs(t, s.Err, errPulled)
					began = time.Now()
				}
			} else if n > 0 {
				got = append(got, string(buf[:n]))
			}
		}
		assert.Equal(t, []string{"abc", "port lost", "port back", "def"}, got)
		ms := time.Millisecond
		assert.Equal(t, []time.Duration{50 * ms, 100 * ms, 150 * ms, 200 * ms, 250 * ms, 300 * ms, 350 * ms}, tries)
		assert.True(t, first.closed)
		assert.True(t, p.Status().Open)
		assert.Equal(t, 7, p.Status().Tries)
		require.NoError(t, p.Close())
		assert.True(t, second.closed)
		_, err = p.Read(buf)
		assert.Equal(t, io.EOF, err)
	})
}

// A port that is there and refuses is asked less and less often; one that comes
// back only to be lost again, too. One that has lived is looked for quickly.
func TestPortIsNotPestered(t *testing.T) {
	ms := time.Millisecond
	busy, missing := &OpenError{Fault: Busy}, &OpenError{Fault: Missing}
	cases := []struct {
		name  string
		tries []error         // what each one meets; nil: it opens
		lives time.Duration   // of a port that opened, until it is lost
		after []time.Duration // from the loss before it to each try
	}{
		{"refuses", []error{busy, busy, busy, busy, busy, busy, busy}, 0, []time.Duration{50 * ms, 150 * ms, 350 * ms, 750 * ms, 1550 * ms, 2550 * ms, 3550 * ms}},
		{"refuses, then goes, then comes", []error{busy, busy, missing, missing, nil}, time.Hour, []time.Duration{50 * ms, 150 * ms, 350 * ms, 400 * ms, 450 * ms}},
		{"a loose plug", []error{nil, nil, nil}, 10 * ms, []time.Duration{50 * ms, 100 * ms, 200 * ms}},
		{"lost for good each time", []error{nil, nil, nil}, 2 * time.Second, []time.Duration{50 * ms, 50 * ms, 50 * ms}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var lost time.Time
				var after []time.Duration
				first := true
				p, err := openWith("x", 1, func(string, int) (rawPort, error) {
					if first {
						first = false
						return &fakePort{answers: []answer{{}, {}, {err: errPulled}}}, nil
					}
					after = append(after, time.Since(lost))
					if err := c.tries[len(after)-1]; err != nil {
						return nil, err
					}
					return &dyingPort{ends: time.Now().Add(c.lives)}, nil
				})
				require.NoError(t, err)
				defer p.Close()
				for len(after) < len(c.tries) {
					if _, err := p.Read(make([]byte, 10)); errors.Is(err, ErrLost) {
						lost = time.Now()
					}
				}
				assert.Equal(t, c.after, after)
			})
		})
	}
}

// dyingPort is silent and is lost at a time.
type dyingPort struct{ ends time.Time }

func (d *dyingPort) Read([]byte) (int, error) {
	if left := time.Until(d.ends); left > 0 {
		time.Sleep(min(left, readWait))
		return 0, nil
	}
	return 0, errPulled
}

func (d *dyingPort) Close() error { return nil }

func TestPortDoesNotSpin(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &fakePort{}
		for range 1000 {
			f.answers = append(f.answers, answer{now: true})
		}
		p, err := openWith("x", 1, func(string, int) (rawPort, error) { return f, nil })
		require.NoError(t, err)
		began, reads := time.Now(), 0
		for time.Since(began) < time.Second {
			_, err := p.Read(make([]byte, 10))
			require.NoError(t, err)
			reads++
		}
		assert.LessOrEqual(t, reads, 101)
	})
}

func TestPortCloseEndsARetry(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &fakePort{answers: []answer{{err: errPulled}}}
		p, err := openWith("x", 1, func(string, int) (rawPort, error) {
			if f.closed {
				return nil, errPulled
			}
			return f, nil
		})
		require.NoError(t, err)
		ended := make(chan error)
		go func() {
			for {
				if _, err := p.Read(make([]byte, 10)); err != nil && !errors.Is(err, ErrLost) {
					ended <- err
					return
				}
			}
		}()
		time.Sleep(5 * time.Second)
		began := time.Now()
		require.NoError(t, p.Close())
		assert.Equal(t, io.EOF, <-ended)
		assert.Zero(t, time.Since(began))
	})
}

func TestOpenPortFaults(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	require.NoError(t, os.WriteFile(file, []byte("keep"), 0o600))
	cases := []struct {
		name, port string
		baud       int
		fault      Fault
		text       string
	}{
		{"missing", filepath.Join(dir, "none"), 9600, Missing, "no such port"},
		{"folder", dir, 9600, Directory, "is a directory"},
		{"file", file, 9600, NotPort, "not a serial port"},
		{"no terminal", os.DevNull, 9600, NotPort, "not a serial port"},
		{"no baud", file, 0, BadBaud, "baud is outside 1 to 3000000"},
		{"too fast", file, MaxBaud + 1, BadBaud, "baud is outside 1 to 3000000"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := OpenPort(c.port, c.baud)
			var oe *OpenError
			require.ErrorAs(t, err, &oe)
			assert.Equal(t, c.fault, oe.Fault)
			assert.EqualError(t, err, "open port "+c.port+": "+c.text)
		})
	}
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, "keep", string(data))
}
