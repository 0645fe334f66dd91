package account

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// What an alarm came to is what the lines say while it is up, and nothing of
// before or after.
func TestHowFarAnAlarmWent(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name                   string
		alarm, where           string
		value, limit           float64
		unit                   string
		line                   func(m *mixed, x float64)
		before, up, after      float64
		reached, passed, slack float64
	}{
		{name: "a pack of four cells", alarm: "pack-sag", where: "pack", value: 3.49, limit: 3.5, unit: "V",
			line: func(m *mixed, x float64) { m.send(decode.Pack, 4*x, 5) }, before: 3.1, up: 3.32, after: 3.0, reached: 3.32, passed: 1},
		{name: "current", alarm: "over-current", where: "pack", value: 41, limit: 40, unit: "A",
			line: func(m *mixed, x float64) { m.send(decode.Pack, 16, x) }, before: 90, up: 55, after: 80, reached: 55, passed: 1},
		{name: "lift over the weight of 655 g", alarm: "near-lift", where: "craft", value: 0.6, limit: 0.7, unit: "1",
			line: func(m *mixed, x float64) { m.send(decode.Load, x*0.655*9.80665) }, before: 1.2, up: 0.9, after: 1.1, reached: 0.9, passed: 1.5},
		{name: "the hotter of two", alarm: "motor-heat", where: "m2+m3", value: 71, limit: 80, unit: "degC",
			line: func(m *mixed, x float64) { m.send(decode.Temp, 120, x, x-20, 130) }, before: 100, up: 79, after: 99, reached: 79, passed: nan},
		{name: "a temperature is no rise", alarm: "motor-heat", where: "m2", value: 4, limit: 3, unit: "degC/s",
			line: func(m *mixed, x float64) { m.send(decode.Temp, 20, x) }, before: 20, up: 60, after: 20, reached: nan, passed: nan},
		{name: "turning back", alarm: "tip-over", where: "pitch", value: 61, limit: 60, unit: "deg/s",
			line: func(m *mixed, x float64) { m.send(decode.Axes, 500, -x) }, before: 200, up: 130, after: 220, reached: 130, passed: 1},
		{name: "half of peak to peak", alarm: "rising-oscillation", where: "roll", value: 0.04, limit: 0.1, unit: "1",
			line: func(m *mixed, x float64) {
				t := float64(m.us) / 1e6 // about an offset that is no swing
				m.send(decode.Axes, 0, 0, 0, 0, 0, 0, 0.3+x*math.Sin(2*math.Pi*14*t), 0.9*math.Sin(2*math.Pi*9*t))
			}, before: 0.6, up: 0.25, after: 0.7, reached: 0.25, passed: 1.5, slack: 0.003},
		{name: "judged by its rate", alarm: "rising-oscillation", where: "roll", value: 70, limit: 60, unit: "deg/s",
			line: func(m *mixed, x float64) { m.send(decode.Axes, x, 0, 0, 0, 0, 0, x/1000) }, before: 1, up: 90, after: 1, reached: nan, passed: nan},
		{name: "what is no one figure", alarm: "output-imbalance", where: "m3", value: 0.3, limit: 0.25, unit: "1",
			line: func(m *mixed, x float64) { m.send(decode.Out, 0.3, 0.3, x, 0.3) }, before: 0.3, up: 0.6, after: 0.3, reached: nan, passed: nan},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := &mixed{k: New(craft.Craft{Motors: 4, Poles: 14, MassG: 655, Layout: "quad-x", Cells: 4}, 0)}
			tell := func(change string) {
				s := said(float64(m.us)/1e6, c.alarm, change, "medium", c.where, c.value, c.limit, "x", `,"unit":"`+c.unit+`"`)
				require.True(t, m.k.Told(s))
			}
			run := func(to int64, x float64) {
				for m.us < to {
					m.us += 2000
					c.line(m, x)
				}
			}
			run(1_000_000, c.before)
			tell("raised")
			run(1_500_000, c.value) // as it rang
			run(2_500_000, c.up)
			run(3_000_000, c.value)
			tell("cleared")
			run(4_000_000, c.after)
			x := m.k.Finish(Ending{}).Alarms[0]
			for _, f := range []struct {
				want, slack float64
				got         *float64
			}{{c.reached, c.slack + 1e-9, x.Reached}, {c.passed, 0.05, x.PassedAt}} {
				if math.IsNaN(f.want) {
					assert.Nil(t, f.got)
				} else if assert.NotNil(t, f.got) {
					assert.InDelta(t, f.want, *f.got, f.slack)
				}
			}
		})
	}
}

// The words tell what rang from what it came to.
func TestCourse(t *testing.T) {
	a := Alarm{At: 6.29, Value: 0.0404, ValueAt: 6.29, Limit: 0.1, Unit: "1"}
	assert.Equal(t, "when it rang 0.0404, limit 0.1", a.Course(figure))
	a.Reached = ptr(0.08)
	assert.Equal(t, "when it rang 0.0404, limit 0.1; reached 0.08, not past the limit", a.Course(figure))
	a.Reached, a.PassedAt = ptr(0.28), ptr(6.84)
	assert.Equal(t, "when it rang 0.0404, limit 0.1; reached 0.28, past the limit from 6.8 s on", a.Course(figure))
	b := Alarm{At: 17.74, Value: 1.2, ValueAt: 17.79, Limit: 0.9, Unit: "V", Reached: ptr(1.3), PassedAt: ptr(17.74)}
	assert.Equal(t, "at 17.790 s 1.2 V, limit 0.9 V; reached 1.3 V", b.Course(figure))
}

// A limit that rises with the priority has its own time, and what was past it
// before is not forgotten.
func TestReachedOfAWorseLimit(t *testing.T) {
	var k told
	require.True(t, k.take(said(1, "near-lift", "raised", "medium", "craft", 0.75, 0.7, "lift", "")))
	k.lives[0].reach(0.95, 1.2)
	require.True(t, k.take(said(1.3, "near-lift", "worsened", "high", "craft", 0.94, 0.9, "more lift", "")))
	assert.Equal(t, ptr(1.3), k.lives[0].PassedAt)
	assert.Equal(t, ptr(0.95), k.lives[0].Reached)
	assert.Equal(t, ptr(1.3), k.lives[0].WorstAt)
}
