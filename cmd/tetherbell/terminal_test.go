package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms"
)

// TestHeadlineStaysInSight: of a verdict that is longer than the terminal is high,
// what was worst and the first action stand last; nothing else is said twice.
func TestHeadlineStaysInSight(t *testing.T) {
	lines := append([]string{"x: HIGH priority: stale-link; first action: cut throttle"}, strings.Split(strings.Repeat("  more\n", 21), "\n")[:21]...)
	assert.Equal(t, lines, inSight(lines, 80, 24), "it fits")
	assert.Equal(t, lines, inSight(append(lines, lines...), 80, 0)[:len(lines)], "no terminal")
	assert.Len(t, inSight(append(lines, lines...), 80, 0), 2*len(lines))
	long := append(lines, strings.Repeat("word ", 40))
	got := inSight(long, 80, 24)
	assert.Equal(t, long, got[:len(long)])
	assert.Equal(t, []string{"in short, " + lines[0]}, got[len(long):])
}

// TestLossesAreToldOnce: alarms that come and go with a bridge are told by when, for
// their names and reasons stand among what is not watched.
func TestLossesAreToldOnce(t *testing.T) {
	lacks := []alarms.Lack{{Name: "near-lift", Why: "x (for 5 s)"}, {Name: "pack-sag", Why: "y (for 7 s)"}}
	var all []alarms.Loss
	for i := range int64(12) {
		all = append(all, alarms.Loss{Since: i * 2e6, Names: []string{"near-lift"}, Why: "the load stream has stopped"},
			alarms.Loss{Since: i * 2e6, Names: []string{"pack-sag"}, Why: "the pack stream has stopped"},
			alarms.Loss{Since: i*2e6 + 1e6, Names: []string{"near-lift", "pack-sag"}})
	}
	other := alarms.Loss{Names: []string{"runaway"}, Why: "z"}
	rest, out := timesOnly(append(all, other), lacks)
	assert.Equal(t, []alarms.Loss{other}, rest)
	assert.Equal(t, []string{"  alarms named above left the watch at 0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0 s and 4 times more, and came back at 1.0, 3.0, 5.0, 7.0, 9.0, 11.0, 13.0, 15.0 s and 4 times more"}, out)
	rest, out = timesOnly(all[:3], lacks)
	assert.Equal(t, all[:3], rest, "few are told whole")
	assert.Empty(t, out)
}
