package main

import (
	"fmt"
	"hash/crc32"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms"
	"tetherbell/decode/craft"
)

// sealedLine is a line of the wire with its checksum.
func sealedLine(body string) []byte {
	return fmt.Appendf(nil, "%s*%08X\n", body, crc32.Checksum([]byte(body), castagnoli))
}

// However long two bridges send what is a third's, it is said once of each.
func TestWhatBridgesShareIsSaidOnce(t *testing.T) {
	t.Parallel()
	names := []string{"a", "b", "c"}
	d := deskOf(alarms.New(craft.Craft{}, alarms.Options{Sources: names, Bauds: []int{0, 0, 0}}), nil, nil)
	d.useBridges(names)
	var said []string
	d.many.news = func(text string) { said = append(said, text) }
	for i := range 500 {
		for n := range names {
			d.feedFrom(n+1, int64(i)*1000, sealedLine(fmt.Sprintf("axes,%d,%d,0,0,0,0,0,0,0,0,0,0", i, i*1000)))
		}
	}
	d.finish()
	assert.Equal(t, []string{"b also sends axes: what a sends of it is used", "c also sends axes: what a sends of it is used"}, said)
	assert.Len(t, d.bridgeLines(), 5)
}

// TestClockWords: a clock that is behind is not ahead by less than nothing.
func TestClockWords(t *testing.T) {
	assert.Equal(t, ", clock ahead by 0.0120 s ± 0.0003, fast by 40.1 ppm ± 0.5",
		clockWords(&alarms.BridgeView{Clocked: true, Offset: 0.012, OffsetUnsure: 0.0003, Drifts: true, Drift: 40.1, DriftUnsure: 0.5}))
	assert.Equal(t, ", clock behind by 1233.2506 s ± 0.0003, slow by 40.1 ppm ± 0.5",
		clockWords(&alarms.BridgeView{Clocked: true, Offset: -1233.2506, OffsetUnsure: 0.0003, Drifts: true, Drift: -40.1, DriftUnsure: 0.5}))
	assert.Empty(t, clockWords(&alarms.BridgeView{Reference: true}))
}
