package main

import (
	"bytes"
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/link"
)

// TestPortIsWaitedFor: a port that another watch holds for a few seconds more is
// had as soon as that lets go of it, and who waits is told why; one that stays held
// is refused, and the wait can be left.
func TestPortIsWaitedFor(t *testing.T) {
	t.Parallel()
	p, err := openPseudo("")
	if err != nil {
		t.Skip(err)
	}
	defer p.close()
	first, err := link.OpenPort(p.path, link.DefaultBaud)
	require.NoError(t, err)
	time.AfterFunc(700*time.Millisecond, func() { first.Close() })
	var told bytes.Buffer
	begun := time.Now()
	second, err := openPort(context.Background(), &console{err: &told}, p.path, link.DefaultBaud)
	require.NoError(t, err)
	assert.Greater(t, time.Since(begun), 500*time.Millisecond, "two never have it")
	assert.Equal(t, "tetherbell: port "+p.path+" is in use by another program, or by a watch that is about to end: trying again for 6 s\n", told.String())

	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = openPort(ctx, &console{err: &told}, p.path, link.DefaultBaud)
	require.ErrorIs(t, err, errInterrupted)

	_, err = openPort(context.Background(), &console{err: &told}, p.path, link.DefaultBaud)
	require.ErrorContains(t, err, "port is in use by another program")
	require.NoError(t, second.Close())
}
