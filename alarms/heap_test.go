package alarms

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
)

// A bridge that kept its lines until somebody opened the port hands them over at
// once. What comes after them has its own place and pace on the engine's clock
// within a second and a half, whichever bridge is heard first, and however long the heap is.
func TestAHeapAtTheStartIsSoonForgotten(t *testing.T) {
	for _, kept := range []int64{50_000, 120_000, 300_000, 700_000, 1_500_000, 5_000_000} {
		for _, first := range []int{1, 2} {
			t.Run(fmt.Sprintf("%d ms, heard first %d", kept/1000, first), func(t *testing.T) {
				k := NewClock()
				craft, stand := talker{n: 1, clock0: 123}, talker{n: 2, clock0: 1 << 30, ppm: 60}
				send := func(b *talker, host, now int64) int64 {
					k.From(b.n, now)
					return k.Sample(b.line(decode.Axes, host))
				}
				open := int64(6_000_000)
				heap := func(b *talker, every int64) {
					for host := open - kept; host <= open; host += every {
						send(b, host, open)
					}
				}
				if first == 1 {
					heap(&craft, 2500)
					heap(&stand, 18_000)
				} else {
					heap(&stand, 18_000)
					heap(&craft, 2500)
				}
				var at, before, off, short, long int64
				short = 1 << 40
				for host := open + 2500; host < open+10_000_000; host += 500 {
					if host%20_000 == 0 {
						k.Tick(host / 1000)
					}
					if host%18_000 == 0 {
						at = send(&stand, host, host)
					}
					if host%2500 == 0 {
						now := send(&craft, host, host)
						if host > open+1_500_000 {
							short, long = min(short, now-before), max(long, now-before)
							off = max(off, now-at-18_000, at-now)
						}
						before = now
					}
				}
				t.Logf("steps of %d to %d us, off by %d us", short, long, off)
				assert.GreaterOrEqual(t, short, int64(2500*15/16))
				assert.LessOrEqual(t, long, int64(2500*17/16+1))
				assert.LessOrEqual(t, off, int64(10_000))
			})
		}
	}
}
