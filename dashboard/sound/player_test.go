package sound

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
)

func TestRepeatsWhileWanted(t *testing.T) {
	for _, p := range patterns {
		t.Run(p.Priority.String(), func(t *testing.T) {
			run(t, Auto, func(b *bench) {
				b.after(time.Second)
				assert.Equal(t, "audio: test device", b.Status())
				b.alarm(p.Priority)
				again := p.Length() + p.Interval
				b.after(again + p.Length() + 100*ms)
				b.still(detect.None)
				b.after(2 * again)
				b.wantBursts(burst{p.Priority, time.Second, true}, burst{p.Priority, time.Second + again, true})
				assert.Empty(t, b.bell(), "audio is heard, so no bell")
			})
		})
	}
}

func TestShortAlarmSoundsWhole(t *testing.T) {
	for name, between := range map[string]time.Duration{"gone at once": 0, "gone in the middle": time.Second} {
		t.Run(name, func(t *testing.T) {
			run(t, Auto, func(b *bench) {
				b.after(time.Second)
				b.alarm(detect.High)
				if between > 0 {
					b.after(between)
				}
				b.still(detect.None)
				b.after(20 * time.Second)
				b.wantBursts(burst{detect.High, time.Second, true})
			})
		})
	}
}

func TestHigherPreempts(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.alarm(detect.Low)
		b.after(300 * ms)
		b.alarm(detect.Medium)
		b.after(300 * ms)
		b.alarm(detect.High)
		b.after(lengthOf(detect.High) + 500*ms)
		b.wantBursts(
			burst{detect.Low, 1000 * ms, false},
			burst{detect.Medium, 1300 * ms, false},
			burst{detect.High, 1600 * ms, true},
		)
	})
}

func TestPreemptionDoesNotClick(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.alarm(detect.Medium)
		b.after(150 * ms) // the pulse is at its full height
		b.alarm(detect.High)
		b.after(500 * ms)
		b.mu.Lock()
		defer b.mu.Unlock()
		steepest := 0
		for i := range len(b.heard) - 1 {
			step := int(b.heard[i+1]) - int(b.heard[i])
			steepest = max(steepest, step, -step)
		}
		// The tone alone: the steepest step of the pulses themselves.
		tone := 0
		high := bursts()[detect.High]
		for i := range len(high) - 1 {
			step := int(high[i+1]) - int(high[i])
			tone = max(tone, step, -step)
		}
		assert.LessOrEqual(t, steepest, tone*11/10)
	})
}

func TestLowerWaitsForTheEnd(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.alarm(detect.High)
		b.after(time.Second)
		b.still(detect.Low) // the high one has gone
		b.after(6 * time.Second)
		b.wantBursts(
			burst{detect.High, time.Second, true},
			burst{detect.Low, time.Second + lengthOf(detect.High) + aside, true},
		)
	})
}

func TestNewAlarmOfTheSamePriority(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.alarm(detect.High)
		b.after(100 * ms)
		b.alarm(detect.High) // announced by the burst that has only begun
		b.after(900 * ms)
		b.alarm(detect.High) // starts anew at once
		b.after(lengthOf(detect.High) + 500*ms)
		b.alarm(detect.High) // does not wait for the interval either
		b.after(lengthOf(detect.High) + 100*ms)
		b.wantBursts(
			burst{detect.High, 1000 * ms, false},
			burst{detect.High, 2000 * ms, true},
			burst{detect.High, 2500*ms + lengthOf(detect.High), true},
		)
	})
}

// TestFlickerKeepsTheInterval: an alarm that comes and goes without counting
// as new must not ring more often than one that stays.
func TestFlickerKeepsTheInterval(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.alarm(detect.High)
		for range 50 {
			b.after(50 * ms)
			b.still(detect.None)
			b.after(50 * ms)
			b.still(detect.High)
		}
		pat, _ := PatternOf(detect.High)
		b.after(500 * ms)
		got := b.bursts()
		require.Len(t, got, 1, "%v", got)
		b.after(pat.Interval)
		assert.Len(t, b.bursts(), 2)
	})
}

func TestHushAndPause(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.alarm(detect.High)
		b.after(time.Second)
		b.still(detect.None)
		b.Hush()
		b.after(20 * ms)
		b.mu.Lock()
		silentFrom := len(b.heard)
		b.mu.Unlock()
		b.after(10 * time.Second)
		b.mu.Lock()
		for _, s := range b.heard[silentFrom:] {
			require.Zero(t, s)
		}
		b.mu.Unlock()
		b.still(detect.High) // the pause is over
		b.after(100 * ms)
		b.wantBursts(burst{detect.High, time.Second, false}, burst{detect.High, 12020 * ms, false})
	})
}

func TestSequenceNumberFallsBack(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.Want(detect.None, 40)
		b.after(time.Second)
		b.Want(detect.None, 3) // a jump back in a replay
		b.after(time.Second)
		b.Want(detect.Medium, 4)
		b.after(2 * time.Second)
		b.wantBursts(burst{detect.Medium, 2 * time.Second, true})
	})
}
