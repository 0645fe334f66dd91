package sound

import (
	"context"
	"slices"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/dashboard/vigil"
)

// watchedBench is a bench whose player looks after a desk and a screen that
// beat as the test tells them. It starts its device as newBench does.
func watchedBench(t *testing.T, mode Mode) (*bench, *vigil.Watch) {
	w := new(vigil.Watch)
	b := &bench{t: t, start: time.Now(), gone: make(chan error, 1)}
	b.mute.Store(new(string))
	b.Player = New(t.Context(), Options{Mode: mode, Bell: b.strike, open: b.open, Watch: w})
	return b, w
}

// beat lets time pass, with these members alive.
func (b *bench) beat(w *vigil.Watch, d time.Duration, who ...vigil.Member) {
	for end := time.Now().Add(d); time.Now().Before(end); {
		for _, m := range who {
			w.Beat(m)
		}
		b.after(20 * time.Millisecond)
	}
}

// heardFrom is when the first sound came after a moment, since the start.
func (b *bench) heardFrom(at time.Duration) (time.Duration, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for i := int(at.Seconds() * Rate); i < len(b.heard); i++ {
		if b.heard[i] > 500 || b.heard[i] < -500 {
			return time.Duration(i) * time.Second / Rate, true
		}
	}
	return 0, false
}

func TestDeskThatStandsStillIsHeard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, w := watchedBench(t, Auto)
		b.beat(w, 2*time.Second, vigil.Desk, vigil.Screen)
		assert.Empty(t, b.bursts())
		stall := time.Since(b.start)
		b.beat(w, 8*time.Second, vigil.Screen)
		heard := b.bursts()
		require.NotEmpty(t, heard)
		assert.Equal(t, detect.High, heard[0].Priority)
		assert.Less(t, heard[0].At-stall, time.Second)
		assert.GreaterOrEqual(t, len(heard), 2, "it goes on")
		t.Logf("heard %v after the stall", heard[0].At-stall)
		before := len(heard)
		b.beat(w, 12*time.Second, vigil.Desk, vigil.Screen)
		assert.LessOrEqual(t, len(b.bursts()), before+1, "it ends with the stall")
		require.NoError(t, b.Close())
	})
}

func TestDeskThatBreaksDownIsHeard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, w := watchedBench(t, Auto)
		b.beat(w, 2*time.Second, vigil.Desk)
		fall := time.Since(b.start)
		w.Fall(vigil.Desk)
		b.after(2 * time.Second)
		heard := b.bursts()
		require.NotEmpty(t, heard)
		assert.Less(t, heard[0].At-fall, 200*time.Millisecond)
		require.NoError(t, b.Close())
	})
}

func TestScreenThatStandsStillIsHeardAsNoAlarm(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, w := watchedBench(t, Auto)
		b.beat(w, 2*time.Second, vigil.Desk, vigil.Screen)
		stall := time.Since(b.start)
		b.beat(w, 8*time.Second, vigil.Desk)
		assert.Empty(t, b.bursts(), "it is no alarm")
		at, ok := b.heardFrom(stall)
		require.True(t, ok)
		assert.Less(t, at-stall, time.Second)
		t.Logf("heard %v after the stall", at-stall)
		again, ok := b.heardFrom(at + 2*time.Second)
		require.True(t, ok, "it is said again")
		assert.InDelta(t, noticeEvery.Seconds(), (again - at).Seconds(), 0.2)
		b.alarm(detect.High)
		b.beat(w, 2*time.Second, vigil.Desk)
		require.Len(t, b.bursts(), 1, "an alarm comes through")
		require.NoError(t, b.Close())
	})
}

// Where what the device plays is not heard, the notice and the falling chime come
// by the bell.
func TestNoticeOfMutedAudio(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, w := watchedBench(t, Auto)
		b.beat(w, 2*time.Second, vigil.Desk, vigil.Screen)
		muted := "muted"
		b.mute.Store(&muted)
		b.beat(w, 3*time.Second, vigil.Desk, vigil.Screen)
		assert.Len(t, b.bell(), 2, "the audio is lost")
		b.beat(w, 6500*time.Millisecond, vigil.Desk)
		assert.Len(t, b.bell(), 4, "the screen: a stroke every five seconds")
		b.beat(w, 2*time.Second, vigil.Desk, vigil.Screen)
		assert.Len(t, b.bell(), 6, "the audio is lost still")
		b.Chime(false)
		b.beat(w, time.Second, vigil.Desk, vigil.Screen)
		assert.Len(t, b.bell(), 7, "the chime")
		b.Chime(true)
		b.beat(w, time.Second, vigil.Desk, vigil.Screen)
		assert.Len(t, b.bell(), 7, "a rising one is no news that matters")
		require.NoError(t, b.Close())
	})
}

// Audio that somebody relied on and that is lost is told by the bell at once, and now
// and then, until it is back; not under an alarm, which the bell rings itself.
func TestLostAudioIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, w := watchedBench(t, Auto)
		b.beat(w, 2*time.Second, vigil.Desk, vigil.Screen)
		require.Empty(t, b.bell())
		lost, back := "without an output", ""
		at := time.Since(b.start)
		b.mute.Store(&lost)
		b.beat(w, 25*time.Second, vigil.Desk, vigil.Screen)
		strokes := b.bell()
		require.Len(t, strokes, 6, "two every ten seconds: %v", strokes)
		assert.Less(t, strokes[0]-at, 300*time.Millisecond)
		assert.Equal(t, stroke, strokes[1]-strokes[0])
		assert.InDelta(t, lostEvery.Seconds(), (strokes[2] - strokes[0]).Seconds(), 0.2)
		b.alarm(detect.High)
		b.beat(w, 3*time.Second, vigil.Desk, vigil.Screen)
		assert.Len(t, b.bell(), 12, "the group of an alarm, twice, and nothing else")
		b.still(detect.None)
		b.mute.Store(&back)
		b.beat(w, 25*time.Second, vigil.Desk, vigil.Screen)
		assert.Len(t, b.bell(), 12, "it is back")
		w.Rest(vigil.Desk)
		b.mute.Store(&lost)
		b.beat(w, 25*time.Second, vigil.Screen)
		assert.Len(t, b.bell(), 12, "nothing is watched any more")
		require.NoError(t, b.Close())
	})
}

func TestStallsByBell(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, w := watchedBench(t, Bell)
		b.beat(w, time.Second, vigil.Desk, vigil.Screen)
		b.beat(w, 2*time.Second, vigil.Desk)
		assert.Len(t, b.strokes, 1, "the screen: one stroke")
		b.beat(w, 2*time.Second, vigil.Screen)
		assert.GreaterOrEqual(t, len(b.strokes), 4, "the desk: the strokes of a high alarm")
		require.NoError(t, b.Close())
	})
}

// What is worse is heard at once, by a whole group of its own.
func TestStandinHearsWhatIsNew(t *testing.T) {
	for _, c := range []struct {
		name   string
		rises  map[int]detect.Priority // from a millisecond on
		before int                     // no stroke of it is looked at before
		want   []int
	}{
		{"none to high", map[int]detect.Priority{1000: detect.High}, 1000, []int{1000, 1350, 1700, 3700, 4050}},
		{"medium to high", map[int]detect.Priority{0: detect.Medium, 1000: detect.High}, 1000, []int{1000, 1350, 1700}},
		{"amid a group", map[int]detect.Priority{100: detect.High}, 0, []int{0, 350, 700, 1050, 3050}},
		{"falls and rises again", map[int]detect.Priority{0: detect.High, 1000: detect.None, 1500: detect.High}, 1000, []int{1500, 1850, 2200}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var s Standin
			begin, p := time.Now(), detect.None
			var got []int
			for ms := 0; ms < 6000 && len(got) < len(c.want); ms += 10 {
				if now, ok := c.rises[ms]; ok {
					p = now
				}
				if s.Strike(begin.Add(time.Duration(ms)*time.Millisecond), true, p) && ms >= c.before {
					got = append(got, ms)
				}
			}
			require.Equal(t, c.want, got)
		})
	}
}

// Words tell of the stall, and of what they told before once it is over.
func TestStallInWords(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := new(vigil.Watch)
		var said []string
		b := &bench{t: t, start: time.Now(), gone: make(chan error, 1)}
		b.mute.Store(new(string))
		b.Player = New(t.Context(), Options{Mode: Auto, Bell: b.strike, open: b.open, Watch: w, Speak: true,
			voice: &program{name: "test"}, utter: func(_ context.Context, text string) error {
				b.mu.Lock()
				defer b.mu.Unlock()
				said = append(said, text)
				return nil
			}})
		b.beat(w, time.Second, vigil.Desk, vigil.Screen)
		b.beat(w, 3*time.Second, vigil.Desk)
		b.mu.Lock()
		assert.True(t, slices.Contains(said, screenWords), said)
		b.mu.Unlock()
		b.beat(w, 8*time.Second, vigil.Screen)
		b.mu.Lock()
		assert.True(t, slices.Contains(said, engineWords), said)
		b.mu.Unlock()
		require.NoError(t, b.Close())
	})
}

// A panic of the loop ends no program: it is told, and the others know at once.
func TestPlayerBreaksDown(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, w := watchedBench(t, Off)
		require.NoError(t, b.Close())
		var boom atomic.Bool
		w.OnBeat = func(m vigil.Member) {
			if m == vigil.Sound && boom.Load() {
				panic("test")
			}
		}
		b.Player = New(t.Context(), Options{Mode: Auto, Bell: b.strike, open: b.open, Watch: w})
		eyes := w.Looker(vigil.Desk)
		b.beat(w, time.Second, vigil.Desk)
		eyes.Look(time.Now())
		boom.Store(true)
		b.after(100 * time.Millisecond)
		s := b.State()
		assert.Equal(t, Silent, s.Way)
		assert.True(t, s.Lost)
		assert.Contains(t, b.Status(), errBroken.Error())
		eyes.Look(time.Now())
		assert.True(t, eyes.Broken(vigil.Sound))
		require.NoError(t, b.Close())
	})
}

// A voice that panics is a dead device: the bell rings on.
func TestVoiceBreaksDown(t *testing.T) {
	v := new(voice)
	v.under = &under{every: 1}
	v.murmur.life = grain{at: 1, length: 2}
	v.start(make([]int16, 4))
	v.fading = [fadeSamples]int16{}
	v.tail = make([]int16, 2)
	part := make([]int16, 8)
	func() {
		defer v.rescue(part)
		panic("test")
	}()
	pulls := v.pulls.Load()
	v.fill(part)
	assert.Equal(t, pulls, v.pulls.Load(), "no pull is counted")
	assert.Equal(t, make([]int16, 8), part)
}

func TestStandin(t *testing.T) {
	cases := []struct {
		name     string
		down     bool
		sounding detect.Priority
		want     []int // milliseconds
	}{
		{"the sound goes", false, detect.High, nil},
		{"nothing rings", true, detect.None, []int{0, 350, 10350, 10700}},
		{"high", true, detect.High, []int{0, 350, 700, 2700, 3050, 3400, 5400, 5750, 6100, 8100, 8450, 8800, 10800, 11150, 11500}},
		{"medium", true, detect.Medium, []int{0, 350, 4350, 4700, 8700, 9050}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var s Standin
			begin := time.Now()
			var got []int
			for ms := 0; ms < 12_000; ms += 10 {
				if s.Strike(begin.Add(time.Duration(ms)*time.Millisecond), c.down, c.sounding) {
					got = append(got, ms)
				}
			}
			require.Equal(t, c.want, got)
		})
	}
}
