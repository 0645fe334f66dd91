package sound

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
)

// periodOf is the time from one pulse of a group to the next.
func periodOf(p detect.Priority) time.Duration {
	pat, _ := PatternOf(p)
	return pat.Pulse + pat.Gaps[0]
}

// pulsePause is the least time from a hush to the next pulse.
func pulsePause(p detect.Priority) time.Duration {
	pat, _ := PatternOf(p)
	return pat.Gaps[0]
}

// TestHushLeavesTheOtherAlarm: who acknowledges one of two alarms hears the
// other at once, whole, and no pulse of it comes before its time.
func TestHushLeavesTheOtherAlarm(t *testing.T) {
	for _, left := range []detect.Priority{detect.High, detect.Medium, detect.Low} {
		for _, acked := range []detect.Priority{detect.High, detect.Medium, detect.Low} {
			if acked < left {
				continue // the worse one sounds, and was not acknowledged
			}
			t.Run(acked.String()+" acknowledged, "+left.String()+" left", func(t *testing.T) {
				for _, in := range []time.Duration{ms, 20 * ms, 100 * ms, 230 * ms, 500 * ms} {
					run(t, Auto, func(b *bench) {
						b.after(time.Second)
						b.alarm(acked)
						b.after(in)
						b.still(left)
						b.Hush()
						b.after(20 * ms)
						from := b.pulled()
						b.after(lengthOf(left) + time.Second)
						begun := (in + periodOf(acked) - 1) / periodOf(acked) // pulses
						want := max(in+pulsePause(acked), begun*periodOf(acked))
						got := b.bursts()
						require.NotEmpty(t, got)
						last := got[len(got)-1]
						assert.Equal(t, left, last.Priority)
						assert.True(t, last.Whole, "%v", got)
						at := last.At - time.Second
						assert.InDelta(t, want.Seconds(), at.Seconds(), 0.021, "hushed after %v", in)
						quiet := b.since(from)[:max(0, int((at-in-40*ms).Seconds()*Rate))]
						assert.Empty(t, stretches(quiet), "the acknowledged one is silent at once")
					})
				}
			})
		}
	}
}

// TestHushInTheSameInstant: the key for an old alarm and a new alarm come
// together; the new one is announced.
func TestHushInTheSameInstant(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.alarm(detect.High)
		b.after(time.Second)
		b.alarm(detect.High)
		b.Hush()
		b.after(5 * time.Second)
		got := b.bursts()
		require.Len(t, got, 2)
		assert.True(t, got[1].Whole)
		assert.Less(t, got[1].At, 2300*ms)
	})
	t.Run("in the silence between two bursts", func(t *testing.T) {
		run(t, Auto, func(b *bench) {
			b.alarm(detect.High)
			b.after(lengthOf(detect.High) + time.Second)
			at := time.Since(b.start)
			b.alarm(detect.High)
			b.Hush()
			b.after(lengthOf(detect.High) + 100*ms)
			b.wantBursts(burst{detect.High, 0, true}, burst{detect.High, at, true})
		})
	})
	t.Run("and the new one was acknowledged", func(t *testing.T) {
		run(t, Auto, func(b *bench) {
			b.after(time.Second)
			b.alarm(detect.High)
			b.still(detect.None)
			b.Hush()
			b.after(10 * time.Second)
			assert.Empty(t, b.bursts())
		})
	})
}

// TestHushInSilenceKeepsTheInterval: what is left and was heard whole does not
// ring more often because somebody presses a key.
func TestHushInSilenceKeepsTheInterval(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.alarm(detect.Medium)
		b.after(lengthOf(detect.Medium) + 10*ms)
		b.ticker(3500*ms, b.Hush)
		assert.Len(t, b.bursts(), 1)
		b.after(2 * time.Second)
		pat, _ := PatternOf(detect.Medium)
		b.wantBursts(burst{detect.Medium, time.Second, true},
			burst{detect.Medium, time.Second + pat.Length() + pat.Interval, true})
	})
}

// TestCutKeepsTheInterval: the alarm itself stays, as in a replay.
func TestCutKeepsTheInterval(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		b.alarm(detect.High)
		b.after(500 * ms)
		b.Cut()
		pat, _ := PatternOf(detect.High)
		b.after(pat.Interval + lengthOf(detect.High) + 100*ms)
		b.wantBursts(burst{detect.High, time.Second, false}, burst{detect.High, 1500*ms + pat.Interval, true})
	})
}

// TestHushByTheBell: strokes of the other alarm begin anew.
func TestHushByTheBell(t *testing.T) {
	run(t, Bell, func(b *bench) {
		b.alarm(detect.High)
		b.after(100 * ms)
		b.still(detect.Medium)
		b.Hush()
		b.after(2 * time.Second)
		assert.Equal(t, []time.Duration{0, 250 * ms, 600 * ms}, b.bell())
	})
}
