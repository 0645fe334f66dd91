package link

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A linedPort is a fake port with outputs.
type linedPort struct {
	fakePort
	set []string
	err error
}

func (l *linedPort) SetDTR(on bool) error { return l.note("DTR", on) }
func (l *linedPort) SetRTS(on bool) error { return l.note("RTS", on) }

func (l *linedPort) note(name string, on bool) error {
	if l.closed {
		panic("set on a closed port")
	}
	if on {
		name = "+" + name
	} else {
		name = "-" + name
	}
	l.set = append(l.set, name)
	return l.err
}

// The lines of a port that was lost are set again when it is back.
func TestLinesComeBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		first := &linedPort{fakePort: fakePort{answers: []answer{{text: "abc"}, {err: errPulled}}}}
		second := &linedPort{fakePort: fakePort{answers: []answer{{text: "def"}}}}
		p, err := openWith("/dev/bench", 115200, func(string, int) (rawPort, error) {
			if first.closed {
				return second, nil
			}
			return first, nil
		})
		require.NoError(t, err)
		require.NoError(t, p.SetLine(DTR, true))
		require.NoError(t, p.SetLine(RTS, false))
		buf := make([]byte, 10)
		for {
			if _, err := p.Read(buf); errors.Is(err, ErrLost) {
				break
			}
		}
		assert.ErrorIs(t, p.SetLine(DTR, false), ErrNotOpen)
		for {
			if _, err := p.Read(buf); errors.Is(err, ErrBack) {
				break
			}
		}
		assert.Equal(t, []string{"+DTR", "-RTS"}, first.set)
		assert.Equal(t, []string{"-DTR", "-RTS"}, second.set, "as wanted last")
		require.NoError(t, p.Close())
		assert.ErrorIs(t, p.SetLine(DTR, true), ErrNotOpen)
	})
}

// Who sets a line does not wait for a Read under way.
func TestSetLineWaitsForNoRead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &linedPort{}
		p, err := openWith("x", 1, func(string, int) (rawPort, error) { return f, nil })
		require.NoError(t, err)
		go func() { _, _ = p.Read(make([]byte, 10)) }()
		synctest.Wait()
		began := time.Now()
		require.NoError(t, p.SetLine(RTS, true))
		assert.Zero(t, time.Since(began))
		time.Sleep(readWait)
		require.NoError(t, p.Close())
	})
}

func TestSetLineFails(t *testing.T) {
	p, err := openWith("/dev/bench", 1, func(string, int) (rawPort, error) { return &fakePort{}, nil })
	require.NoError(t, err)
	assert.EqualError(t, p.SetLine(DTR, true), "set DTR of /dev/bench: it has no such line")
	p, err = openWith("/dev/bench", 1, func(string, int) (rawPort, error) { return &linedPort{err: errPulled}, nil })
	require.NoError(t, err)
	assert.EqualError(t, p.SetLine(RTS, true), "set RTS of /dev/bench: pulled out")
}
