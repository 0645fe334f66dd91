package dashboard

import (
	"context"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard/vigil"
)

// A watchedRun is a dashboard among others that beat from here.
type watchedRun struct {
	*running
	watch *vigil.Watch
	beats [5]atomic.Bool
}

// startWatched starts one whose desk makes a frame with every beat.
func startWatched(t *testing.T) *watchedRun {
	ctx, cancel := context.WithCancel(context.Background())
	r := &watchedRun{watch: new(vigil.Watch)}
	r.running = &running{t: t, term: newTerminal(100, 30), acts: make(chan Act, 100), bell: make(chan struct{}, 1), stop: cancel, done: make(chan error, 1)}
	r.frame.Store(benchFrame())
	beating := make(chan struct{})
	r.beats[vigil.Desk].Store(true)
	r.beats[vigil.Sound].Store(true)
	go func() {
		defer close(beating)
		tick := time.NewTicker(20 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
			}
			for m := range r.beats {
				if r.beats[m].Load() {
					r.watch.Beat(vigil.Member(m))
				}
			}
			if r.beats[vigil.Desk].Load() {
				r.frame.Store(benchFrame())
			}
		}
	}()
	go func() { r.done <- RunWatched(ctx, r.term, r.frame.Load, func(Act) {}, r.bell, r.watch) }()
	t.Cleanup(func() { cancel(); <-beating })
	r.until(func() bool { return r.term.shows.Load() > 1 })
	return r
}

// shows reports whether the terminal shows a text, as an eye would.
func (r *watchedRun) shows(text string) func() bool {
	return func() bool {
		r.term.gate.Lock()
		defer r.term.gate.Unlock()
		return strings.Contains(picture(r.term), text)
	}
}

func TestScreenNamesWhoStandsStill(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := startWatched(t)
		time.Sleep(300 * time.Millisecond)
		for _, c := range []struct {
			who  vigil.Member
			text string
		}{{vigil.Desk, "THE MONITOR STANDS STILL"}, {vigil.Sound, "the sound stands still"}} {
			began := time.Now()
			r.beats[c.who].Store(false)
			r.until(r.shows(c.text))
			took := time.Since(began)
			t.Logf("%v named after %v", c.who, took)
			require.Less(t, took, time.Second)
			if c.who == vigil.Sound {
				r.until(func() bool { return r.term.beeps.Load() >= 2 })
			}
			r.beats[c.who].Store(true)
			r.until(func() bool { return !r.shows(c.text)() })
		}
		r.stop()
		require.NoError(t, r.end(time.Second))
	})
}

// A terminal that takes nothing is missed; one whose dashboard has ended is not.
func TestScreenIsMissed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := startWatched(t)
		eyes := r.watch.Looker(vigil.Desk)
		down := func() bool {
			eyes.Look(time.Now())
			_, down := eyes.Down(vigil.Screen)
			return down
		}
		for end := time.Now().Add(time.Second); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
			require.False(t, down())
		}
		began := time.Now()
		r.term.gate.Lock()
		r.until(down)
		t.Logf("missed after %v", time.Since(began))
		require.Less(t, time.Since(began), time.Second)
		r.term.gate.Unlock()
		r.until(func() bool { return !down() })
		r.stop()
		require.NoError(t, r.end(time.Second))
		for end := time.Now().Add(1200 * time.Millisecond); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
			require.False(t, down())
		}
	})
}

// A desk and a sound that broke down before the screen's first look are named.
func TestScreenNamesWhoFellBeforeIt(t *testing.T) {
	w := new(vigil.Watch)
	for _, m := range []vigil.Member{vigil.Desk, vigil.Sound} {
		w.Beat(m)
		w.Fall(m)
	}
	now := time.Now()
	r := &runner{eyes: w.Looker(vigil.Screen)}
	require.True(t, r.lookAround(now))
	require.False(t, r.others.sound.IsZero(), "the bell stands in for it")
	require.Equal(t, detect.High, r.sounding(nil))
	b := &board{now: func() time.Time { return now.Add(time.Second) }, frame: &Frame{Snap: new(alarms.Snapshot)}, others: r.others}
	st := b.seen().Status
	require.Equal(t, time.Second, st.EngineStill)
	require.True(t, st.EngineBroken)
	require.True(t, st.SoundStill)
	require.Equal(t, "the sound has broken down", st.Sound)
}

// A beacon that hangs is said beside the picture's own word for it, and is not up.
func TestScreenNamesABeaconThatHangs(t *testing.T) {
	b := &board{now: time.Now, frame: &Frame{Snap: new(alarms.Snapshot), Status: Status{Beacon: "RTS of x up: all is well"}}, others: others{beaconStill: true}}
	st := b.seen().Status
	require.True(t, st.BeaconFallen)
	require.Equal(t, "STANDS STILL: its line may say that all is well", st.Beacon)
	require.NotEmpty(t, st.BeaconError)
	require.Equal(t, "RTS of x up: all is well", b.frame.Status.Beacon, "the frame is not ours")
	for _, p := range beaconShort(b.seen(), &look{}) {
		require.NotContains(t, p.text, "up")
		require.NotContains(t, p.text, "fallen", "nobody knows")
	}
}
