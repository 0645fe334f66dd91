//go:build linux || darwin

package main

import (
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

// A port that is there again, and that another program has taken, is told as that:
// no cable helps it.
func TestPortBackButTaken(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	name, other := filepath.Join(dir, "nose"), filepath.Join(dir, "other")
	first, err := openPseudo(name)
	require.NoError(t, err)
	port, err := link.OpenPort(name, 115200)
	require.NoError(t, err)
	defer port.Close()
	var notes safeBuffer
	one := &live{con: &console{}, aud: audience{form: asPlain}, name: name, port: port, notes: newPrinter(&notes), desk: newDesk(craft.Craft{}, 0, nil, nil)}
	f := &inlet{n: 1, name: name, port: port}
	two := &live{con: &console{}, name: name, inlets: inlets{f, {n: 2, name: name, port: port}}, notes: newPrinter(io.Discard)}
	two.desk = deskOf(alarms.New(craft.Craft{}, alarms.Options{Sources: []string{name, "stand"}}), nil, nil)
	look := func(ms int64) {
		one.looked, two.looked = time.Time{}, time.Time{}
		one.lookAtLine(ms)
		two.lookAtInlets(ms)
	}
	lookOne := func(l *live) string { return l.status().Hint }
	two.desk.eng.Sample(&decode.Sample{Tag: decode.Hello}, 10)

	read := func(until func() bool) {
		t.Helper()
		for end := time.Now().Add(10 * time.Second); !until(); {
			require.True(t, time.Now().Before(end), "never")
			_, err := port.Read(make([]byte, 64))
			if err != nil {
				require.ErrorContains(t, err, "port")
			}
		}
	}
	first.close()
	_ = os.Remove(name)
	read(func() bool { s := port.Status(); return !s.Open && s.Tries > 0 })
	look(0)
	assert.Contains(t, lookOne(one), "is the cable in?")
	assert.Contains(t, lookOne(two), "are the cables in?")
	assert.Contains(t, f.hint, "is the cable in?")

	back, err := openPseudo(other)
	require.NoError(t, err)
	defer back.close()
	taken, err := link.OpenPort(other, 115200)
	require.NoError(t, err)
	require.NoError(t, os.Rename(other, name))
	read(func() bool { what, _ := refused(port.Status()); return what != "" })
	want := "open port " + name + ": port is in use by another program: close the other program that holds the port; it goes on by itself"
	for ms := int64(200); ms <= 3000; ms += 200 {
		look(ms)
		assert.Equal(t, want, lookOne(one))
		assert.Equal(t, want, lookOne(two))
		assert.Equal(t, want, f.hint)
	}
	require.NoError(t, taken.Close())
	read(func() bool { return port.Status().Open })
	look(3200)
	what, _ := refused(port.Status())
	assert.Empty(t, what)
	one.notes.close(nil, time.Second)
	assert.Equal(t, "tetherbell: open port "+name+": port is in use by another program\n"+
		"hint: close the other program that holds the port; it goes on by itself\n", notes.String(), "once")
}

// Of several bridges, the one that speaks another version of the protocol is named:
// no other baud helps it.
func TestOtherVersionOfOneOfSeveral(t *testing.T) {
	t.Parallel()
	a, err := openPseudo("")
	require.NoError(t, err)
	defer a.close()
	port, err := link.OpenPort(a.path, 115200)
	require.NoError(t, err)
	defer port.Close()
	var notes safeBuffer
	l := &live{con: &console{}, aud: audience{form: asPlain}, notes: newPrinter(&notes)}
	for n, name := range []string{"nose", "stand"} {
		l.inlets = append(l.inlets, &inlet{n: n + 1, name: name, port: port, baud: 115200})
	}
	l.desk = deskOf(alarms.New(craft.Craft{}, l.inlets.options()), nil, nil)
	l.desk.useBridges([]string{"nose", "stand"})
	for ms := int64(0); ms < 4000; ms += 200 {
		for _, f := range l.inlets {
			line := benchLine("load,1,1,0.5")
			if f.n == 2 {
				line = benchLine("hello,1,1,2,1,stand")
			}
			f.bytes += uint64(len(line))
			l.desk.feedFrom(f.n, ms*1000, []byte(line))
		}
		l.lookAtInlets(ms)
	}
	assert.Contains(t, l.inlets[1].hint, "stand: the bridge speaks another protocol version than 1: load a bridge program")
	assert.Empty(t, l.inlets[0].hint)
	assert.Equal(t, l.inlets[1].hint, l.hint)
	assert.Contains(t, l.desk.bridgeLines()[1], "another protocol version than 1")
	l.notes.close(nil, time.Second)
	assert.Contains(t, notes.String(), "stand: the bridge speaks another protocol version")
	assert.NotContains(t, notes.String(), "baud")
}
