package alarms

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// However often the bridge restarts whose clock is the engine's, with a silence or
// without: the other's lines never go back, keep their spacing, and lie where they
// were taken, within a tenth of a second after two hundred restarts.
func TestRestartsOfTheReference(t *testing.T) {
	for _, c := range []struct{ every, away int64 }{{500_000, 0}, {900_000, 200_000}, {3_000_000, 0}, {3_000_000, 1_500_000}, {20_000_000, 500_000}} {
		rng := rand.New(rand.NewPCG(4, 7))
		k := NewClock()
		a, b := talker{n: 1, clock0: 123}, talker{n: 2, clock0: 1 << 30, ppm: 60}
		wa, wb := wire{rng: rng, mean: 1000, frame: 8000}, wire{rng: rng, mean: 1000, frame: 16_000, phase: 3000}
		var queueA, queueB []int64 // of lines on their way: when they were taken
		now64 := func(w *wire, q []int64, now int64) bool { return len(q) > 0 && now >= w.arrives(q[0]) }
		last, lastHost, base, worst, uneven, before := int64(-1), int64(0), int64(0), int64(0), int64(0), int64(0)
		next, n, settled := c.every, int64(0), false
		for now := int64(0); now < 120_000_000; now += 1000 {
			if now == next-c.away {
				queueA = nil
			}
			if now == next {
				a = talker{n: 1, clock0: 77 - now}
				next += c.every + 1000*rng.Int64N(40)
				n++
			}
			if now%2000 == 0 && now < next-c.away {
				queueA = append(queueA, now)
			}
			if now%10_000 == 0 && now > 100_000 { // the first is the reference
				queueB = append(queueB, now)
			}
			if now64(&wa, queueA, now) {
				k.From(1, now)
				for len(queueA) > 0 && queueA[0]+200 <= now {
					k.Sample(a.line(decode.Load, queueA[0]))
					queueA = queueA[1:]
				}
			}
			if now64(&wb, queueB, now) {
				k.From(2, now)
				for len(queueB) > 0 && queueB[0]+200 <= now {
					host := queueB[0]
					queueB = queueB[1:]
					at := k.Sample(b.line(decode.Axes, host))
					require.GreaterOrEqual(t, at, last, "%+v: it goes back", c)
					if now > 10_000_000 {
						if !settled {
							base, settled = at-host, true
						}
						worst = max(worst, at-base-host, host-at+base)
						off := at - last - (host - lastHost)
						uneven = max(uneven, off, -off)
					}
					last, lastHost = at, host
				}
			}
			if now%20_000 == 0 {
				k.Tick(now / 1000)
				require.GreaterOrEqual(t, k.Now(), before)
				before = k.Now()
			}
		}
		t.Logf("%+v: worst error %d us, spacing %d us, at the end %d us after %d", c, worst, uneven, last-base-lastHost, n)
		assert.Less(t, uneven, int64(1000), "%+v", c)
		assert.Less(t, worst, int64(100_000), "%+v", c)
	}
}
