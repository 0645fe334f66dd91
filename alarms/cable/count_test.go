package cable

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// aBench feeds a bench of a line each 2 ms for some seconds: axes, out, a
// thermometer four times a second and a hello each second. change makes of each
// line what the bridge writes; one that returns false is lost.
func aBench(w *Watch, seconds int64, change func(i int64, s *decode.Sample) bool) (news []Sight) {
	for i := range seconds * 500 {
		us := i * 2000
		s := decode.Sample{Tag: decode.Axes, Seq: uint16(i + 300), Time: uint32(us + 20_000_000)}
		switch {
		case i%500 == 1:
			s.Tag = decode.Hello
			s.Put(decode.HelloVersion, 1)
			s.Put(decode.HelloBoot, 42)
		case i%125 == 2:
			s.Tag = decode.Temp
		case i%3 == 0:
			s.Tag = decode.Out
		}
		if i%10 == 0 {
			w.Tick(us/1000, us)
		}
		if change(i, &s) {
			w.Good(&s, 40+int(i%7), us)
		}
		news = append(news, w.News()...)
	}
	return news
}

// TestCountsAndBoots: how a bridge counts, says which start this is, and stamps
// slow values is told where it cannot be the line's doing, and no restart, no step
// and no loss is told with it.
func TestCountsAndBoots(t *testing.T) {
	var tags [decode.TagCount]uint16
	for _, c := range []struct {
		name, says, action string
		least              uint64
		change             func(i int64, s *decode.Sample) bool
	}{
		{"sound", "", "", 0, func(int64, *decode.Sample) bool { return true }},
		{"for each tag", "counted for each tag", "one count for all", 9000, func(_ int64, s *decode.Sample) bool {
			tags[s.Tag]++
			s.Seq = tags[s.Tag]
			return true
		}},
		{"for each tag, with losses", "counted for each tag", "one count for all", 8000, func(i int64, s *decode.Sample) bool {
			tags[s.Tag]++
			s.Seq = tags[s.Tag]
			return i%211 != 0
		}},
		{"still", "stands still", "by one", 9000, func(_ int64, s *decode.Sample) bool { s.Seq = 0; return true }},
		{"down", "runs down", "by one", 9000, func(_ int64, s *decode.Sample) bool { s.Seq = -s.Seq; return true }},
		{"by two", "go by 2 each", "by one", 9000, func(_ int64, s *decode.Sample) bool { s.Seq *= 2; return true }},
		{"by eight", "go by 8 each", "by one", 9000, func(_ int64, s *decode.Sample) bool { s.Seq *= 8; return true }},
		{"boot drawn each second", "another boot number", "once", 19, func(i int64, s *decode.Sample) bool {
			if s.Tag == decode.Hello {
				s.Put(decode.HelloBoot, float64(i*i%65521))
			}
			return true
		}},
		{"slow thermometer", "of temp that are stamped 750 ms behind", "50 ms", 79, func(_ int64, s *decode.Sample) bool {
			if s.Tag == decode.Temp {
				s.Time -= 750_000
			}
			return true
		}},
		{"slow thermometer at the start", "of temp that are stamped 60 ms behind", "50 ms", 79, func(i int64, s *decode.Sample) bool {
			s.Seq, s.Time = uint16(i), s.Time-19_900_000
			if s.Tag == decode.Temp {
				s.Time -= 60_000
			}
			return true
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			tags = [decode.TagCount]uint16{}
			w := New(0)
			news := aBench(w, 20, c.change)
			all := w.Sights()
			if c.says == "" {
				require.Empty(t, all)
				return
			}
			require.Len(t, all, 1, "%+v", all)
			assert.Equal(t, Miswritten, all[0].Kind)
			assert.Contains(t, all[0].Text, c.says)
			assert.Contains(t, all[0].Action, c.action)
			assert.GreaterOrEqual(t, all[0].Count, c.least)
			require.Len(t, news, 1, "%+v", news)
		})
	}
}

// TestStepsAndRestartsStay: what is the bridge's clock or supply is still that.
func TestStepsAndRestartsStay(t *testing.T) {
	for _, c := range []struct {
		name   string
		kind   Kind
		count  uint64
		change func(i int64, s *decode.Sample) bool
	}{
		{"steps back, once", ClockStep, 1, func(i int64, s *decode.Sample) bool {
			if i > 3010 {
				s.Time -= 60_000
			}
			return true
		}},
		{"steps back, at a thermometer's line each time", ClockStep, 6, func(i int64, s *decode.Sample) bool {
			s.Time -= uint32((i - 2) / 1500 * 70_000)
			return true
		}},
		{"one that is behind, once", ClockStep, 1, func(i int64, s *decode.Sample) bool {
			if i == 3002 {
				s.Time -= 400_000
			}
			return true
		}},
		{"another boot, once", Restart, 1, func(i int64, s *decode.Sample) bool {
			if s.Tag == decode.Hello && i > 3000 {
				s.Put(decode.HelloBoot, 43)
			}
			return true
		}},
		{"restarts each five seconds", Restart, 3, func(i int64, s *decode.Sample) bool {
			s.Seq, s.Time = uint16(i%2500), uint32(i%2500*2000)
			if s.Tag == decode.Hello {
				s.Put(decode.HelloBoot, float64(i/2500))
			}
			return true
		}},
	} {
		w := New(0)
		aBench(w, 20, c.change)
		all := w.Sights()
		require.Len(t, all, 1, "%s: %+v", c.name, all)
		assert.Equal(t, c.kind, all[0].Kind, "%s: %s", c.name, all[0].Text)
		assert.GreaterOrEqual(t, all[0].Count, c.count, c.name)
	}
}

// TestLossesAreNoCount: lines that are lost at random, even most of them, leave
// the count what it is.
func TestLossesAreNoCount(t *testing.T) {
	for _, of := range []uint64{2, 3, 10} {
		w := New(0)
		rng := uint64(7)
		aBench(w, 20, func(int64, *decode.Sample) bool {
			rng = rng*6364136223846793005 + 1442695040888963407
			return rng>>33%of == 0
		})
		assert.Zero(t, w.seen[Miswritten].count, "one line of %d comes", of)
	}
}
