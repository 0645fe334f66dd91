package compare

import (
	"math"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
)

// A cell gathers one measure of one stage over many runs.
type cell struct{ means, within mean }

// spreadOf plays a scenario on many days and gathers every stage, by name.
func spreadOf(t *testing.T, name string, runs int, seed uint64) map[string]*[measureCount]cell {
	t.Helper()
	sc := scenario(t, name)
	cells := map[string]*[measureCount]cell{}
	var lock sync.Mutex
	var group sync.WaitGroup
	for w := range 2 {
		group.Add(1)
		go func() {
			defer group.Done()
			for i := w; i < runs; i += 2 {
				r := play(anotherDay(t, sc, seed+uint64(i)), seed+uint64(i))
				for _, s := range r.stages(byThrottle) {
					lone := []Stage{{Compared: true, Idle: s.idle, pair: match{&s, &s}}}
					lock.Lock()
					c := cells[s.name()]
					if c == nil {
						c = new([measureCount]cell)
						cells[s.name()] = c
					}
					for k := range measures {
						for _, p := range measures[k].pairings(k, lone) {
							if p.a.n < leastTold {
								continue // carries no verdict by itself
							}
							c[k].means.add(p.a.mean)
							c[k].within.add(p.a.variance + p.a.trend*p.a.trend)
						}
					}
					lock.Unlock()
				}
			}
		}()
	}
	group.Wait()
	return cells
}

// TestSpreadFromRunToRun: what runs differ by beyond their blocks is no more
// than measure.go reckons with. With 30 runs of each (TETHERBELL_COMPARE=15) it
// is where the figures come from.
func TestSpreadFromRunToRun(t *testing.T) {
	if raceOn {
		t.Skip("the figures are the same without the race detector, and take a tenth of the time")
	}
	pairs, seed := study(t, 3)
	worst, seen := [measureCount]float64{}, [measureCount]bool{}
	for _, name := range []string{"calm", "by-the-card", "nose-heavy", "near-margin", "unbalanced", "hexa", "filter-open"} {
		for stage, c := range spreadOf(t, name, 2*pairs, seed) {
			for k := range measures {
				m := &measures[k]
				if c[k].means.n < 2*pairs {
					continue // not held in every run for long enough
				}
				seen[k] = true
				between, within := c[k].means.variance(2), c[k].within.of(1)
				worst[k] = max(worst[k], math.Sqrt(max(between-within, 0)))
				// One variance of five degrees of freedom in a thousand is over four
				// times the true one (chi-squared, any table).
				assert.Less(t, between, 5*(within+m.runs*m.runs), "%s, %s, %s", name, stage, m.key)
			}
		}
	}
	for k := range measures {
		assert.True(t, seen[k], measures[k].key)
		t.Logf("%s: %.3f, reckoned with %.3f", measures[k].key, worst[k], measures[k].runs)
	}
}
