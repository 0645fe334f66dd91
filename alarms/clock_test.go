package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"tetherbell/decode"
)

// hear brings a line of bridge time us at the clock and returns its time.
func hear(c *clock, us int64) (int64, decode.Step) {
	s := decode.Sample{Tag: decode.Axes, Time: uint32(us)}
	at, step := c.next(&s)
	c.arrive(at, step)
	return at, step
}

func TestBridgeTimeCounts(t *testing.T) {
	const wrap = int64(1) << 32
	for _, c := range []struct {
		name  string
		lines []int64
		at    []int64
		now   int64
	}{
		{"from the first line on", []int64{5_000_000, 5_000_500, 6_000_000}, []int64{0, 500, 1_000_000}, 1_000_000},
		{"wraps", []int64{wrap - 10, wrap + 6, wrap + 1_000_000}, []int64{0, 16, 1_000_010}, 1_000_010},
		{"lag of 50 ms", []int64{0, 1_000_000, 950_000, 1_000_100}, []int64{0, 1_000_000, 950_000, 1_000_100}, 1_000_100},
		{"lag over it is a restart", []int64{0, 1_000_000, 949_999, 950_100}, []int64{0, 1_000_000, 1_000_000, 1_000_101}, 1_000_101},
		{"lag of the very first line", []int64{50_000, 0, 60_000}, []int64{0, 0, 10_000}, 10_000},
		{"leap without a host", []int64{0, 10_000_000, 20_000_001, 20_000_101}, []int64{0, 10_000_000, 10_000_000, 10_000_100}, 10_000_100},
		{"step back of half the range", []int64{0, 100, 100 + 1<<31, 200 + 1<<31}, []int64{0, 100, 100, 200}, 200},
	} {
		k := newClock()
		var at []int64
		for _, us := range c.lines {
			v, _ := hear(&k, us)
			at = append(at, v)
		}
		assert.Equal(t, c.at, at, c.name)
		assert.Equal(t, c.now, k.now, c.name)
	}
}

func TestSilenceCountsFromTheFirstTickAfterTheLine(t *testing.T) {
	k := newClock()
	k.tick(1_000_000)
	k.tick(2_000_000)
	assert.Zero(t, k.now, "time begins with the first good line")
	hear(&k, 0)
	hear(&k, 100_000)
	assert.Zero(t, k.silent())
	k.tick(2_110_000)
	assert.Equal(t, int64(100_000), k.now)
	k.tick(2_410_000)
	assert.Equal(t, int64(300_000), k.silent())
	assert.Equal(t, int64(400_000), k.now, "bridge time and the host's silence")
	k.tick(1_000_000)
	assert.Equal(t, int64(300_000), k.silent(), "a step back of the host is no time")
	assert.Equal(t, int64(400_000), k.now)
	k.tick(1_100_000)
	assert.Equal(t, int64(400_000), k.silent())
	at, _ := hear(&k, 610_000)
	assert.Equal(t, int64(610_000), at)
	assert.Zero(t, k.silent())
}

func TestLeapBorneOutByTheHost(t *testing.T) {
	for _, c := range []struct {
		name    string
		host    int64 // seconds of silence seen by the host
		leap    int64
		restart bool
	}{
		{"borne out", 20, 20, false}, {"nearly", 18, 20, false}, {"not borne out", 5, 20, true},
		{"short leaps need no proof", 0, 10, false}, {"the host saw nothing", 0, 11, true},
	} {
		k := newClock()
		k.tick(0)
		hear(&k, 0)
		for i := int64(0); i <= c.host*50; i++ {
			k.tick(i * 20_000)
		}
		was := k.now
		at, step := hear(&k, c.leap*1_000_000)
		assert.Equal(t, c.restart, step.Restart, c.name)
		if c.restart {
			assert.Equal(t, was, at, c.name)
		} else {
			assert.Equal(t, c.leap*1_000_000, at, c.name)
		}
	}
}

// TestBridgeThatStood: the host saw two seconds of silence, of which the
// bridge's clock knows nothing.
func TestBridgeThatStood(t *testing.T) {
	silence := func() *clock {
		k := newClock()
		k.tick(0)
		hear(&k, 0)
		for i := int64(1); i <= 101; i++ {
			k.tick(i * 20_000)
		}
		return &k
	}
	t.Run("lines come in a heap and catch up", func(t *testing.T) {
		k := silence()
		for us := int64(10_000); us <= 2_100_000; us += 10_000 {
			at, _ := hear(k, us)
			assert.Equal(t, us, at)
		}
		assert.Equal(t, int64(2_100_000), k.now)
	})
	t.Run("lines go on at their pace", func(t *testing.T) {
		k := silence()
		was := k.now
		for us := int64(10_000); us <= 1_000_000; us += 10_000 {
			hear(k, us)
			k.tick(2_020_000 + us)
		}
		assert.InDelta(t, float64(was+700_000), float64(k.now), 30_000, "it waits 0.3 s, then time goes on")
		was = k.now
		at, _ := hear(k, 1_010_000)
		assert.Equal(t, was+10_000, at)
		late, _ := hear(k, 1_000_000)
		assert.Equal(t, was, late, "lag is kept")
	})
}

// TestTimeNeverGoesBack: whatever comes, in any order.
func TestTimeNeverGoesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := newClock()
		bridge, host, was := rapid.Int64Range(0, 1<<33).Draw(t, "bridge"), int64(0), int64(0)
		for range rapid.IntRange(1, 200).Draw(t, "steps") {
			switch rapid.IntRange(0, 9).Draw(t, "what") {
			case 0: // anywhere: a restart, a leap
				bridge = rapid.Int64Range(0, 1<<33).Draw(t, "to")
			case 1: // lag
				bridge = max(0, bridge-rapid.Int64Range(0, 60_000).Draw(t, "lag"))
			case 2:
				host = max(0, host-rapid.Int64Range(0, 5_000_000).Draw(t, "back"))
				k.tick(host)
			case 3:
				host += rapid.Int64Range(0, 20_000_000).Draw(t, "silence")
				k.tick(host)
			case 4, 5:
				host += 20_000
				k.tick(host)
			default:
				bridge += rapid.Int64Range(0, 100_000).Draw(t, "dt")
				at, step := hear(&k, bridge)
				if at < 0 || at > k.now {
					t.Fatalf("line at %d, now %d", at, k.now)
				}
				if step.Restart && at != was {
					t.Fatalf("restart at %d, now was %d", at, was)
				}
			}
			if k.now < was || k.silent() < 0 {
				t.Fatalf("time went from %d to %d, silence %d", was, k.now, k.silent())
			}
			was = k.now
		}
	})
}
