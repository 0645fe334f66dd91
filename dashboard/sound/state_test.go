package sound

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
)

// stateAt checks a state; since is the time after the bench's start.
func stateAt(t *testing.T, b *bench, since time.Duration, want State) {
	t.Helper()
	got := b.State()
	assert.InDelta(t, since.Seconds(), got.Since.Sub(b.start).Seconds(), 0.15, "since")
	got.Since = time.Time{}
	assert.Equal(t, want, got)
}

// TestStateOfADeviceThatDies: opened, lost, found again, muted.
func TestStateOfADeviceThatDies(t *testing.T) {
	run(t, Auto, func(b *bench) {
		assert.Equal(t, Unknown, b.State().Way)
		b.after(time.Second)
		heard := State{Way: Audio, Through: "test device"}
		stateAt(t, b, 0, heard)

		gone := errors.New("sound server closed the connection")
		b.openErr.Store(&gone)
		b.gone <- gone
		b.after(ms)
		lost := State{Way: BellOnly, Why: gone.Error(), Lost: true}
		stateAt(t, b, time.Second, lost)
		refused := errors.New("refused")
		b.openErr.Store(&refused)
		b.after(6 * time.Second)
		lost.Why = refused.Error()
		stateAt(t, b, time.Second, lost) // another reason, and silent as long as before
		b.openErr.Store(nil)
		b.after(5 * time.Second)
		stateAt(t, b, 11*time.Second, heard)

		muted := "muted"
		b.mute.Store(&muted)
		b.after(time.Second)
		stateAt(t, b, 12*time.Second, State{Way: BellOnly, Why: "test device muted", Lost: true})
		b.mute.Store(new(string))
		b.after(time.Second)
		b.frozen.Store(true)
		b.after(time.Second)
		stateAt(t, b, 14500*ms, State{Way: BellOnly, Why: errStalled.Error(), Lost: true})
	})
}

// TestStateWhileAudioOpens: an opener that takes its time, and a device that
// does not pull yet. Where neither is held up, the scheduler decides which of
// the two stands.
func TestStateWhileAudioOpens(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, start: time.Now(), gone: make(chan error, 1)}
		b.mute.Store(new(string))
		b.frozen.Store(true)
		b.Player = New(t.Context(), Options{Bell: b.strike, open: func(ctx context.Context, v *voice) (*device, error) {
			time.Sleep(300 * ms)
			return b.open(ctx, v)
		}})
		b.after(200 * ms)
		stateAt(t, b, 0, State{Way: Unknown, Why: "opening the audio"})
		b.after(200 * ms)
		stateAt(t, b, 0, State{Way: Unknown, Why: "waiting for the test device"})
		b.frozen.Store(false)
		b.after(600 * ms)
		stateAt(t, b, 450*ms, State{Way: Audio, Through: "test device"})
		require.NoError(t, b.Close())
	})
}

func TestStateWithoutAudio(t *testing.T) {
	none := func(context.Context, *voice) (*device, error) { return nil, errNoServer }
	strike := func() {}
	for name, tt := range map[string]struct {
		opts   Options
		want   State
		status string
	}{
		"no server, a bell":  {Options{open: none, Bell: strike}, State{Way: BellOnly, Why: "no sound server"}, "terminal bell (no sound server)"},
		"no server, no bell": {Options{open: none}, State{Way: Silent, Why: "no sound server"}, "no sound: no sound server"},
		"bell chosen":        {Options{Mode: Bell, Bell: strike}, State{Way: BellOnly, Why: "chosen", Chosen: true}, "terminal bell (chosen)"},
		"bell chosen, none there": {Options{Mode: Bell}, State{Way: Silent, Why: errNoBell.Error(), Chosen: true},
			"no sound: no terminal whose bell could ring"},
		"off": {Options{Mode: Off, Bell: strike}, State{Way: Silent, Why: "chosen", Chosen: true}, "off"},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				start := time.Now()
				p := New(t.Context(), tt.opts)
				<-p.Settled()
				got := p.State()
				assert.WithinDuration(t, start, got.Since, 100*ms)
				got.Since = time.Time{}
				assert.Equal(t, tt.want, got)
				assert.Equal(t, tt.status, p.Status())
				require.NoError(t, p.Close())
			})
		})
	}
	for w, want := range map[Way]string{Unknown: "unknown", Audio: "audio", BellOnly: "bell only", Silent: "silent"} {
		assert.Equal(t, want, w.String())
	}
}

// TestStuckBellIsSilent: a terminal that takes no stroke rings no bell, and it
// is told so until it does.
func TestStuckBellIsSilent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		block := make(chan struct{})
		p := New(t.Context(), Options{Mode: Bell, Bell: func() { <-block }})
		p.Want(detect.High, 1)
		time.Sleep(stuckAfter - 100*ms)
		assert.Equal(t, BellOnly, p.State().Way)
		time.Sleep(300 * ms)
		assert.Equal(t, Silent, p.State().Way)
		assert.Equal(t, "no sound: the terminal does not take its bell", p.Status())
		close(block)
		time.Sleep(100 * ms)
		assert.Equal(t, BellOnly, p.State().Way)
		require.NoError(t, p.Close())
	})
}

// TestOpeningThatHangs is told after a while, and taken when it ends after all.
func TestOpeningThatHangs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, start: time.Now(), gone: make(chan error, 1)}
		b.mute.Store(new(string))
		hold := make(chan struct{})
		b.Player = New(t.Context(), Options{Bell: b.strike, open: func(ctx context.Context, v *voice) (*device, error) {
			<-hold
			return b.open(ctx, v)
		}})
		b.after(openLimit - time.Second)
		assert.Equal(t, Unknown, b.State().Way)
		b.after(time.Second + ms)
		<-b.Settled()
		assert.Equal(t, BellOnly, b.State().Way)
		assert.Equal(t, "terminal bell (the audio does not answer)", b.Status())
		close(hold)
		b.after(time.Second)
		assert.Equal(t, Audio, b.State().Way)
		require.NoError(t, b.Close())
	})
}
