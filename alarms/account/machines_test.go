package account

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/decode"
)

// One craft told again and again is one; another one is said, with its time.
func TestMachines(t *testing.T) {
	say := func(name, layout string, motors float64) *decode.Sample {
		s := &decode.Sample{Tag: decode.Craft, Text: []byte(name), Word: []byte(layout)}
		s.Put(decode.CraftMotors, motors)
		return s
	}
	var m machines
	heron := say("Marsh Heron", "quad-x", 4)
	m.take(heron, 0)
	assert.Zero(t, testing.AllocsPerRun(100, func() { m.take(heron, 10_000_000) }))
	assert.Empty(t, m.said)
	m.take(say("Bittern", "hex-x", 6), 30_000_000)
	assert.Equal(t, []string{"from 30.0 s on the bridge told of another craft, Bittern (hex-x), and no more of Marsh Heron (quad-x): what is told of this session is of both"}, m.said)
	for range 9 {
		m.take(heron, 31_000_000)
		m.take(say("Bittern", "hex-x", 6), 32_000_000)
	}
	assert.Len(t, m.said, mostMachines)
}
