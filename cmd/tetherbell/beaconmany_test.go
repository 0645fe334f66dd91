//go:build linux || darwin

package main

import (
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

func TestBeaconSenseOfSeveral(t *testing.T) {
	good := alarms.BridgeView{Heard: true, SilentUS: 20_000}
	late := alarms.BridgeView{Heard: true, SilentUS: 999_999}
	silent := alarms.BridgeView{Heard: true, SilentUS: 1_000_000}
	never := alarms.BridgeView{}
	type views = []alarms.BridgeView
	for _, c := range []struct {
		name    string
		open    []bool
		bridges views
		want    bool
	}{
		{"one port", []bool{true}, nil, true},
		{"one port, lost", []bool{false}, nil, false},
		{"no port at all", nil, nil, true},
		{"two", []bool{true, true}, views{good, good}, true},
		{"the first of two lost", []bool{false, true}, views{good, good}, false},
		{"the second of two lost", []bool{true, false}, views{good, good}, false},
		{"both lost", []bool{false, false}, views{good, good}, false},
		{"the third of four lost", []bool{true, true, false, true}, views{good, good, good, good}, false},
		{"the first silent", []bool{true, true}, views{silent, good}, false},
		{"the second silent", []bool{true, true}, views{good, silent}, false},
		{"silent for less", []bool{true, true}, views{good, late}, true},
		{"the second never heard", []bool{true, true}, views{good, never}, false},
		{"a recording of two that grows", nil, views{good, good}, true},
		{"and one of its bridges silent", nil, views{good, silent}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, allThere(c.open, c.bridges))
		})
	}
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
		in, err := openInlets(names, link.DefaultBaud)
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
			l.beacon.judge(wellSnapshot(), l.sourcesWell())
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
