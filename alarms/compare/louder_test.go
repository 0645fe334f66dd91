package compare

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
)

// rung is a session of noisy holds in which one alarm rang; None none did.
func rung(name string, seed uint64, size float64, kind detect.Kind, p detect.Priority) *Run {
	b := noisy(seed, size)
	if p > detect.None {
		b.c.Event(&alarms.Event{Kind: kind, Change: alarms.Raised, Priority: p})
	}
	r := session(b, 0.2, 0.3)
	r.Name = name
	return r
}

// A session that rang worse is never better as a whole, and the other never
// worse, whatever was measured.
func TestLouderIsNeverBetter(t *testing.T) {
	priorities := []detect.Priority{detect.None, detect.Note, detect.Low, detect.Medium, detect.High}
	for _, c := range []struct {
		name          string
		before, after float64
		want          Word // where neither rang
	}{{"better", 0.02, 0.01, Better}, {"worse", 0.01, 0.02, Worse}, {"alike", 0.01, 0.01, CannotTell}} {
		for _, pa := range priorities {
			for _, pb := range priorities {
				t.Run(fmt.Sprintf("%s, %s and %s", c.name, pa, pb), func(t *testing.T) {
					a, b := rung("a.bell", 1, c.before, detect.Windup, pa), rung("b.bell", 2, c.after, detect.RisingOscillation, pb)
					r, back := Between(a, b), Between(b, a)
					sound(t, r)
					mirrored(t, r, back)
					want := c.want
					first := ""
					switch {
					case pb > pa && pb >= detect.Medium:
						assert.NotEqual(t, Better, r.Verdict)
						assert.NotEqual(t, Worse, back.Verdict)
						if want == Better {
							want = Mixed
						}
						first = fmt.Sprintf("rising-oscillation rang at %s priority in b.bell, ", pb)
					case pa > pb && pa >= detect.Medium:
						assert.NotEqual(t, Worse, r.Verdict)
						assert.NotEqual(t, Better, back.Verdict)
						if want == Worse {
							want = Mixed
						}
						first = fmt.Sprintf("windup rang at %s priority in a.bell, ", pa)
					}
					assert.Equal(t, want, r.Verdict)
					said := r.Sentence
					if want == Better || want == Worse {
						said = strings.Join(r.Remarks, "\n")
					}
					assert.Equal(t, first != "", strings.Contains(said, " rang at "), said)
					assert.True(t, strings.HasPrefix(said, first), said)
					if first != "" && min(pa, pb) == detect.None {
						assert.Contains(t, said, "nothing rang in ")
					}
				})
			}
		}
	}
}

// A hold of under 5 s tells nothing of any measure, however great the change.
func TestTooShortForAllMeasures(t *testing.T) {
	hold := func(seconds float64, change func(b *bench)) *Run {
		b := newBench()
		b.armed = 1
		b.steady(0.3)
		change(b) // steady sets the outputs, too
		return b.run(seconds).c.Run()
	}
	apart := func(b *bench) { b.outs = [4]float64{0.4, 0.2, 0.4, 0.2} }
	shakes := func(b *bench) { b.force = func(t float64) float64 { return math.Sin(140 * t) } }
	warms := func(b *bench) { b.temp = func(t float64) float64 { return 20 + t } }
	calm := func(*bench) {}
	for name, change := range map[string]func(b *bench){"apart": apart, "shakes": shakes, "warms": warms} {
		t.Run(name, func(t *testing.T) {
			for _, seconds := range []float64{4, 5} {
				r := Between(hold(9, calm), hold(seconds, change)) // the first 1 s settles
				sound(t, r)
				assert.Equal(t, CannotTell, r.Verdict)
				assert.Contains(t, r.Sentence, "under 5 s, too short to tell")
				require.NotEmpty(t, r.Rows)
				for _, row := range r.Rows {
					assert.Equal(t, TooShort, row.Verdict, row.Measure)
				}
				mirrored(t, r, Between(hold(seconds, change), hold(9, calm)))
			}
			r := Between(hold(9, calm), hold(9, change))
			assert.Equal(t, Worse, r.Verdict, "the same, held longer")
		})
	}
	t.Run("one throttle of two", func(t *testing.T) {
		two := func(seed uint64) *Run {
			b := noisy(seed, 0.01)
			b.steady(0.2).run(9)
			b.ramp(0.3, 2).run(4)
			return b.c.Run()
		}
		r := Between(two(1), two(2))
		assert.NotContains(t, r.Sentence, "too short")
		assert.Contains(t, strings.Join(r.Remarks, "\n"), "the verdict is over all throttles together: under 5 s is too short for a verdict of one alone, as at throttle 0.30")
	})
}

// One recording under two names is said to be one.
func TestSameRecording(t *testing.T) {
	a, b := session(noisy(1, 0.02), 0.3), session(noisy(1, 0.02), 0.3)
	assert.False(t, Between(a, b).SameRecording, "no digest, nothing known")
	a.Digest, b.Digest = "4f2a", "4f2b"
	assert.False(t, Between(a, b).SameRecording)
	b.Digest = a.Digest
	r := Between(a, b)
	sound(t, r)
	assert.True(t, r.SameRecording)
	assert.Equal(t, CannotTell, r.Verdict)
	assert.Equal(t, "A and B are the same recording: there is nothing to compare", r.Sentence)
	assert.Empty(t, r.Remarks)
	mirrored(t, r, Between(b, a))
}

// A second session that began first is noticed where both starts are known.
func TestBackwards(t *testing.T) {
	early := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	late := early.Add(time.Second)
	for _, c := range []struct {
		a, b time.Time
		want bool
	}{{early, late, false}, {late, early, true}, {early, early, false}, {time.Time{}, early, false}, {late, time.Time{}, false}} {
		assert.Equal(t, c.want, Between(&Run{Start: c.a}, &Run{Start: c.b}).Backwards, "%v %v", c.a, c.b)
	}
}

// What holds the craft, its motors and its propellers are differences of the craft.
func TestCraftDifferences(t *testing.T) {
	for name, c := range map[string]struct {
		a, b craft.Craft
		want []Difference
	}{
		"tether and stand":      {craft.Craft{Hold: craft.Tether}, craft.Craft{Hold: craft.Stand}, []Difference{{"held by", "tether", "stand"}}},
		"not said and stand":    {craft.Craft{}, craft.Craft{Hold: craft.Stand}, []Difference{{"held by", "tether (not said)", "stand"}}},
		"not said and a tether": {craft.Craft{}, craft.Craft{Hold: craft.Tether}, []Difference{}},
		"another stand":         {craft.Craft{Hold: craft.Stand, HoldRatedN: 100}, craft.Craft{Hold: craft.Stand, HoldRatedN: 250}, []Difference{{"rated load of what holds it", "100 N", "250 N"}}},
		"motors":                {craft.Craft{Motors: 4}, craft.Craft{Motors: 6}, []Difference{{"motors", "4", "6"}}},
		"propellers":            {craft.Craft{DiameterMM: 127, Blades: 2}, craft.Craft{DiameterMM: 178, Blades: 3}, []Difference{{"blades", "2", "3"}, {"propeller diameter", "127 mm", "178 mm"}}},
	} {
		t.Run(name, func(t *testing.T) {
			r := Between(&Run{Craft: c.a}, &Run{Craft: c.b})
			assert.Equal(t, c.want, r.Craft)
			assert.Equal(t, len(c.want) > 0, strings.Contains(strings.Join(r.Remarks, "\n"), "not the same craft"))
		})
	}
	t.Run("motors of the outputs", func(t *testing.T) {
		b := newBench()
		b.armed = 1
		assert.Equal(t, 4, b.steady(0.3).run(2).c.Run().Craft.Motors)
	})
}

// The sentence names first what changed most beyond what matters: the axis that
// rang, not the mean of all axes.
func TestSentenceNamesTheGreatestChange(t *testing.T) {
	r := &Result{A: Side{Name: "a"}, B: Side{Name: "b"}}
	row := func(m int, ratio, p float64) {
		k := &measures[m]
		one := Row{Measure: k.key, Name: k.name, Unit: k.unit, Stage: allStages, Overall: true, P: p, Verdict: Better, By: "difference", Matters: k.least,
			effect: ratio, Low: ratio * 1.3, High: ratio * 0.7}
		if k.log {
			one.By, one.Matters, one.effect, one.Low, one.High = "ratio", math.Exp(k.least), math.Log(ratio), ratio/2, ratio*2
		}
		r.Rows = append(r.Rows, one)
		r.Measures = append(r.Measures, Finding{Measure: k.key, Name: k.name, Verdict: Better, Counts: true})
	}
	row(controlAll, 0.28, 1e-9)
	row(controlRoll, 0.0104, 1e-4)
	row(controlPitch, 0.42, 1e-12)
	row(balance, -0.476, 1e-3)
	assert.Equal(t, "b against a, better: oscillation in roll output is 0.0104 times as much (0.00520 to 0.0208), "+
		"outputs apart (the motor that works most less the one that works least, as a share of the mean output) by −0.48 (−0.62 to −0.33) and 2 more",
		r.says(r.of(Better), nil, nil))
}

// Both ends of an interval have the same number of significant digits, and a
// true minus sign.
func TestDigits(t *testing.T) {
	for v, want := range map[float64]string{48.04: "48.0", 193.4: "193", 0.0104: "0.0104", 12: "12.0", 1: "1.00", 0.9996: "1.00", 0.02904: "0.0290", 12345: "12300", 0: "0", math.Inf(1): "not known"} {
		assert.Equal(t, want, RatioText(v), "%g", v)
	}
	for v, want := range map[float64]string{-0.476: "−0.48", 0.0934: "+0.093", 0.6: "+0.60", -0.0996: "−0.10", 2.34: "+2.3", 0: "0", math.NaN(): "not known"} {
		assert.Equal(t, want, DifferenceText(v), "%g", v)
	}
}
