package alarms

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
)

// A parrot words a finding by its value.
type parrot struct{ events []Event }

func (p *parrot) tell(f detect.Finding, _ detect.Kind) detect.Story {
	return detect.Story{Text: fmt.Sprintf("%.3f", f.Value)}
}
func (p *parrot) emit(ev Event) { p.events = append(p.events, ev) }

// TestWhatHasEndedIsToldAtItsWorst: the last words of an alarm are those of the way
// down; once it is over, what is told of it is the worst it was, by either way of
// being bad, and a new one hides no worse one that nobody has acknowledged.
func TestWhatHasEndedIsToldAtItsWorst(t *testing.T) {
	for name, c := range map[string]struct {
		kind         detect.Kind
		values       [][]float64 // medium each, a raise after the other
		limit, worst float64
		high         int // of the first: from this one on high, -1 never
	}{
		"up and down":          {detect.RisingOscillation, [][]float64{{0.03, 0.05, 0.056, 0.04, 0.03}}, 0.1, 0.056, -1},
		"the lower the worse":  {detect.PackSag, [][]float64{{3.4, 2.9, 2.7, 3.1, 3.3}}, 3.5, 2.7, -1},
		"high comes first":     {detect.NearLift, [][]float64{{0.99, 0.90, 0.97, 0.92}}, 0.7, 0.97, 1},
		"the first was worse":  {detect.NearLift, [][]float64{{0.75, 0.95}, {0.8}}, 0.7, 0.95, -1},
		"the second was worse": {detect.NearLift, [][]float64{{0.75}, {0.8, 0.95, 0.7}}, 0.7, 0.95, -1},
	} {
		l, p, now := newLife(), &parrot{}, int64(0)
		for r, values := range c.values {
			for i, v := range values {
				f := detect.Finding{Where: detect.Craft, Level: detect.Medium, Value: v, Limit: c.limit}
				if r == 0 && c.high >= 0 && i >= c.high {
					f.Level = detect.High
				}
				now += 10_000
				l.judge(now, c.kind, []detect.Finding{f}, p)
			}
			for range 500 {
				now += 10_000
				l.judge(now, c.kind, nil, p)
			}
		}
		s := l.find(c.kind, detect.Craft)
		require.NotNil(t, s, name)
		assert.False(t, s.active, name)
		assert.Equal(t, fmt.Sprintf("%.3f", c.worst), s.story.Text, name)
		assert.Equal(t, c.worst, s.finding.Value, name)
	}
}
