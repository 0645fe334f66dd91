//go:build linux || darwin

package main

import (
	"context"
	"os/exec"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

// Each of several bridges is asked by itself, with the patience that its rate
// deserves, and named: together they are not silent as long as one of them sends.
func TestBeaconSenseOfSeveral(t *testing.T) {
	const lost = "a port is lost"
	view := func(name string, rate float64, silentUS int64) alarms.BridgeView {
		return alarms.BridgeView{Name: name, Heard: true, Lines: 100, All: rate, SilentUS: silentUS}
	}
	a, b := view("/dev/a", 100, 20_000), view("/dev/b", 100, 20_000)
	type views = []alarms.BridgeView
	for _, c := range []struct {
		name    string
		open    bool
		bridges views
		want    string
	}{
		{"one port", true, nil, ""},
		{"one port, lost", false, nil, lost},
		{"two", true, views{a, b}, ""},
		{"one of two lost", false, views{a, b}, lost},
		{"the first silent", true, views{view("/dev/a", 100, 1_000_000), b}, "no good line from /dev/a for 1 s"},
		{"the second silent", true, views{a, view("/dev/b", 100, 1_000_000)}, "no good line from /dev/b for 1 s"},
		{"silent for less", true, views{a, view("/dev/b", 100, 999_999)}, ""},
		{"a slow one", true, views{a, view("/dev/b", 1, 2_900_000)}, ""},
		{"a slow one is silent", true, views{a, view("/dev/b", 1, 3_000_000)}, "no good line from /dev/b for 3 s"},
		{"the second never heard", true, views{a, {Name: "/dev/b"}}, "nothing was ever heard from /dev/b"},
		{"the second writes nonsense", true, views{a, {Name: "/dev/b", Bad: 9}}, "no good line ever came from /dev/b"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := wellSnapshot()
			s.Bridges = c.bridges
			assert.Equal(t, c.want, notWell(s, c.open))
		})
	}
}

// What a watch of two ports asks the beacon: a bridge that sends one line a second is
// waited for as promised, one that was never heard is named, and the end of the input
// is no lost port.
func TestBeaconOfSeveralIsAskedAsPromised(t *testing.T) {
	l := &live{inlets: inlets{}, desk: deskOf(alarms.New(craft.Craft{}, alarms.Options{Sources: []string{"/dev/a", "/dev/b"}}), nil, func([]alarms.Event) {})}
	l.desk.useBridges([]string{"/dev/a", "/dev/b"})
	l.beacon = newLamp(false).beacon
	var line []byte
	for ms := int64(0); ms < 10_200; ms += 20 {
		s := decode.Sample{Tag: decode.State, Seq: uint16(ms / 20), Time: uint32(ms * 1000)}
		for k, v := range []float64{0, 0, 1, 0, 0, 0, 0, 1} {
			s.Put(k, v)
		}
		line = decode.Append(line[:0], &s)
		l.desk.feedFrom(1, ms*1000, line)
		if ms%1000 == 0 && ms < 8000 {
			s = decode.Sample{Tag: decode.Load, Seq: uint16(ms / 1000), Time: uint32(ms * 1000)}
			s.Put(0, 1)
			l.desk.feedFrom(2, ms*1000, decode.Append(line[:0], &s))
		}
		l.desk.tick(ms)
		var snap alarms.Snapshot
		l.desk.eng.Snapshot(&snap)
		l.judgeBeacon(&snap)
		why := *l.beacon.why.Load()
		if ms >= 4000 && ms < 9900 {
			require.NotContains(t, why, "/dev/b", "at %d ms", ms)
		}
		require.NotContains(t, why, "port is lost")
	}
	require.Equal(t, "no good line from /dev/b for 3 s", *l.beacon.why.Load())
	l.ended = true
	l.judgeBeacon(new(alarms.Snapshot))
	text, fallen := l.beacon.shows()
	assert.True(t, fallen)
	assert.Contains(t, text, "fallen: the input has ended")
}

// Two real ports of which one is lost: the lamp goes out, whichever it is, and
// although the other one goes on.
func TestBeaconFallsWithAnyPort(t *testing.T) {
	for lost := range 2 {
		ptys := make([]*pseudo, 2)
		names := make([]string, 2)
		for i := range ptys {
			var err error
			ptys[i], err = openPseudo("")
			require.NoError(t, err)
			names[i] = ptys[i].path
		}
		in, err := openInlets(context.Background(), &console{}, names, link.DefaultBaud)
		require.NoError(t, err)
		l := &live{inlets: in, desk: deskOf(alarms.New(craft.Craft{}, in.options()), nil, func([]alarms.Event) {})}
		lamp := newLamp(false)
		l.beacon = lamp.beacon
		l.desk.useBridges(in.options().Sources)
		for i := range in { // a good line of each
			s := decode.Sample{Tag: decode.State, Time: 1000}
			for k, v := range []float64{0, 0, 1, 0, 0, 0, 0, 1} {
				s.Put(k, v)
			}
			l.desk.feedFrom(i+1, 0, append(decode.Append(nil, &s), '\n'))
		}
		port, name := l.beaconPort(&beaconFlags{line: "dtr"})
		assert.Equal(t, in[0].port, port)
		assert.Equal(t, names[0], name)
		port, name = l.beaconPort(&beaconFlags{line: "dtr", port: names[1]})
		assert.Equal(t, in[1].port, port)
		assert.Equal(t, names[1], name)

		lit := func() bool {
			l.judgeBeacon(wellSnapshot())
			lamp.run(200*time.Millisecond, true)
			return lamp.line
		}
		assert.True(t, lit())
		ended := make(chan struct{})
		go func() { // the reader notices the loss
			defer close(ended)
			for buf := make([]byte, 64); ; {
				if _, err := in[lost].port.Read(buf); err != nil {
					return
				}
			}
		}()
		ptys[lost].close()
		<-ended
		assert.False(t, lit(), "port %d is lost", lost+1)
		require.NoError(t, in.Close())
		ptys[1-lost].close()
	}
}

// Pseudo-terminals have no such line: two are refused like one, and nothing is
// half watched.
func TestBeaconOfSeveralNeedsALine(t *testing.T) {
	a, err := openPseudo("")
	require.NoError(t, err)
	defer a.close()
	b, err := openPseudo("")
	require.NoError(t, err)
	defer b.close()
	for _, more := range [][]string{{}, {"--beacon-port", a.path}, {"--beacon-port", b.path}} {
		says := "set DTR of "
		if len(more) > 1 && more[1] == b.path {
			says = "of several watched ports the first alone can have the beacon"
		}
		cmd := exec.Command("tetherbell", append([]string{"watch", a.path, b.path, "--plain", "--sound", "off", "--beacon", "dtr"}, more...)...)
		text, err := cmd.CombinedOutput()
		assert.Error(t, err)
		assert.Equal(t, exitTrouble, cmd.ProcessState.ExitCode())
		assert.Contains(t, string(text), says)
		if len(more) > 1 {
			assert.Contains(t, string(text), more[1])
		}
		assert.Contains(t, string(text), "hint: ")
		assert.NotContains(t, string(text), "beacon: DTR")
	}
}
