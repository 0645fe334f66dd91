package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/dashboard"
	"tetherbell/simulator"
)

// slipRecording writes a recording with alarms in it.
func slipRecording(t *testing.T) string {
	t.Helper()
	sc, err := simulator.Load("idle-slip")
	require.NoError(t, err)
	b := simulator.New(sc, 1)
	var text []byte
	for done := false; !done; {
		text, _, done = b.Next(text)
	}
	path := filepath.Join(t.TempDir(), "slip.bell")
	require.NoError(t, os.WriteFile(path, text, 0o600))
	return path
}

func openReplay(t testing.TB, path string) *replayer {
	t.Helper()
	f, err := openFile(context.Background(), path)
	require.NoError(t, err)
	t.Cleanup(func() { f.Close() })
	r := &replayer{con: &console{out: io.Discard, err: io.Discard}, name: path, file: f, speed: 1}
	r.about, err = outlineOf(context.Background(), f, path)
	require.NoError(t, err)
	r.aud.form = asScreen
	r.rewind()
	return r
}

// Wherever a replay jumps to, it shows what a straight run shows there.
func TestReplayJumps(t *testing.T) {
	path := slipRecording(t)
	straight := func(to int64) []dashboard.Entry {
		r := openReplay(t, path)
		require.NoError(t, r.advance(to))
		return r.aud.journal
	}
	r := openReplay(t, path)
	if !r.about.known { // it is longer than what the outline looks at
		r.look = lookOver(t, r)
		r.measure()
	}
	assert.InDelta(t, 14e6, r.about.length, 0.1e6)
	require.NoError(t, r.advance(5_060_000))
	assert.Equal(t, straight(5_060_000), r.aud.journal)
	assert.NotEmpty(t, r.aud.journal)
	for _, to := range []int64{7_300_000, 3_000_000, 13_000_000, 0, 5_100_000} { // forth and back
		require.NoError(t, r.jump(to))
		assert.Equal(t, to, r.pos)
		assert.Equal(t, straight(to), r.aud.journal, "at %d us", to)
		assert.False(t, r.aud.quiet)
	}
	require.NoError(t, r.jump(99_000_000))
	assert.Equal(t, r.about.length, r.pos)
	require.NoError(t, r.advance(r.pos))
	assert.True(t, r.ended)
	all := r.aud.journal
	require.NoError(t, r.jump(-5))
	assert.False(t, r.ended, "back from the end")
	assert.Empty(t, r.aud.journal)
	require.NoError(t, r.advance(r.about.length))
	assert.Equal(t, all, r.aud.journal)
}

func TestReplayActs(t *testing.T) {
	r := openReplay(t, slipRecording(t))
	do := func(k dashboard.ActKind) { t.Helper(); require.NoError(t, r.act(dashboard.Act{Kind: k})) }
	do(dashboard.ReplayPause)
	assert.True(t, r.paused)
	do(dashboard.ReplayPause)
	assert.False(t, r.paused)
	do(dashboard.ReplayStep)
	assert.True(t, r.paused, "a step stands still after it")
	assert.EqualValues(t, stepUS, r.pos)
	do(dashboard.ReplayFaster)
	assert.Equal(t, 2.0, r.speed)
	for range 20 {
		do(dashboard.ReplaySlower)
	}
	assert.Equal(t, minSpeed, r.speed)
	for range 30 {
		do(dashboard.ReplayFaster)
	}
	assert.Equal(t, maxSpeed, r.speed)
}
