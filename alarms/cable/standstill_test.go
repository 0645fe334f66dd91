package cable

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestOwnStandstillIsNoFault: whoever ticks stood still for four seconds. Lines
// are missing, the first that come are late, one is torn: nothing ails the line.
func TestOwnStandstillIsNoFault(t *testing.T) {
	all, sizes := samples(t)
	for _, kept := range []int{0, 50, 400} { // lines that were kept, and come before the tick
		w := New(115200)
		at := func(i int) int64 { return int64(all[i].Time - all[0].Time) }
		i, ms := 0, int64(0)
		for ; at(i) < 8_000_000; i++ {
			for ; ms*1000 <= at(i); ms += 20 {
				w.Tick(ms, at(i))
			}
			w.Good(&all[i], sizes[i], at(i))
		}
		for range kept {
			w.Good(&all[i], sizes[i], at(i))
			i++
		}
		ms += 4000
		w.Tick(ms, at(i))
		w.Bad([]byte("axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131*E939220E"), 3, at(i))
		for n := 0; n < 100; n++ { // late ones, out of a store
			w.Good(&all[i], sizes[i], at(i))
			i++
		}
		for ; at(i) < ms*1000; i++ { // lost
		}
		for ; i < len(all); i++ {
			for ; ms*1000 <= at(i); ms += 20 {
				w.Tick(ms, at(i))
			}
			w.Good(&all[i], sizes[i], at(i))
		}
		assert.Empty(t, w.Sights(), "%d kept", kept)
	}
}
