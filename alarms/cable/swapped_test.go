package cable

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
)

// Another bridge than before is at the port, with another count and clock, and more
// lines of which none is used: that is one sight, whether it is known with the first of
// its lines, or two seconds later. A restart of long before is told as before.
func TestSwappedIsNoRestartAndNoFlood(t *testing.T) {
	all, sizes := samples(t)
	for _, c := range []struct {
		known  int64 // us after the swap; 0: with the first line
		before bool  // it began anew before
		want   []Kind
	}{{0, false, []Kind{Swapped}}, {2_000_000, false, []Kind{Swapped}}, {2_000_000, true, []Kind{Restart, Swapped}}} {
		w := New(0)
		const swap, again = 14_000_000, 3_000_000
		told, ms := false, int64(0)
		for i := range all {
			s, now := all[i], int64(all[i].Time-all[0].Time)
			for ; ms*1000 <= now; ms += 20 {
				w.Tick(ms, now)
			}
			times := 1
			if now >= again && c.before {
				s.Time, s.Seq = s.Time-again, s.Seq-4000
			}
			if now >= swap {
				s.Time, s.Seq = s.Time-12_000_000, s.Seq+9000
				times = 4
			}
			if now >= swap && !told && now >= swap+c.known {
				if told = true; c.known == 0 {
					s.Moved = 2
				} else {
					w.Swapped(now)
				}
			}
			w.Good(&s, sizes[i]*times, now)
		}
		var kinds []Kind
		for _, s := range w.Sights() {
			kinds = append(kinds, s.Kind)
			assert.EqualValues(t, 1, s.Count, s.Kind)
		}
		assert.Equal(t, c.want, kinds, "%+v", c)
	}
}

// A line that is held tells nothing by itself; what follows it is told as if it had not
// come: a bridge that began anew is no step of the clock.
func TestWhatIsHeldIsToldByWhatFollows(t *testing.T) {
	all, sizes := samples(t)
	for _, c := range []struct {
		held int
		want []Kind
	}{{0, []Kind{Restart}}, {1, []Kind{Restart}}, {5, []Kind{Restart}}} {
		w := New(0)
		const anew = 9_000_000
		ms, n := int64(0), 0
		var first *decode.Sample
		for i := range all {
			s, now := all[i], int64(all[i].Time-all[0].Time)
			for ; ms*1000 <= now; ms += 20 {
				w.Tick(ms, now)
			}
			if now >= anew {
				if first == nil {
					first = &all[i]
				}
				s.Time, s.Seq = s.Time-first.Time, s.Seq-first.Seq+30_000
				n++
				s.Held = n <= c.held
			}
			w.Good(&s, sizes[i], now)
		}
		var kinds []Kind
		for _, s := range w.Sights() {
			kinds = append(kinds, s.Kind)
			assert.EqualValues(t, 1, s.Count, s.Kind)
		}
		assert.Equal(t, c.want, kinds, "%+v", c)
	}
}
