package account

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// Lift near the weight is what a calm run came nearest to.
func TestNearestIsLift(t *testing.T) {
	c := New(craft.Craft{Name: "Heron", Layout: "quad-x", MassG: 700, Cells: 4}, 0)
	seq := uint16(0)
	line := func(us int, tag decode.Tag, values ...float64) {
		s := decode.Sample{Tag: tag, Seq: seq, Time: uint32(us)}
		seq++
		for i, v := range values {
			s.Put(i, v)
		}
		c.Sample(&s, 40)
	}
	for i := range 400 {
		lift := 0.0
		if i > 200 {
			lift = 0.6 * detect.Bears(c.bench)
		}
		line(20_000*i, decode.Load, lift)
		line(20_000*i+5000, decode.Pack, 16.4, 5)
	}
	a := c.Finish(Ending{})
	assert.Contains(t, a.Verdict.Why, "lift came to 0.60 of what holds the craft, 86 % of the way")
	assert.Empty(t, a.Verdict.Fix, "the throttle was chosen")
}
