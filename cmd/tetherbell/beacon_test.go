package main

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard/vigil"
	"tetherbell/decode"
	"tetherbell/link"
)

// wellSnapshot is a bench where nothing is wrong.
func wellSnapshot() *alarms.Snapshot {
	s := &alarms.Snapshot{T: 60_000_000, Lines: 1000}
	for _, tag := range []decode.Tag{decode.State, decode.Axes, decode.Out} {
		s.Streams[tag] = detect.Stream{Count: 100, Last: s.T}
	}
	return s
}

func TestBeaconSense(t *testing.T) {
	ring := func(p detect.Priority, active, acknowledged bool) func(*alarms.Snapshot) {
		return func(s *alarms.Snapshot) {
			s.Alarms = []alarms.AlarmView{{Kind: detect.NearLift, Priority: p, Active: active, Acknowledged: acknowledged}}
		}
	}
	two := func(silent int64, rate float64, heard bool) func(*alarms.Snapshot) {
		return func(s *alarms.Snapshot) {
			s.Bridges = []alarms.BridgeView{{Name: "/dev/a", Heard: true, Lines: 100, All: 100}, {Name: "/dev/b", Heard: heard, Lines: 100, All: rate, SilentUS: silent}}
		}
	}
	cases := []struct {
		name   string
		change func(s *alarms.Snapshot)
		open   bool
		want   bool
	}{
		{"all is well", nil, true, true},
		{"the port is lost", nil, false, false},
		{"no line yet", func(s *alarms.Snapshot) { s.Lines = 0 }, true, false},
		{"the first seconds", func(s *alarms.Snapshot) { s.T = 2_900_000 }, true, false},
		{"silent for a second", func(s *alarms.Snapshot) { s.SilentUS = 1_000_000 }, true, false},
		{"silent for less", func(s *alarms.Snapshot) { s.SilentUS = 900_000 }, true, true},
		{"a stream lacks", func(s *alarms.Snapshot) { s.Streams[decode.Out].Count = 0 }, true, false},
		{"a stream is old", func(s *alarms.Snapshot) { s.Streams[decode.Axes].Last = 1 }, true, false},
		{"a twentieth is bad or lost", func(s *alarms.Snapshot) { s.BadShare = 0.05 }, true, true},
		{"more than a twentieth is bad or lost", func(s *alarms.Snapshot) { s.BadShare = 0.6 }, true, false},
		{"two bridges", two(0, 100, true), true, true},
		{"one of two is silent", two(1_000_000, 100, true), true, false},
		{"a slow one of two", two(1_100_000, 1, true), true, true},
		{"a slow one of two is silent", two(3_000_000, 1, true), true, false},
		{"one of two was never heard", two(0, 0, false), true, false},
		{"high", ring(detect.High, true, false), true, false},
		{"medium", ring(detect.Medium, true, false), true, false},
		{"low", ring(detect.Low, true, false), true, true},
		{"note", ring(detect.Note, true, false), true, true},
		{"acknowledged and still on", ring(detect.High, true, true), true, false},
		{"over, not acknowledged", ring(detect.Medium, false, false), true, false},
		{"over and acknowledged", ring(detect.High, false, true), true, true},
		{"the sound is paused, nothing rings", func(s *alarms.Snapshot) { s.PausedUS = 1 }, true, true},
		{"the sound is paused, high rings", func(s *alarms.Snapshot) {
			ring(detect.High, true, false)(s)
			s.PausedUS, s.Sounding = 1, detect.None
		}, true, false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			s := wellSnapshot()
			if c.change != nil {
				c.change(s)
			}
			assert.Equal(t, c.want, allWell(s, c.open))
		})
	}
	assert.False(t, allWell(nil, true))
}

// A lamp is a beacon under an injected clock, and what its line was set to.
type lamp struct {
	*beacon
	watch vigil.Watch
	now   time.Time
	mu    sync.Mutex
	line  bool
	edges int
	err   error
}

func newLamp(pulse bool) *lamp {
	l := &lamp{now: time.Now()}
	l.beacon = &beacon{pulse: pulse, done: make(chan struct{}), end: func() {}}
	l.set = func(on bool) error {
		l.mu.Lock()
		defer l.mu.Unlock()
		if on != l.line {
			l.edges++
		}
		l.line = on
		return l.err
	}
	l.beacon.watch, l.eyes = &l.watch, l.watch.Looker(vigil.Beacon)
	return l
}

// run lets time pass; the desk judges and beats where it lives.
func (l *lamp) run(d time.Duration, desk bool) {
	for end := l.now.Add(d); l.now.Before(end); {
		l.now = l.now.Add(10 * time.Millisecond)
		if ms := l.now.UnixMilli() / 10; ms%2 == 0 && desk {
			l.renew()
			l.watch.Beat(vigil.Desk)
		} else if ms%5 == 0 {
			l.turn(l.now)
		}
	}
}

func TestBeaconLevel(t *testing.T) {
	l := newLamp(false)
	l.run(time.Second, true)
	assert.False(t, l.line, "nothing has been judged well")
	l.judge(wellSnapshot(), true)
	l.run(time.Second, true)
	assert.True(t, l.line)
	l.run(700*time.Millisecond, false)
	assert.False(t, l.line, "nobody renews it")
	l.run(200*time.Millisecond, true)
	assert.True(t, l.line)
	l.judge(wellSnapshot(), false)
	l.run(200*time.Millisecond, true)
	assert.False(t, l.line)
	l.judge(wellSnapshot(), true)
	l.watch.Fall(vigil.Sound)
	l.run(200*time.Millisecond, true)
	assert.False(t, l.line, "an alarm would not be heard")
}

func TestBeaconPulse(t *testing.T) {
	l := newLamp(true)
	l.run(time.Second, true)
	assert.Zero(t, l.edges)
	l.judge(wellSnapshot(), true)
	l.run(200*time.Millisecond, true)
	before := l.edges
	l.run(4*time.Second, true)
	assert.InDelta(t, 40, l.edges-before, 3, "5 Hz")
	l.run(200*time.Millisecond, false)
	before = l.edges
	l.run(4*time.Second, false)
	assert.LessOrEqual(t, l.edges-before, 1, "no edge without a judgement")
	assert.False(t, l.line)
}

// A line that cannot be set is named, and tried again.
func TestBeaconTrouble(t *testing.T) {
	l := newLamp(false)
	l.judge(wellSnapshot(), true)
	l.err = errors.New("pulled out")
	l.run(time.Second, true)
	assert.Equal(t, "pulled out", l.fault())
	l.err = link.ErrNotOpen
	l.run(3*time.Second, true)
	assert.Empty(t, l.fault(), "a lost port is told as such")
	l.err = nil
	l.run(3*time.Second, true)
	assert.Empty(t, l.fault())
	assert.True(t, l.line)
}

// A failure as the line is asserted again leaves it as it was. What must fall then
// is tried at every look, and not only after a rest.
func TestBeaconFallsAfterAFailure(t *testing.T) {
	l := newLamp(false)
	l.judge(wellSnapshot(), true)
	l.run(500*time.Millisecond, true)
	require.True(t, l.line)
	plain := l.set
	l.set = func(bool) error { return errors.New("slipped out") } // and the line stands
	l.run(1200*time.Millisecond, true)
	require.True(t, l.line)
	l.set = plain
	bad := wellSnapshot()
	bad.SilentUS = 2_000_000
	l.judge(bad, true)
	l.run(100*time.Millisecond, true)
	assert.False(t, l.line)
	text, fallen := l.shows()
	assert.True(t, fallen)
	assert.Contains(t, text, "fallen: no good line for 2 s")
	l.judge(wellSnapshot(), true)
	l.run(3*time.Second, true)
	assert.True(t, l.line)
	text, fallen = l.shows()
	assert.False(t, fallen)
	assert.Contains(t, text, "up: all is well")
}

// The screen says that all is not well as soon as it is judged so, wherever the pulse
// stands just then, and as soon as a part of the monitor stands still.
func TestBeaconSaysWhatIsJudged(t *testing.T) {
	for _, pulse := range []bool{false, true} {
		for k := range 10 {
			l := newLamp(pulse)
			l.judge(wellSnapshot(), true)
			l.run(2*time.Second+time.Duration(k)*20*time.Millisecond, true)
			_, fallen := l.shows()
			require.False(t, fallen)
			bad := wellSnapshot()
			bad.BadShare = 1
			l.judge(bad, true)
			text, fallen := l.shows()
			require.True(t, fallen, "pulse %v", pulse)
			require.Contains(t, text, "fallen: 100 % of the lines bad or lost")
			l.judge(wellSnapshot(), true)
			l.run(time.Second, true)
			l.watch.Beat(vigil.Sound)
			l.watch.Fall(vigil.Sound)
			l.run(100*time.Millisecond, true)
			text, fallen = l.shows()
			require.True(t, fallen, "pulse %v", pulse)
			require.Contains(t, text, "a part of the monitor stands still")
		}
	}
}

// However the beacon ends, its line falls; one that hangs holds nobody up.
func TestBeaconEnds(t *testing.T) {
	l := newLamp(false)
	l.judge(wellSnapshot(), true)
	l.start(t.Context(), &l.watch)
	soon(t, func() bool {
		l.renew()
		l.mu.Lock()
		defer l.mu.Unlock()
		return l.line
	}, "the line is up")
	l.close()
	assert.False(t, l.line)

	h := newLamp(false)
	hang := make(chan struct{})
	h.set = func(bool) error { <-hang; return nil }
	h.start(context.Background(), &h.watch)
	time.Sleep(150 * time.Millisecond)
	beat, began := startMetronome(t), time.Now()
	h.close()
	assert.Less(t, beat.since(began), 2*time.Second)
	close(hang)
	<-h.done
	var none *beacon
	none.judge(nil, true)
	none.renew()
	none.start(t.Context(), nil)
	none.close()
	none.drop()
	assert.Empty(t, none.fault())
}

func TestBeaconFlags(t *testing.T) {
	cases := []struct {
		f    beaconFlags
		want string // of the error
	}{
		{beaconFlags{"", "", "level"}, ""},
		{beaconFlags{"dtr", "", "level"}, ""},
		{beaconFlags{"rts", "/dev/z", "pulse"}, ""},
		{beaconFlags{"rts", "/dev/x", "level"}, ""},
		{beaconFlags{"rts", "/dev/y", "level"}, "/dev/y is watched"},
		{beaconFlags{"cts", "", "level"}, `no line "cts"`},
		{beaconFlags{"rts", "", "square"}, `no form "square"`},
		{beaconFlags{"", "/dev/y", "level"}, "which line"},
		{beaconFlags{"", "", "pulse"}, "which line"},
	}
	for _, c := range cases {
		err := c.f.check([]string{"/dev/x", "/dev/y"})
		if c.want == "" {
			assert.NoError(t, err)
			continue
		}
		require.Error(t, err)
		assert.Contains(t, err.Error(), c.want)
	}
	_, err := openBeacon(&beaconFlags{line: "rts"}, nil)
	require.Error(t, err)
	assert.Contains(t, hintOf(err), "--beacon-port")
}

// A pseudo-terminal has no such line: refused at the start, with a next step.
func TestBeaconNeedsALine(t *testing.T) {
	pty, err := openPseudo("")
	if err != nil {
		t.Skip("no pseudo-terminals here")
	}
	defer pty.close()
	_, err = openBeacon(&beaconFlags{line: "dtr", port: pty.path}, nil)
	require.ErrorIs(t, err, link.ErrNoLines)
	assert.True(t, strings.HasPrefix(err.Error(), "set DTR of "+pty.path), err)
	port, err := link.OpenPort(pty.path, link.DefaultBaud)
	require.NoError(t, err)
	defer port.Close()
	_, err = openBeacon(&beaconFlags{line: "rts"}, port)
	require.ErrorIs(t, err, link.ErrNoLines)
	assert.Contains(t, hintOf(err), "--beacon-port")
}
