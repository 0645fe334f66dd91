package main

import (
	"context"
	"fmt"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/dashboard/sound"
	"tetherbell/dashboard/vigil"
)

// stallEnv makes a member of the program under test stall: its name, how long
// (or "panic"), and the file whose appearance begins it.
const stallEnv = "TETHERBELL_TEST_STALL"

// pauseEnv is the file in which the members of the program under test note every
// pause of theirs that was longer than pauseNoted.
const (
	pauseEnv   = "TETHERBELL_TEST_PAUSES"
	pauseNoted = 300 * time.Millisecond
)

// notePauses makes them do so. Only the screen's beats, which its terminal answers,
// come from more than one goroutine.
func notePauses(file string) func(vigil.Member) {
	out, err := os.OpenFile(file, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		panic(err)
	}
	var last [8]time.Time
	var mu sync.Mutex
	return func(m vigil.Member) {
		mu.Lock()
		defer mu.Unlock()
		now := time.Now()
		if d := now.Sub(last[m]); !last[m].IsZero() && d >= pauseNoted {
			fmt.Fprintf(out, "%v %v\n", m, d)
		}
		last[m] = now
	}
}

// stallingMain is the program, with a member that stalls when it is told so.
func stallingMain() {
	if file := os.Getenv(pauseEnv); file != "" {
		testOnlyOnAnswer = notePauses(file)
	}
	who, rest, _ := strings.Cut(os.Getenv(stallEnv), ",")
	long, trigger, ok := strings.Cut(rest, ",")
	if ok {
		testOnlyOnBeat = func(m vigil.Member) {
			if m.String() != who || os.Remove(trigger) != nil {
				return
			}
			if long == "panic" {
				panic("test")
			}
			d, _ := time.ParseDuration(long)
			time.Sleep(d)
		}
	}
	main()
}

// A trigger makes the member stall that was named to it.
type trigger string

func setStall(t *testing.T, who vigil.Member, long string) trigger {
	file := t.TempDir() + "/now"
	t.Setenv(stallEnv, who.String()+","+long+","+file)
	return trigger(file)
}

func (f trigger) pull(t *testing.T) time.Time {
	require.NoError(t, os.WriteFile(string(f), nil, 0o600))
	return time.Now()
}

// The last cry takes as long as the pattern, and no longer than its context; a
// run whose input has ended needs none.
func TestLastCry(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		l := &live{}
		l.dog.ready()
		var strokes atomic.Int32
		l.aud.sound = sound.New(ctx, sound.Options{Mode: sound.Bell, Bell: func() { strokes.Add(1) }, Watch: &l.dog.watch})
		eyes := l.dog.watch.Looker(vigil.Screen)
		eyes.Look(time.Now())
		l.dog.over.Store(true)
		l.lastCry(ctx)
		l.dog.over.Store(false)
		began := time.Now()
		l.lastCry(ctx)
		assert.InDelta(t, bellTime.Seconds(), time.Since(began).Seconds(), 0.1)
		assert.EqualValues(t, 3, strokes.Load(), "the bell's group for a high alarm, whole")
		eyes.Look(time.Now())
		assert.True(t, eyes.Broken(vigil.Desk))
		cancel()
		require.NoError(t, l.aud.sound.Close())
	})
}
