package detect

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// halt has fields of a stream stand from a time each on.
func halt(s *stream, at map[int]float64) {
	inner, held := s.value, map[int]float64{}
	s.value = func(t float64) []float64 {
		v := append([]float64(nil), inner(t)...)
		for i, from := range at {
			if _, ok := held[i]; t >= from && !ok {
				held[i] = v[i]
			}
			if t >= from {
				v[i] = held[i]
			}
		}
		return v
	}
}

func raises(tr *trial) []change {
	var out []change
	for _, c := range tr.said {
		if c.word == "raised" {
			out = append(out, c)
		}
	}
	return out
}

// TestFrozenAxesThatJoin: axes that hang later are named, those that hang
// together ring once.
func TestFrozenAxesThatJoin(t *testing.T) {
	for name, c := range map[string]struct {
		at   map[int]float64
		want []Where
	}{
		"later":          {map[int]float64{0: 10, 1: 13, 2: 13}, []Where{Roll, Roll | Pitch | Yaw}},
		"one by one":     {map[int]float64{0: 10, 1: 13, 2: 16}, []Where{Roll, Roll | Pitch, Roll | Pitch | Yaw}},
		"together":       {map[int]float64{0: 10, 1: 10, 2: 10}, []Where{Roll | Pitch | Yaw}},
		"nearly so":      {map[int]float64{0: 10, 1: 10.1}, []Where{Roll | Pitch}},
		"one of them":    {map[int]float64{1: 10}, []Where{Pitch}},
		"two to the end": {map[int]float64{1: 10, 2: 10}, []Where{Pitch | Yaw}},
	} {
		for _, hz := range []float64{50, 200, 1000} {
			tr := newTrial(NewFrozenSensor(), heron)
			s := trembling(tr, hz, nil, 0)
			halt(&s[2], c.at)
			tr.run(0, 20, s...)
			var got []Where
			for _, r := range raises(tr) {
				got = append(got, r.where)
			}
			assert.Equal(t, c.want, got, "%s at %g", name, hz)
		}
	}
}

// cases runs a trial on and returns the differing cases of its findings at a
// place, and the words of the last.
func cases(tr *trial, w Where, from, to float64, s []stream) (seen []uint8, text string) {
	for at := from; at < to-1e-9; at += 0.05 {
		tr.run(at, at+0.05, s...)
		n := 0
		for _, f := range tr.d.Judge(&tr.b, nil) {
			if f.Where != w {
				continue
			}
			if n++; len(seen) == 0 || seen[len(seen)-1] != f.Case {
				seen = append(seen, f.Case)
			}
			text = tr.d.Describe(&tr.b, f).Text
		}
		if n > 1 {
			seen = append(seen, 255) // two findings at one place would take turns
		}
	}
	return seen, text
}

// TestFrozenSensorsOfOnePlace: the next sensor that hangs at a place is the next
// happening there, and is named; those that hang together are one.
func TestFrozenSensorsOfOnePlace(t *testing.T) {
	for name, c := range map[string]struct {
		hang  map[decode.Tag]float64
		turns int
		texts []string
	}{
		"one":      {map[decode.Tag]float64{decode.Load: 10}, 1, []string{"load cells"}},
		"later":    {map[decode.Tag]float64{decode.Load: 10, decode.Air: 13}, 2, []string{"load cells", "barometer"}},
		"before":   {map[decode.Tag]float64{decode.Load: 13, decode.Air: 10}, 2, []string{"load cells", "barometer"}},
		"together": {map[decode.Tag]float64{decode.Load: 10, decode.Air: 10}, 1, []string{"load cells", "barometer"}},
	} {
		tr := newTrial(NewFrozenSensor(), heron)
		seen, text := cases(tr, Craft, 0, 18, trembling(tr, 200, c.hang, 0))
		assert.Len(t, seen, c.turns, name)
		for _, want := range c.texts {
			assert.Contains(t, text, want, name)
		}
		assert.Equal(t, len(c.texts)-1, strings.Count(text, ";"), name)
	}
}

// TestFrozenAgain: an axis that moves and hangs again beside one that never
// stopped hanging is heard again.
func TestFrozenAgain(t *testing.T) {
	tr := newTrial(NewFrozenSensor(), heron)
	s := trembling(tr, 200, nil, 0)
	free := s[2].value
	halt(&s[2], map[int]float64{0: 10, 1: 10})
	first, _ := cases(tr, Roll|Pitch, 0, 13, s)
	require.Len(t, first, 1)
	stuck := s[2].value
	s[2].value = func(t float64) []float64 { // pitch moves until 16
		v := stuck(t)
		if t < 16 {
			v[1] = free(t)[1]
		}
		return v
	}
	second, _ := cases(tr, Roll|Pitch, 13, 24, s)
	assert.Len(t, second, 2)
}

// TestFrozenSensorThatComesBack takes nothing anew for those that still hang.
func TestFrozenSensorThatComesBack(t *testing.T) {
	for back, stays := range map[decode.Tag]string{decode.Air: "load cells", decode.Load: "barometer"} {
		hang := map[decode.Tag]float64{decode.Load: 10, decode.Air: 13}
		tr := newTrial(NewFrozenSensor(), heron)
		s := trembling(tr, 200, hang, 0)
		before, _ := cases(tr, Craft, 0, 16, s)
		require.Len(t, before, 2)
		delete(hang, back)
		after, text := cases(tr, Craft, 16, 20, s)
		assert.Equal(t, before[1:], after)
		assert.Contains(t, text, stays)
		assert.NotContains(t, text, ";")
	}
}

// TestFrozenMotorsOfTwoStreams: speeds and temperatures of the same motors that
// both hang give one finding at their place, not two that take turns.
func TestFrozenMotorsOfTwoStreams(t *testing.T) {
	four := M1 | M2 | M3 | M4
	tr := newTrial(NewFrozenSensor(), heron)
	s := trembling(tr, 200, map[decode.Tag]float64{decode.Temp: 16}, 0)
	s = append(s, stream{tag: decode.ERPM, hz: 50, value: func(t float64) []float64 {
		v := all4(40123)
		for i := range v {
			if t < 22 {
				v[i] = quantum(40000+40*tr.rng.NormFloat64(), 1)
			}
		}
		return v
	}})
	seen, text := cases(tr, four, 0, 26, s)
	assert.Len(t, seen, 2)
	assert.Contains(t, text, "motor temperature of m1+m2+m3+m4")
	assert.Contains(t, text, "; rotor speed for ")
}
