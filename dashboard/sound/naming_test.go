package sound

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
)

// texts are what was spoken to its end.
func (m *mouth) texts() (out []string) {
	for _, s := range m.heard() {
		if s.whole {
			out = append(out, s.text)
		}
	}
	return out
}

// underNoTones checks that no words began while a burst sounded.
func underNoTones(t *testing.T, b *bench, m *mouth) {
	t.Helper()
	tones := b.bursts()
	require.NotEmpty(t, tones)
	for _, s := range m.heard() {
		for _, tone := range tones {
			begins, ends := tone.At, tone.At+lengthOf(tone.Priority)
			if tone.Whole {
				assert.False(t, s.at > begins && s.at < ends, "%v under %v", s, tone)
			}
		}
	}
}

// TestEveryAlarmIsNamed: of alarms raised at once each is told, the worst
// first, and once.
func TestEveryAlarmIsNamed(t *testing.T) {
	for name, apart := range map[string]time.Duration{"at once": 0, "in turn": 400 * ms} {
		t.Run(name, func(t *testing.T) {
			speaking(t, Auto, func(b *bench, m *mouth) {
				b.after(time.Second)
				b.alarm(detect.Medium)
				b.warn("motor 3. ease off", detect.Medium)
				b.after(apart)
				b.alarm(detect.High)
				b.warn("roll. cut throttle", detect.High)
				b.after(apart)
				b.alarm(detect.High)
				b.warn("pitch. cut throttle", detect.High)
				b.after(50 * time.Second)
				assert.Equal(t, []string{"roll. cut throttle", "pitch. cut throttle", "motor 3. ease off"}, m.texts())
				underNoTones(t, b, m)
			})
		})
	}
}

// TestShortWordsShareASilence: two that fit into it need not wait a burst, and
// a low alarm's bursts lie 16 s apart.
func TestShortWordsShareASilence(t *testing.T) {
	speaking(t, Auto, func(b *bench, m *mouth) {
		b.after(time.Second)
		b.alarm(detect.Low)
		b.warn("pack. land", detect.Low)
		b.warn("link. look at the cable", detect.Low)
		b.after(8 * time.Second)
		assert.Equal(t, []string{"pack. land", "link. look at the cable"}, m.texts())
	})
}

// TestNamedAfterTheSoundPause: what was raised while a person wanted quiet is
// named when it is heard.
func TestNamedAfterTheSoundPause(t *testing.T) {
	speaking(t, Auto, func(b *bench, m *mouth) {
		b.after(time.Second)
		b.seq++
		b.still(detect.None) // a new alarm in a pause
		b.warn("motor 3. ease off", detect.Medium)
		b.after(40 * time.Second)
		assert.Empty(t, m.heard())
		b.still(detect.Medium)
		b.after(lengthOf(detect.Medium) + 3*time.Second)
		assert.Equal(t, []string{"motor 3. ease off"}, m.texts())
	})
}

// TestHushLeavesTheOthersWords: who acknowledges one alarm hears the other's
// words from their beginning, as often as that happens.
func TestHushLeavesTheOthersWords(t *testing.T) {
	speaking(t, Auto, func(b *bench, m *mouth) {
		b.after(time.Second)
		b.alarm(detect.High)
		b.warn("pitch. cut throttle", detect.High)
		for range 4 {
			for n := 0; !m.talks.Load(); n++ {
				require.Less(t, n, 300, "nothing is said for half a minute")
				b.after(100 * ms)
			}
			b.Hush()
			b.after(10 * ms)
			require.False(t, m.heard()[len(m.heard())-1].whole)
		}
		b.still(detect.High)
		b.after(lengthOf(detect.High) + 8*time.Second)
		assert.Equal(t, []string{"pitch. cut throttle"}, m.texts())
	})
	t.Run("and a cut does not", func(t *testing.T) {
		speaking(t, Auto, func(b *bench, m *mouth) {
			b.alarm(detect.High)
			b.warn("pitch. cut throttle", detect.High)
			b.after(lengthOf(detect.High) + wordsAfter + 700*ms)
			b.Cut()
			b.after(20 * time.Second)
			assert.Len(t, m.heard(), 1)
		})
	})
}

// TestWordsCutByAnotherAlarm are begun again, but not for ever.
func TestWordsCutByAnotherAlarm(t *testing.T) {
	speaking(t, Auto, func(b *bench, m *mouth) {
		b.after(time.Second)
		b.alarm(detect.High)
		b.warn("pitch. cut throttle", detect.High)
		for range 5 {
			b.after(lengthOf(detect.High) + wordsAfter + 400*ms)
			b.alarm(detect.High)
		}
		b.after(20 * time.Second)
		assert.Len(t, m.heard(), enoughCuts)
	})
}

// TestNamedWhenTheProgramIsBack: a program that fails or hangs keeps
// nothing from being named later; it is not tried more often than a device.
func TestNamedWhenTheProgramIsBack(t *testing.T) {
	for name, broken := range map[string]func(context.Context) error{
		"fails": func(context.Context) error { return errors.New("exit status 1") },
		"hangs": func(ctx context.Context) error { <-ctx.Done(); return ctx.Err() },
	} {
		t.Run(name, func(t *testing.T) {
			speaking(t, Auto, func(b *bench, m *mouth) {
				b.after(time.Second)
				var tries atomic.Int32
				other := func(ctx context.Context, _ string) error {
					tries.Add(1)
					return broken(ctx)
				}
				m.other.Store(&other)
				b.alarm(detect.High)
				b.warn("pitch. cut throttle", detect.High)
				b.after(30 * time.Second)
				assert.LessOrEqual(t, tries.Load(), int32(30*time.Second/retry))
				assert.Greater(t, tries.Load(), int32(1))
				m.other.Store(nil)
				b.after(30 * time.Second)
				assert.Equal(t, []string{"pitch. cut throttle"}, m.texts())
			})
		})
	}
}

// TestNamesAreForgotten: who is left out is not told; what comes back as the
// same and was only gone for a while is not told twice.
func TestNamesAreForgotten(t *testing.T) {
	speaking(t, Auto, func(b *bench, m *mouth) {
		pitch := Naming{ID: 1, Priority: detect.High, Text: "pitch. cut throttle"}
		roll := Naming{ID: 2, Priority: detect.High, Text: "roll. cut throttle"}
		b.alarm(detect.High)
		b.Name([]Naming{pitch, roll})
		b.after(time.Second)
		b.Name([]Naming{roll}) // pitch was acknowledged
		b.after(5 * time.Second)
		assert.Equal(t, []string{roll.Text}, m.texts())
		roll.Gone = true
		b.Name([]Naming{roll})
		b.after(7 * time.Second)
		roll.Gone = false
		b.Name([]Naming{roll})
		b.after(12 * time.Second)
		assert.Equal(t, []string{roll.Text}, m.texts())
		b.Name(nil)
		b.after(time.Second)
		b.Name([]Naming{roll})
		b.after(12 * time.Second)
		assert.Equal(t, []string{roll.Text, roll.Text}, m.texts())
	})
}

func TestNamingsAreBounded(t *testing.T) {
	var list []Naming
	for i := range 1000 {
		list = append(list, Naming{ID: uint64(i / 2), Priority: detect.Low, Text: "x"})
	}
	var q namings
	for range 3 {
		q.take(list, time.Time{})
		assert.Len(t, q.all, maxNamings)
	}
	assert.EqualValues(t, maxNamings-1, q.all[maxNamings-1].ID, "each once")
}
