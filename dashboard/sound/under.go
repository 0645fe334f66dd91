package sound

import (
	"math"
	"sync/atomic"
	"time"
)

const (
	// tickLevel and lifeLevel are peaks against that of an alarm: what lies
	// under the alarms must not be taken for one.
	tickLevel = -12 // dB
	lifeLevel = -15 // dB
	// tickLength is one tick. It is a click with a body: 8 ms hold at least
	// five waves, enough to tell a pitch, too few to be a tone.
	tickLength = Rate * 8 / 1000
	// lifeLength is the life sign: long and round, unlike a tick.
	lifeLength = Rate * 90 / 1000
	// lifePitch is over every alarm's fundamental, and it has no harmonics.
	lifePitch = 1318.5 // Hz
	// tickFresh and lifeFresh are how old a call may be: whoever stops calling
	// is heard to have stopped. Callers come every 50 ms.
	tickFresh = Rate / 2
	lifeFresh = Rate * 3 / 10
)

// quietShare is the share of the limit under which an axis is silent: the
// screen calls it quiet from there on as well.
const quietShare = 0.05

// TickOf says how an oscillation sounds: ticks a second and their pitch in
// Hz; 0 a second is silence. share is the amplitude over the limit: the rate
// is 12 a second at the limit and over it, and falls by six for every tenth of
// it, 2 a second at 10 %. Amplitudes that grow do so by multiples, so equal
// steps of rate are equal steps of time. Under 5 % of the limit it is silent.
// growth is that of the amplitude in 1/s: 1000 Hz where it is steady, an
// octave up where it grows by 2/s or more, half an octave down where it dies
// by 1/s or more. Our choice, no source.
func TickOf(share, growth float64) (perSecond, pitch float64) {
	if !(share >= quietShare) {
		return 0, 0
	}
	if math.IsNaN(growth) {
		growth = 0
	}
	perSecond = 12 * math.Pow(min(share, 1), math.Log10(6))
	return perSecond, 1000 * math.Exp2(max(-1, min(2, growth))/2)
}

// under is what sounds under the alarms: ticks and the life sign. The player
// sets it, every device's voice reads it.
type under struct {
	rate, pitch atomic.Uint64 // of the tick; bits of a float64
	ticked      atomic.Uint64 // calls of Tick
	alive       atomic.Uint64 // calls of Alive
	every       uint64        // samples from one life sign to the next; 0: none
}

func newUnder(life time.Duration) *under {
	return &under{every: uint64(max(0, life.Seconds()) * Rate)}
}

func (u *under) tick(share, growth float64) {
	rate, pitch := TickOf(share, growth)
	u.rate.Store(math.Float64bits(rate))
	u.pitch.Store(math.Float64bits(pitch))
	u.ticked.Add(1)
}

// A watchdog counts samples since a counter last moved.
type watchdog struct {
	seen uint64
	age  uint64
	met  bool // it has moved at all
}

// look moves on by n samples and says whether the counter moved within limit.
func (w *watchdog) look(now uint64, n int, limit uint64) bool {
	if now != w.seen {
		w.seen, w.age, w.met = now, 0, true
	}
	fresh := w.met && w.age < limit
	w.age += uint64(n)
	return fresh
}

// A grain is a short sound that is being made.
type grain struct {
	at, length int
	step       float64 // turns a sample
	top        float64 // its peak, of a whole number
	round      bool    // rises and falls as one wave; else a click that decays
}

// next gives the next sample.
func (g *grain) next() int32 {
	if g.at >= g.length {
		return 0
	}
	t := float64(g.at)
	var env float64
	if g.round {
		env = (1 - math.Cos(2*math.Pi*t/float64(g.length))) / 2
	} else {
		const rise, fall = Rate / 1000, Rate / 500 // 1 ms and 2 ms
		env = ramp(t/rise) * ramp((float64(g.length)-t)/fall) * math.Exp(-max(0, t-rise)/fall)
	}
	g.at++
	return int32(math.Round(g.top * env * math.Sin(2*math.Pi*g.step*t)))
}

// A murmur makes what sounds under the alarms for one voice, sample by
// sample. The voice's lock guards it.
type murmur struct {
	tick, life       grain
	sinceTick        uint64 // samples since the last began
	sinceLife        uint64
	ticking, flowing watchdog
	begun            bool
}

// add mixes into dst. Nothing new begins before sample free: a burst sounds
// there.
func (m *murmur) add(dst []int16, u *under, free int) {
	if !m.begun { // the first of each comes at once
		m.sinceTick, m.sinceLife, m.begun = math.MaxUint64/2, math.MaxUint64/2, true
	}
	rate := math.Float64frombits(u.rate.Load())
	pitch := math.Float64frombits(u.pitch.Load())
	gap := uint64(math.MaxUint64)
	if m.ticking.look(u.ticked.Load(), len(dst), tickFresh) && rate > 0 {
		gap = uint64(Rate/rate + 0.5)
	}
	lifeGap := uint64(math.MaxUint64)
	if m.flowing.look(u.alive.Load(), len(dst), lifeFresh) && u.every > 0 {
		lifeGap = u.every
	}
	for i := range dst {
		if i >= free && m.sinceTick >= gap {
			m.sinceTick = 0
			m.tick = grain{length: tickLength, step: pitch / Rate, top: softPeak(tickLevel)}
		}
		if i >= free && m.sinceLife >= lifeGap {
			m.sinceLife = 0
			m.life = grain{length: lifeLength, step: lifePitch / Rate, top: softPeak(lifeLevel), round: true}
		}
		m.sinceTick++
		m.sinceLife++
		if m.tick.at < m.tick.length || m.life.at < m.life.length {
			dst[i] = clip(int32(dst[i]) + m.tick.next() + m.life.next())
		}
	}
}

// softPeak is the peak of a sound that lies so many dB under an alarm, as a
// whole number.
func softPeak(level float64) float64 { return peak * math.Pow(10, level/20) * math.MaxInt16 }
