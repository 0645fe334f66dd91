package sound

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tetherbell/alarms/detect"
)

// onsets finds where pulses begin, in samples: the level over 2 ms rises over
// a quarter of the top after it was under a tenth. Pulses that are cut short
// before they are that loud do not count, nor can anybody tell them.
func onsets(x []int16) []int {
	const (
		part = Rate / 500
		full = int16(22937) // the peak of an alarm: 0.7 of 32767
	)
	var out []int
	low := true
	for i := 0; i+part <= len(x); i += part {
		top := 0
		for _, s := range x[i : i+part] {
			top = max(top, int(s), -int(s))
		}
		switch {
		case low && top > int(full/4):
			out, low = append(out, i), false
		case top < int(full/10):
			low = true
		}
	}
	return out
}

// steepest is the largest step from one sample to the next.
func steepest(x []int16) int {
	top := 0
	for i := range len(x) - 1 {
		step := int(x[i+1]) - int(x[i])
		top = max(top, step, -step)
	}
	return top
}

// A whim is one thing asked of a player, and the pause after it.
type whim struct {
	what     int
	priority detect.Priority
	pause    time.Duration
}

// The largest number of a whim with a person's keys and without.
const withoutKeys, withKeys = 5, 7

// volley draws what is asked of a player, raise, clear, raise again, hush,
// from nothing to 0.9 s apart, and gives what is heard.
func volley(t *testing.T, r *rapid.T, among []detect.Priority, most int) []int16 {
	whims := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) whim {
		pauses := []time.Duration{0, 1, 7, 20, 50, 50, 120, 900}
		return whim{
			rapid.IntRange(0, most).Draw(t, "what"), rapid.SampledFrom(among).Draw(t, "priority"),
			rapid.SampledFrom(pauses).Draw(t, "pause") * ms,
		}
	}), 40, 120).Draw(r, "whims")
	var b *bench
	synctest.Test(t, func(t *testing.T) { // nothing is drawn inside
		b = newBench(t, Auto)
		for _, w := range whims {
			switch w.what {
			case 0, 1, 2:
				b.alarm(w.priority)
			case 3:
				b.still(w.priority)
			case 4, 5:
				b.still(detect.None)
			case 6:
				b.Hush()
			case 7:
				b.Cut()
			}
			b.after(w.pause)
		}
		require.NoError(t, b.Close())
	})
	return b.since(0)
}

// TestVolleyKeepsTheRhythm: whatever is wished, pulses of a priority begin no
// sooner after one another than in its pattern, so never more than four in a
// second (the 0.5 to 4 Hz of ISO 7731, from memory); and nothing clicks.
func TestVolleyKeepsTheRhythm(t *testing.T) {
	for _, pat := range patterns {
		t.Run(pat.Priority.String(), func(t *testing.T) {
			rapid.Check(t, func(r *rapid.T) {
				x := volley(t, r, []detect.Priority{pat.Priority}, withKeys)
				if loud := steepest(x); loud > steepest(bursts()[pat.Priority])*11/10 {
					r.Fatalf("a click: a step of %d", loud)
				}
				at := onsets(x)
				for i := range len(at) - 1 {
					apart := time.Duration(at[i+1]-at[i]) * time.Second / Rate
					// The device pulls every 10 ms; onsets are seen to 2 ms.
					if apart < periodOf(pat.Priority)-15*ms {
						r.Fatalf("pulses %v apart at %d", apart, at[i])
					}
				}
			})
		})
	}
}

// TestVolleyOfAllPriorities: nothing clicks; two worse ones may cut in within a
// second, before the bursts go on as above. (A person's key may let a lesser one
// in, and so a worse one once more.)
func TestVolleyOfAllPriorities(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		x := volley(t, r, []detect.Priority{detect.Low, detect.Medium, detect.High}, withoutKeys)
		if loud := steepest(x); loud > steepest(bursts()[detect.High])*11/10 {
			r.Fatalf("a click: a step of %d", loud)
		}
		at := onsets(x)
		for i := range at {
			n := 0
			for _, later := range at[i:] {
				if later-at[i] < Rate*98/100 {
					n++
				}
			}
			if n > 6 {
				r.Fatalf("%d pulses in a second at %d", n, at[i])
			}
		}
	})
}

// TestVolleyLeavesWholeBursts: new alarms every 50 ms, cleared between, must
// not keep every burst from its end, for its rhythm tells the priority.
func TestVolleyLeavesWholeBursts(t *testing.T) {
	run(t, Auto, func(b *bench) {
		b.after(time.Second)
		for range 400 {
			b.alarm(detect.High)
			b.after(25 * ms)
			b.still(detect.None)
			b.after(25 * ms)
		}
		whole := 0
		for _, h := range b.bursts() {
			if h.Whole {
				whole++
			}
		}
		assert.GreaterOrEqual(t, whole, 3, "of 20 s")
	})
}
