package sound

import (
	"math"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tetherbell/alarms/detect"
)

func TestTickOf(t *testing.T) {
	for _, tt := range []struct {
		name          string
		share, growth float64
		rate, pitch   float64
	}{
		{"nothing", 0, 0, 0, 0},
		{"quiet as on the screen", 0.049, 3, 0, 0},
		{"a tenth", 0.1, 0, 2, 1000},
		{"the limit", 1, 0, 12, 1000},
		{"over it", 3, 0, 12, 1000},
		{"grows by 2/s", 1, 2, 12, 2000},
		{"grows faster", 1, 9, 12, 2000},
		{"dies", 0.1, -1, 2, 1000 / math.Sqrt2},
		{"growth not known", 0.1, math.NaN(), 2, 1000},
		{"share not known", math.NaN(), 1, 0, 0},
		{"no limit", math.Inf(1), 1, 12, 1000 * math.Sqrt2},
	} {
		t.Run(tt.name, func(t *testing.T) {
			rate, pitch := TickOf(tt.share, tt.growth)
			assert.InDelta(t, tt.rate, rate, 1e-9)
			assert.InDelta(t, tt.pitch, pitch, 1e-6)
		})
	}
}

func TestTickIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share, more := rapid.Float64Range(0, 2).Draw(t, "share"), rapid.Float64Range(0, 1).Draw(t, "more")
		growth, faster := rapid.Float64Range(-5, 5).Draw(t, "growth"), rapid.Float64Range(0, 5).Draw(t, "faster")
		rate, pitch := TickOf(share, growth)
		rateMore, _ := TickOf(share+more, growth)
		_, pitchFaster := TickOf(share, growth+faster)
		assert.LessOrEqual(t, rate, rateMore)
		assert.LessOrEqual(t, pitch, pitchFaster)
		assert.Equal(t, share < quietShare, rate == 0)
	})
}

// A sound is a stretch that is no silence, in samples.
type stretch struct{ from, to int }

// stretches finds sounds parted by at least 20 ms of silence.
func stretches(x []int16) []stretch {
	var out []stretch
	for i, s := range x {
		if s > -3 && s < 3 {
			continue
		}
		if n := len(out); n > 0 && i-out[n-1].to < Rate/50 {
			out[n-1].to = i
		} else {
			out = append(out, stretch{i, i})
		}
	}
	return out
}

// ticker calls what a caller calls, every 50 ms.
func (b *bench) ticker(d time.Duration, call func()) {
	for end := time.Now().Add(d); time.Now().Before(end); {
		call()
		b.after(50 * ms)
	}
}

func (b *bench) since(from int) []int16 {
	b.mu.Lock()
	defer b.mu.Unlock()
	return append([]int16(nil), b.heard[from:]...)
}

// TestTickIsExact: the ticks lie to the sample, have the level and the pitch,
// and stop when nobody calls any more.
func TestTickIsExact(t *testing.T) {
	for _, tt := range []struct{ share, growth float64 }{{0.1, 0}, {0.5, 1}, {1, 2}} {
		run(t, Auto, func(b *bench) {
			rate, pitch := TickOf(tt.share, tt.growth)
			b.after(time.Second)
			b.ticker(3*time.Second, func() { b.Tick(tt.share, tt.growth) })
			from := b.pulled()
			x := b.since(0)
			found := stretches(x)
			assert.InDelta(t, 3*rate, len(found), 1.01)
			for i := range found[1:] {
				assert.InDelta(t, Rate/rate, found[i+1].from-found[i].from, 1)
				assert.LessOrEqual(t, found[i].to-found[i].from, tickLength)
			}
			var tick []float64
			top := 0
			for _, s := range x[found[0].from : found[0].to+1] {
				tick, top = append(tick, float64(s)), max(top, int(s))
			}
			hz, _ := strongest(spectrum(tick))
			assert.InDelta(t, pitch, hz, 0.04*pitch)
			assert.Less(t, 20*math.Log10(float64(top)/(peak*math.MaxInt16)), -12.0, "under an alarm, dB")
			b.after(5 * time.Second)
			late := stretches(b.since(from + Rate/2))
			assert.Empty(t, late, "half a second after the last call it is still")
		})
	}
}

// TestTickMakesRoom: no tick under a burst, and the burst is the same with
// ticks as without them, but for what a tick that had begun leaves.
func TestTickMakesRoom(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.ticker(time.Second, func() { b.Tick(1, 0) })
		b.alarm(detect.High)
		b.ticker(lengthOf(detect.High)-200*ms, func() { b.Tick(1, 0) })
		got := b.bursts()
		require.Len(t, got, 1)
		from := int(got[0].At.Seconds() * Rate)
		for i, s := range b.since(from + tickLength) {
			if i+tickLength < len(bursts()[detect.High]) {
				require.Equal(t, bursts()[detect.High][i+tickLength], s, "sample %d of the burst", i)
			}
		}
		b.still(detect.None)
		b.ticker(time.Second, func() { b.Tick(1, 0) })
		assert.Len(t, b.bursts(), 1)
		assert.True(t, b.bursts()[0].Whole)
		assert.Greater(t, len(stretches(b.since(b.pulled()-Rate/2))), 4, "afterwards it ticks again")
	})
}

func TestCalmIsSilent(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.ticker(3*time.Second, func() { b.Tick(0.04, 5); b.Tick(0, 0); b.Alive() })
		assert.Empty(t, stretches(b.since(0)), "and no life sign unless it was asked for")
	})
	run(t, Bell, func(b *bench) {
		b.ticker(3*time.Second, func() { b.Tick(1, 5); b.Alive(); b.Chime(true) })
		assert.Empty(t, b.bell(), "the bell is for alarms")
	})
}

func TestFlickerDoesNotHurryTicks(t *testing.T) {
	run(t, Auto, func(b *bench) {
		on := false
		b.ticker(4*time.Second, func() {
			on = !on
			b.Tick(map[bool]float64{true: 0.1, false: 0}[on], 0)
		})
		assert.LessOrEqual(t, len(stretches(b.since(0))), 9, "2 a second at most")
	})
}

// TestLifeSign: one every two seconds while data come, none within a period
// after they stopped, and one at once when they are back.
func TestLifeSign(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, start: time.Now()}
		b.mute.Store(new(string))
		b.Player = New(t.Context(), Options{open: b.open, Life: 2 * time.Second})
		b.ticker(9*time.Second, b.Alive)
		x := b.since(0)
		found := stretches(x)
		require.Len(t, found, 5)
		for i := range found[1:] {
			assert.InDelta(t, 2*Rate, found[i+1].from-found[i].from, 3)
		}
		top := 0
		for _, s := range x {
			top = max(top, int(s))
		}
		assert.InDelta(t, lifeLevel, 20*math.Log10(float64(top)/(peak*math.MaxInt16)), 0.1)
		from := b.pulled()
		b.after(6 * time.Second) // data stop
		assert.Empty(t, stretches(b.since(from)))
		from = b.pulled()
		b.ticker(time.Second, b.Alive)
		assert.Len(t, stretches(b.since(from)), 1, "data are back")
		require.NoError(t, b.Close())
	})
}

func TestChime(t *testing.T) {
	for ok, want := range map[bool][2]float64{true: {chimeLow, chimeHigh}, false: {chimeHigh, chimeLow}} {
		run(t, Auto, func(b *bench) {
			b.after(time.Second)
			b.Chime(ok)
			b.after(time.Second)
			x := b.since(0)
			found := stretches(x)
			require.Len(t, found, 1)
			apart := int(chimeApart.Seconds() * Rate)
			for i, hz := range want {
				var note []float64
				for _, s := range x[found[0].from+i*apart : found[0].from+(i+1)*apart] {
					note = append(note, float64(s))
				}
				got, _ := strongest(spectrum(note))
				assert.InDelta(t, hz, got, 12, "note %d", i)
			}
			top := 0
			for _, s := range x {
				top = max(top, int(s), -int(s))
			}
			assert.Less(t, 20*math.Log10(float64(top)/(peak*math.MaxInt16)), chimeLevel+0.0)
		})
	}
}

// TestBellTellsBadNews: a falling chime is a stroke where only the bell is heard,
// a rising one is none; beside an alarm neither is.
func TestBellTellsBadNews(t *testing.T) {
	run(t, Bell, func(b *bench) {
		b.after(time.Second)
		b.Chime(true)
		b.after(time.Second)
		assert.Empty(t, b.bell())
		b.Chime(false)
		b.after(time.Second)
		assert.Len(t, b.bell(), 1)
	})
	run(t, Bell, func(b *bench) {
		b.alarm(detect.Medium)
		b.Chime(false)
		b.after(time.Second)
		assert.Len(t, b.bell(), 2, "the alarm's own")
	})
	run(t, Off, func(b *bench) {
		b.Chime(false)
		b.after(time.Second)
		assert.Empty(t, b.bell())
	})
}

// TestChimeMakesRoom: it is not played beside an alarm, and one that sounds
// ends when an alarm begins, without a click.
func TestChimeMakesRoom(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.alarm(detect.Medium)
		b.after(100 * ms)
		b.Chime(true)
		b.after(3 * time.Second)
		b.Chime(true) // between the bursts of an alarm that is still wanted
		b.after(time.Second)
		b.wantBursts(burst{detect.Medium, time.Second, true})
		found := stretches(b.since(0))
		assert.Len(t, found, patternAt(detect.Medium).Pulses(), "nothing but the pulses")
	})
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.Chime(false)
		b.after(50 * ms)
		b.alarm(detect.High)
		b.after(lengthOf(detect.High) + 100*ms)
		got := b.bursts()
		require.Len(t, got, 1)
		assert.InDelta(t, 1.05, got[0].At.Seconds(), 0.021)
		assert.True(t, got[0].Whole)
	})
}

// TestUnderAllocatesNothing: ticks, life sign, rotors and a burst that cuts
// another off.
func TestUnderAllocatesNothing(t *testing.T) {
	p := New(t.Context(), Options{Mode: Off})
	defer p.Close()
	rotors := []float64{80, 81, 82, 83}
	assert.Zero(t, testing.AllocsPerRun(100, func() { p.Tick(1, 1); p.Alive(); p.Rotors(rotors, 2) }))
	u := newUnder(time.Second)
	v := &voice{under: u}
	part := make([]int16, Rate/100)
	assert.Zero(t, testing.AllocsPerRun(300, func() { u.tick(1, 1); u.alive.Add(1); v.fill(part) }))
	tune := tuner{lib: pitched(), last: map[detect.Priority]int{detect.High: 0}}
	r := noiseOf(rotors, 2)
	assert.Zero(t, testing.AllocsPerRun(20, func() { v.start(tune.burst(detect.High, &r, true)); v.fill(part) }))
}

func BenchmarkFillTicking(b *testing.B) { // 10 ms of sound with everything on
	u := newUnder(time.Second)
	v := &voice{under: u}
	part := make([]int16, Rate/100)
	b.ReportAllocs()
	for b.Loop() {
		u.tick(1, 1)
		u.alive.Add(1)
		v.fill(part)
	}
}
