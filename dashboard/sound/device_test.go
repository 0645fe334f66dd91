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

func TestBellPatterns(t *testing.T) {
	half := 32*ms + 5*150*ms + (100+100+350+100+600)*ms
	for p, want := range map[detect.Priority][]time.Duration{
		detect.High:   {0, 350 * ms, 700 * ms, half, half + 350*ms, half + 700*ms},
		detect.Medium: {0, 350 * ms},
		detect.Low:    {0},
		detect.Note:   nil,
	} {
		t.Run(p.String(), func(t *testing.T) {
			run(t, Bell, func(b *bench) {
				assert.Equal(t, "terminal bell (chosen)", b.Status())
				b.alarm(p)
				b.after(lengthOf(p) + 500*ms)
				got := b.bell()
				require.Len(t, got, len(want))
				for i := range want {
					assert.InDelta(t, want[i].Seconds(), got[i].Seconds(), 0.002)
				}
				if p == detect.High {
					b.after(3 * time.Second)
					assert.Len(t, b.bell(), 9, "the next burst has begun")
				}
			})
		})
	}
}

func TestOffIsSilent(t *testing.T) {
	run(t, Off, func(b *bench) {
		<-b.Settled()
		b.alarm(detect.High)
		b.after(10 * time.Second)
		assert.Equal(t, "off", b.Status())
		assert.Empty(t, b.bell())
		assert.Zero(t, b.opens)
	})
}

func TestNoServerThenOne(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, start: time.Now()}
		b.mute.Store(new(string))
		none := errNoServer
		b.openErr.Store(&none)
		b.Player = New(t.Context(), Options{Bell: b.strike, open: b.open})
		<-b.Settled()
		assert.Equal(t, "terminal bell (no sound server)", b.Status())
		b.alarm(detect.High)
		b.after(time.Second)
		assert.Len(t, b.bell(), 3)
		b.openErr.Store(nil)
		b.after(10 * time.Second)
		assert.Equal(t, 2, b.opens, "tried again after 5 s")
		assert.Equal(t, "audio: test device", b.Status())
		assert.NotEmpty(t, b.bursts(), "the next burst is audio")
		require.NoError(t, b.Close())
	})
}

func TestDeviceFreezes(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.alarm(detect.High)
		b.after(200 * ms)
		b.frozen.Store(true)
		b.after(time.Second)
		assert.Equal(t, "terminal bell (the audio does not answer)", b.Status())
		strokes := b.bell()
		require.NotEmpty(t, strokes, "the burst that was lost is rung by the bell")
		assert.LessOrEqual(t, strokes[0], 1900*ms)
		b.frozen.Store(false)
		b.after(6 * time.Second)
		assert.Equal(t, "audio: test device", b.Status())
	})
}

func TestDeviceNeverStarts(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, start: time.Now()}
		b.mute.Store(new(string))
		b.frozen.Store(true)
		b.Player = New(t.Context(), Options{Bell: b.strike, open: b.open})
		b.after(500 * ms)
		assert.Equal(t, "terminal bell (waiting for the test device)", b.Status())
		b.alarm(detect.Medium)
		b.after(500 * ms)
		assert.Len(t, b.bell(), 2, "the bell stands in")
		<-b.Settled()
		assert.InDelta(t, 3, time.Since(b.start).Seconds(), 0.25)
		assert.Equal(t, "terminal bell (the audio does not answer)", b.Status())
		require.NoError(t, b.Close())
	})
}

func TestDeviceGoes(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.gone <- errors.New("sound server closed the connection")
		b.after(ms)
		assert.Equal(t, "terminal bell (sound server closed the connection)", b.Status())
		assert.Empty(t, b.bell(), "nothing sounded, nothing is rung again")
	})
}

func TestMutedDeviceRingsToo(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		muted := "muted"
		b.mute.Store(&muted)
		b.after(200 * ms)
		assert.Equal(t, "terminal bell (test device muted)", b.Status())
		b.alarm(detect.Medium)
		b.after(2 * time.Second)
		assert.Len(t, b.bell(), 2)
		assert.Len(t, b.bursts(), 1, "it is played all the same")
		b.mute.Store(new(string))
		b.after(200 * ms)
		assert.Equal(t, "audio: test device", b.Status())
	})
}

func TestBlockedBellHoldsNothingUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		block := make(chan struct{})
		p := New(t.Context(), Options{Mode: Bell, Bell: func() { <-block }})
		for i := range 100 {
			p.Want(detect.High, uint64(i))
			time.Sleep(400 * ms)
		}
		begin := time.Now()
		require.Error(t, p.Close())
		assert.Equal(t, closeWait, time.Since(begin))
		close(block)
	})
}

func TestNoBell(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := New(t.Context(), Options{open: func(context.Context, *voice) (*device, error) { return nil, errNoServer }})
		<-p.Settled()
		p.Want(detect.High, 1)
		time.Sleep(time.Second)
		assert.Equal(t, "no sound: no sound server", p.Status())
		require.NoError(t, p.Close())
	})
}

func TestPlayAll(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, start: time.Now()}
		b.mute.Store(new(string))
		var said []string
		err := PlayAll(t.Context(), Options{Bell: b.strike, open: b.open}, func(line string) { said = append(said, line) })
		require.NoError(t, err)
		assert.Equal(t, []string{
			"audio: test device",
			"high: 10 pulses of 150 ms at 784 Hz, again after 2.6 s",
			"medium: 3 pulses of 200 ms at 659 Hz, again after 4.0 s",
			"low: 2 pulses of 200 ms at 523 Hz, again after 16.0 s",
		}, said)
		got := b.bursts()
		require.Len(t, got, 3)
		for i, p := range patterns {
			assert.Equal(t, p.Priority, got[i].Priority)
			assert.True(t, got[i].Whole)
		}
	})
}

func TestPlayAllIsStopped(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, start: time.Now()}
		b.mute.Store(new(string))
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		err := PlayAll(ctx, Options{open: b.open}, func(string) {})
		assert.ErrorIs(t, err, context.DeadlineExceeded)
		assert.Less(t, time.Since(b.start), 1500*ms)
	})
}

func TestModeNamed(t *testing.T) {
	for _, m := range []Mode{Auto, Bell, Off} {
		got, err := ModeNamed(m.String())
		require.NoError(t, err)
		assert.Equal(t, m, got)
	}
	_, err := ModeNamed("loud")
	assert.EqualError(t, err, `sound "loud": want auto, bell or off`)
}

// TestSoundAllocatesNothing: the caller's side and the device's side.
func TestSoundAllocatesNothing(t *testing.T) {
	p := New(t.Context(), Options{Mode: Off})
	defer p.Close()
	assert.Zero(t, testing.AllocsPerRun(100, func() { p.Want(detect.High, 1) }))
	v := &voice{}
	v.start(bursts()[detect.High])
	part := make([]int16, Rate/100)
	assert.Zero(t, testing.AllocsPerRun(100, func() { v.fill(part) }))
}

// TestAlarmBeforeTheDeviceFlows: with no bell, the burst is kept for the
// device that is still waking.
func TestAlarmBeforeTheDeviceFlows(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, start: time.Now()}
		b.mute.Store(new(string))
		b.frozen.Store(true)
		b.Player = New(t.Context(), Options{open: b.open})
		b.alarm(detect.Low)
		b.after(time.Second)
		assert.Equal(t, "no sound: waiting for the test device", b.Status())
		b.still(detect.None)
		b.frozen.Store(false)
		b.after(2 * time.Second)
		got := b.bursts()
		require.Len(t, got, 1)
		assert.True(t, got[0].Whole)
		require.NoError(t, b.Close())
	})
}

// TestDeviceComesIntoABurst: it begins there anew, and what follows keeps its
// distance from the end that is heard.
func TestDeviceComesIntoABurst(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, start: time.Now(), gone: make(chan error, 1)}
		b.mute.Store(new(string))
		late := func(ctx context.Context, v *voice) (*device, error) {
			time.Sleep(3 * time.Second)
			return b.open(ctx, v)
		}
		b.Player = New(t.Context(), Options{open: late})
		b.alarm(detect.High)
		pat, _ := PatternOf(detect.High)
		b.after(3*time.Second + 2*pat.Length() + pat.Interval + 100*ms)
		// The device's own time begins after 3 s.
		b.wantBursts(burst{detect.High, 0, true}, burst{detect.High, pat.Length() + pat.Interval, true})
		require.NoError(t, b.Close())
	})
}

// TestStrangePriority: one that is worse than all that is known is heard as
// the worst, not taken for silence.
func TestStrangePriority(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.alarm(detect.High + 1)
		b.after(500 * ms)
		b.Hush()
		b.after(4 * time.Second)
		got := b.bursts()
		require.Len(t, got, 2)
		assert.Equal(t, detect.High, got[1].Priority)
	})
}
