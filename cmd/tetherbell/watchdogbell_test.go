//go:build linux

package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/dashboard/vigil"
)

// bellRig is a watch on a terminal whose bell is all there is to be heard.
func bellRig(t *testing.T) (*rig, *stream) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	r := startRig(t, 140, 45, &nullSink{dir: t.TempDir()}, "--sound", "bell")
	s := startStream(t, r)
	r.sees(t, "/dev/pts")
	time.Sleep(2 * time.Second)
	return r, s
}

// A drawing that hangs where the bell is all there is: the sentry strikes it, for
// the stall and for an alarm that comes meanwhile.
func TestScreenStallByBellAlone(t *testing.T) {
	pull := setStall(t, vigil.Screen, "6s")
	r, s := bellRig(t)
	before := r.glass.bells()
	at := pull.pull(t)
	r.within(t, "bell", at, func() bool { return r.glass.bells() > before })
	time.Sleep(time.Second)
	before = r.glass.bells()
	at = s.set(true, 0.5)
	r.within(t, "bell of the alarm", at, func() bool { return r.glass.bells() > before })
	r.until(t, "its group", func() bool { return r.glass.bells() >= before+3 })
	assert.Less(t, r.beat.since(at), 2*time.Second)
}

// A panic while drawing: the last cry is struck by the sentry, for the screen's own
// bell has ended with it.
func TestScreenPanicByBellAlone(t *testing.T) {
	pull := setStall(t, vigil.Screen, "panic")
	r, s := bellRig(t)
	s.set(true, 0)
	time.Sleep(time.Second)
	before := r.glass.bells()
	pull.pull(t)
	require.Error(t, waitFor(r.cmd))
	require.Equal(t, exitTrouble, r.cmd.ProcessState.ExitCode())
	r.until(t, "the bell's group", func() bool { return r.glass.bells() >= before+3 })
}
