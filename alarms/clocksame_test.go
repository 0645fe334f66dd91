package alarms

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A clock on its own says what an engine's says, over silence, lag, a wrap of
// the bridge's time and a restart.
func TestClockIsTheEngines(t *testing.T) {
	k, e := NewClock(), New(craft.Craft{}, Options{})
	boot := 1.0
	for i := range 4000 {
		var s decode.Sample
		s.Tag, s.Seq = decode.State, uint16(i)
		s.Time = uint32(int64(1<<32-1_000_000) + 1000*int64(i)) // it wraps
		switch {
		case i%7 == 0:
			s.Time -= 9000 // it lags
		case i == 2500:
			s.Tag, boot, s.Time = decode.Hello, 2, 77
			s.Put(decode.HelloBoot, boot)
		}
		if i%20 == 0 {
			ms := int64(i)
			if i > 1000 {
				ms += 1500 // silence
			}
			k.Tick(ms)
			e.Tick(ms)
		}
		k.Sample(&s)
		e.Sample(&s, 40)
		require.Equal(t, e.clock.now, k.Now(), "line %d", i)
	}
	require.Greater(t, k.Now(), int64(3_000_000))
}
