package sound

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tetherbell/alarms/detect"
)

// A mouth is a speech program in fake time: a word takes 300 ms.
type mouth struct {
	mu    sync.Mutex
	start time.Time
	said  []saying
	talks atomic.Bool
	other atomic.Pointer[func(context.Context, string) error] // speaks in its place
	err   error
}

type saying struct {
	text  string
	at    time.Duration
	whole bool
}

func (m *mouth) utter(ctx context.Context, text string) error {
	if other := m.other.Load(); other != nil {
		return (*other)(ctx, text)
	}
	at := time.Since(m.start)
	t := time.NewTimer(time.Duration(len(strings.Fields(text))) * 300 * ms)
	defer t.Stop()
	whole := true
	m.talks.Store(true)
	defer m.talks.Store(false)
	select {
	case <-t.C:
	case <-ctx.Done():
		whole = false
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.said = append(m.said, saying{text, at.Round(10 * ms), whole})
	return m.err
}

func (m *mouth) heard() []saying {
	m.mu.Lock()
	defer m.mu.Unlock()
	return append([]saying(nil), m.said...)
}

// speaking gives a test a bench that speaks.
func speaking(t *testing.T, mode Mode, f func(b *bench, m *mouth)) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, start: time.Now(), gone: make(chan error, 1)}
		b.mute.Store(new(string))
		m := &mouth{start: b.start}
		b.Player = New(t.Context(), Options{Mode: mode, Bell: b.strike, open: b.open,
			Speak: true, voice: &program{name: "mouth"}, utter: m.utter})
		f(b, m)
		require.NoError(t, b.Close())
	})
}

// near compares what was said; moments within 30 ms.
func near(t *testing.T, want, got []saying) {
	t.Helper()
	require.Len(t, got, len(want), "%v", got)
	for i := range want {
		assert.Equal(t, want[i].text, got[i].text)
		assert.Equal(t, want[i].whole, got[i].whole, got[i].text)
		assert.InDelta(t, want[i].at.Seconds(), got[i].at.Seconds(), 0.03, got[i].text)
	}
}

// TestWordsComeAfterTheTones, by audio and by the bell alike, once, and the
// tones come as if nobody spoke.
func TestWordsComeAfterTheTones(t *testing.T) {
	for _, mode := range []Mode{Auto, Bell} {
		speaking(t, mode, func(b *bench, m *mouth) {
			b.after(time.Second)
			b.alarm(detect.High)
			b.warn("pitch. cut throttle", detect.High)
			first := lengthOf(detect.High)
			b.after(2*first + patternAt(detect.High).Interval + time.Second)
			near(t, []saying{{"pitch. cut throttle", time.Second + first + wordsAfter, true}}, m.heard())
			if mode == Auto {
				b.wantBursts(burst{detect.High, time.Second, true},
					burst{detect.High, time.Second + first + patternAt(detect.High).Interval, true})
			} else {
				assert.Len(t, b.bell(), 12)
			}
		})
	}
}

func TestWordsEndWithTheAlarm(t *testing.T) {
	t.Run("acknowledged while they wait", func(t *testing.T) {
		speaking(t, Auto, func(b *bench, m *mouth) {
			b.alarm(detect.High)
			b.warn("pitch. cut throttle", detect.High)
			b.after(time.Second)
			b.still(detect.None)
			b.Hush()
			b.after(20 * time.Second)
			assert.Empty(t, m.heard())
		})
	})
	t.Run("acknowledged while they are spoken", func(t *testing.T) {
		speaking(t, Auto, func(b *bench, m *mouth) {
			b.alarm(detect.High)
			b.warn("pitch. cut throttle", detect.High)
			b.after(lengthOf(detect.High) + wordsAfter + 300*ms)
			b.Hush()
			b.after(10 * ms)
			got := m.heard()
			require.Len(t, got, 1)
			assert.False(t, got[0].whole)
		})
	})
	t.Run("the alarm is gone by itself", func(t *testing.T) {
		speaking(t, Auto, func(b *bench, m *mouth) {
			b.alarm(detect.Low)
			b.warn("link. look at the cable", detect.Low)
			b.after(300 * ms)
			b.still(detect.None)
			b.after(20 * time.Second)
			assert.Empty(t, m.heard())
		})
	})
	t.Run("the player ends", func(t *testing.T) {
		speaking(t, Auto, func(b *bench, m *mouth) {
			b.alarm(detect.High)
			b.warn("pitch. cut throttle", detect.High)
			b.after(lengthOf(detect.High) + wordsAfter + 300*ms)
			require.NoError(t, b.Close())
			got := m.heard()
			require.Len(t, got, 1)
			assert.False(t, got[0].whole)
		})
	})
}

func TestGoodNews(t *testing.T) {
	speaking(t, Auto, func(b *bench, m *mouth) {
		b.after(time.Second)
		b.Say("step three done")
		b.after(2 * time.Second)
		b.alarm(detect.Medium)
		b.after(100 * ms)
		b.Say("step four done") // beside an alarm: never
		b.after(5 * time.Second)
		b.still(detect.None)
		b.after(10 * time.Second)
		b.Say("that was the last step of all")
		b.after(200 * ms)
		b.alarm(detect.High)
		b.after(time.Second)
		near(t, []saying{
			{"step three done", time.Second, true},
			{"that was the last step of all", 18100 * ms, false},
		}, m.heard())
	})
}

// TestNewsThatBelongTogether: both are said, each as long as it may be alone.
func TestNewsThatBelongTogether(t *testing.T) {
	speaking(t, Auto, func(b *bench, m *mouth) {
		b.after(time.Second)
		long := strings.Repeat("abcdefghi ", 9)
		b.Say(long+"first", "", long+"second")
		b.after(10 * time.Second)
		got := m.heard()
		require.Len(t, got, 1)
		assert.Equal(t, long+"first "+long+"second", got[0].text)
	})
}

// TestNewsYieldToTheSameAlarmAgain: an alarm that comes back soon counts as
// repeated, and its words may go on; news may not.
func TestNewsYieldToTheSameAlarmAgain(t *testing.T) {
	speaking(t, Auto, func(b *bench, m *mouth) {
		b.after(time.Second)
		b.alarm(detect.Medium)
		b.still(detect.None)
		b.after(lengthOf(detect.Medium) + 300*ms)
		b.Say("all is well on the bench")
		b.after(300 * ms)
		b.alarm(detect.Medium)
		b.after(2 * time.Second)
		got := m.heard()
		require.Len(t, got, 1)
		assert.False(t, got[0].whole)
	})
}

func TestNoSpeechProgram(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, start: time.Now()}
		b.mute.Store(new(string))
		b.Player = New(t.Context(), Options{Bell: b.strike, open: b.open, Speak: true, voice: &program{}})
		<-b.Settled()
		assert.Contains(t, b.Status(), "audio: test device, no words: no speech program (")
		b.alarm(detect.Medium)
		b.warn("motor 3. ease off", detect.Medium)
		b.after(3 * time.Second)
		assert.Len(t, b.bursts(), 1)
		require.NoError(t, b.Close())
	})
}

func TestSpeechThatFailsIsSaid(t *testing.T) {
	speaking(t, Auto, func(b *bench, m *mouth) {
		b.after(time.Second)
		assert.Equal(t, "audio: test device, words: mouth", b.Status())
		m.err = errors.New("exit status 1")
		b.Say("hello")
		b.after(time.Second)
		assert.Equal(t, "audio: test device, no words: mouth fails (exit status 1)", b.Status())
		m.err = nil
		b.Say("hello")
		b.after(time.Second)
		assert.Equal(t, "audio: test device, words: mouth", b.Status())
	})
}

// TestSpeechThatHangsIsSaid: killed, told, and tried again. One that was cut
// off proves nothing, neither a fault nor its end.
func TestSpeechThatHangsIsSaid(t *testing.T) {
	const good, bad = "audio: test device, words: mouth", "audio: test device, no words: mouth fails (it does not end)"
	hang := func(ctx context.Context, _ string) error {
		<-ctx.Done()
		return ctx.Err()
	}
	speaking(t, Auto, func(b *bench, m *mouth) {
		b.after(time.Second)
		m.other.Store(&hang)
		b.Say("hello")
		b.after(speechLimit - time.Second)
		assert.Equal(t, good, b.Status())
		b.after(1100 * ms)
		assert.Equal(t, bad, b.Status())
		b.Say("hello")
		b.after(time.Second)
		b.alarm(detect.Low) // cuts it off
		b.still(detect.None)
		b.after(5 * time.Second)
		assert.Equal(t, bad, b.Status())
		m.other.Store(nil)
		b.Say("hello")
		b.after(time.Second)
		assert.Equal(t, good, b.Status())
	})
	t.Run("and cannot be killed", func(t *testing.T) {
		speaking(t, Auto, func(b *bench, m *mouth) {
			b.after(time.Second)
			deaf := func(context.Context, string) error { time.Sleep(40 * time.Second); return nil }
			m.other.Store(&deaf)
			b.Say("hello")
			b.after(speechLimit + 2*time.Second)
			assert.Equal(t, bad, b.Status())
			b.after(30 * time.Second)
		})
	})
}

// TestProgramEndsWithItsFamily: a script's child is killed too.
func TestProgramEndsWithItsFamily(t *testing.T) {
	sh, err := exec.LookPath("sh")
	if err != nil || runtime.GOOS == "windows" {
		t.Skip("there is no sh: killing a family was not tried")
	}
	// The child writes for half a minute, so that it is seen to live and to stop
	// however late either of us comes.
	sign := t.TempDir() + "/sign"
	script := program{path: sh, args: []string{"-c", `(for n in 1 2 3 4 5 6 7 8 9 10; do
		for m in 1 2 3 4 5 6 7 8 9 10; do echo alive >> "$0"; sleep 0.3; done
	done) & wait`, sign}}
	written := func() int64 {
		info, err := os.Stat(sign)
		if err != nil {
			return 0
		}
		return info.Size()
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	done := make(chan error, 1)
	go func() { done <- script.utter(ctx, "x") }()
	require.Eventually(t, func() bool { return written() > 0 }, time.Minute, 10*ms, "the child lives")
	cancel()
	require.Error(t, <-done)
	time.Sleep(100 * ms) // a write under way
	before := written()
	time.Sleep(1500 * ms)
	assert.Equal(t, before, written(), "the child writes on")
}

func TestOffDoesNotSpeak(t *testing.T) {
	speaking(t, Off, func(b *bench, m *mouth) {
		b.alarm(detect.High)
		b.warn("pitch. cut throttle", detect.High)
		b.Say("hello")
		b.after(20 * time.Second)
		assert.Empty(t, m.heard())
		assert.Equal(t, "off", b.Status())
	})
}

func TestSpoken(t *testing.T) {
	for text, want := range map[string]string{
		"pitch. cut throttle":          "pitch. cut throttle",
		"press stop; keep clear":       "press stop. keep clear",
		"-f /etc/passwd":               "f etc passwd",
		"--stdin $(reboot) `x` | y":    "stdin reboot x y",
		"set magnet_poles = 14":        "set magnet poles 14",
		"<voice name=\"x\">a</voice>":  "voice name x a voice",
		"line\nline\x00\x1b[31mred":    "line line 31mred",
		"...":                          "",
		strings.Repeat("long ", 100):   strings.TrimSpace(strings.Repeat("long ", 20)),
		"roll, 70 % of the weight":     "roll, 70 % of the weight",
		"[[h@'loU]] phonemes are text": "h loU phonemes are text",
	} {
		assert.Equal(t, want, spoken(text))
	}
}

func TestSpokenIsHarmless(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		got := spoken(rapid.String().Draw(t, "text"))
		assert.LessOrEqual(t, len([]rune(got)), spokenLimit)
		assert.False(t, strings.ContainsAny(got, "-\"'`$&|;<>\\/()[]{}\n\r\x00"))
	})
}

// TestProgramsTakeNoShell: the text is one argument of its own, or standard
// input, on every system.
func TestProgramsTakeNoShell(t *testing.T) {
	for _, system := range []string{"linux", "darwin", "windows", "freebsd"} {
		all := programs(system)
		require.NotEmpty(t, all)
		assert.Contains(t, noProgram(system), all[0].name)
		for _, p := range all {
			assert.NotContains(t, p.args, "-c", p.name)
			assert.Equal(t, system == "windows", p.pipe)
		}
	}
}

// TestProgramReally runs real programs as stand-ins, then the one that speaks.
func TestProgramReally(t *testing.T) {
	if cat, err := exec.LookPath("sh"); err == nil {
		out := t.TempDir() + "/out"
		arg := program{path: cat, args: []string{"-c", `sleep 0.2; printf %s "$1" > "$0"`, out}}
		require.NoError(t, arg.utter(t.Context(), "$(id) pitch"))
		pipe := program{path: cat, args: []string{"-c", `sleep 0.2; cat >> "$0"`, out}, pipe: true}
		require.NoError(t, pipe.utter(t.Context(), ". cut"))
		got, err := exec.Command("cat", out).Output()
		require.NoError(t, err)
		assert.Equal(t, "$(id) pitch. cut", string(got))
		quick := program{path: cat, args: []string{"-c", "true"}}
		require.Eventually(t, func() bool { return errors.Is(quick.utter(t.Context(), "x"), errMute) }, time.Minute, ms,
			"it ends at once, but where the machine holds it up")
		ctx, cancel := context.WithTimeout(t.Context(), 200*ms)
		defer cancel()
		long := program{path: cat, args: []string{"-c", "exec sleep 300"}}
		begin := time.Now()
		assert.Error(t, long.utter(ctx, "x"))
		assert.Less(t, time.Since(begin), 2*time.Minute, "ended with its context")
	}
	missing := program{path: "/nowhere/at/all"}
	assert.Error(t, missing.utter(t.Context(), "x"))
}
