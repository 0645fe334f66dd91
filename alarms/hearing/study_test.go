package hearing

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// working is the first of the seeds that the detector was built with; the
// tables are made from others.
const working = 100_000

func benches(n int, disturbed bool) (b []Bench) {
	for i := range n {
		b = append(b, GrowthBench(working+uint64(i), disturbed))
	}
	return b
}

// TestHeardInTime is the short version of the tables: nothing passes the limit
// in silence, nothing rings before its cause, the right axis is named, and the
// median amplitude at the alarm is that of the figures, with room for so few
// runs.
func TestHeardInTime(t *testing.T) {
	n := 60
	switch {
	case quick:
		n = 6
	case testing.Short():
		n = 16
	}
	for _, c := range []struct {
		disturbed bool
		median    float64
	}{{false, 0.012}, {true, 0.025}} {
		var amplitudes []float64
		for _, g := range grow(benches(n, c.disturbed), nil) {
			require.False(t, g.Missed(), "passed the limit in silence: %v", g.Bench)
			s, _ := g.Heard()
			assert.Greater(t, s.T, g.Begin, "rang before the cause: %v", g.Bench)
			assert.Equal(t, g.Axis(), s.Axis, "%v", g.Bench)
			amplitudes = append(amplitudes, g.Ours)
		}
		assert.Less(t, quantile(amplitudes, 0.5), c.median, "disturbed %v", c.disturbed)
	}
}

// TestHeardOnce: runs that passed the limit in silence once.
func TestHeardOnce(t *testing.T) {
	for _, seed := range []uint64{
		20_100_850, 50_100_010, 50_100_466, 50_100_598, 50_100_684, 50_100_860, 50_101_282,
	} {
		b := GrowthBench(seed, true)
		var r Runner
		o := r.Run(b)
		s, ok := o.Heard()
		require.True(t, ok, "%v", b)
		assert.Equal(t, b.Axis(), s.Axis)
	}
}

// TestSilentWithoutCause: the same benches with their gain not raised, and one
// of each class of disturbance.
func TestSilentWithoutCause(t *testing.T) {
	n, seconds := 40, 60.0
	switch {
	case quick:
		n, seconds = 4, 12
	case testing.Short():
		n, seconds = 10, 20
	}
	_, rang := healthy(append(benches(n, false), benches(n, true)...))
	assert.Empty(t, rang)
	for c := range Classes {
		var r Runner
		r.On = true
		b := FalseBench(c, working+uint64(c), seconds)
		assert.Empty(t, r.Run(b).Said, "%v", b)
	}
}

// TestTellsTheTimeLeft: the interval of the time to the limit holds the truth
// in about nine of ten runs.
func TestTellsTheTimeLeft(t *testing.T) {
	if quick || testing.Short() {
		t.Skip("needs many runs")
	}
	in, n := 0, 0
	for _, g := range grow(benches(150, false), nil) {
		s, _ := g.Heard()
		low, told := s.Facts["time_to_limit_low_s"]
		if !told || g.Over == 0 {
			continue
		}
		n++
		if left := g.Over - s.T; left >= low && left <= s.Facts["time_to_limit_high_s"] {
			in++
		}
	}
	require.Greater(t, n, 100)
	assert.InDelta(t, 0.9, float64(in)/float64(n), 0.03+2*math.Sqrt(0.09/float64(n)))
}

// TestStudyIsRepeatable: the whole command, small: every table is there, the
// same from the same seed however the runs were spread, and every picture.
func TestStudyIsRepeatable(t *testing.T) {
	s := Study{Growing: 4, Hours: 0.01, Stretch: 12, Fair: 0.05, Fits: 20, Seed: working}
	dir := t.TempDir()
	var first, second bytes.Buffer
	require.NoError(t, s.Run(&first, dir))
	if !quick {
		require.NoError(t, s.Run(&second, ""))
		assert.Equal(t, first.String(), second.String())
	}
	for _, title := range []string{
		"Growing oscillation", "By stream and growth", "Time to the limit", "Beside published detectors",
		"Slow streams", "without cause", "Cramér-Rao",
	} {
		assert.Contains(t, first.String(), title)
	}
	for _, name := range []string{"detection-quiet", "detection-disturbed", "amplitude-quiet", "amplitude-disturbed"} {
		info, err := os.Stat(filepath.Join(dir, name+".svg"))
		require.NoError(t, err)
		assert.Greater(t, info.Size(), int64(2000))
	}
	require.Error(t, s.Run(&second, filepath.Join(dir, "detection-quiet.svg")), "a file in the folder's place")
}

// TestLeastThreshold: alarms are counted where a score passes the threshold,
// not while it stays over it.
func TestLeastThreshold(t *testing.T) {
	peaks := [][][]float64{{{1, 5, 5, 1, 3}}, {{2, 2, 4, 4, 4}}}
	for _, c := range []struct {
		allowed int
		want    float64
	}{{0, 5.005}, {1, 4}, {2, 3}} {
		assert.InDelta(t, c.want, leastThreshold(peaks, 0, c.allowed), 0.006, "%d allowed", c.allowed)
	}
}

// TestDrawingIsOfItsSeed: the same seed gives the same frames.
func TestDrawingIsOfItsSeed(t *testing.T) {
	draw := func(seed uint64) (sum float64) {
		b := GrowthBench(seed, true)
		b.Seconds = 2
		d := NewDrawing(b)
		var f Frame
		for d.Next(&f) {
			for i := range 3 {
				sum += f.T * (f.Output[i] + f.Rate[i])
			}
		}
		return sum
	}
	assert.Equal(t, draw(working), draw(working))
	assert.NotEqual(t, draw(working), draw(working+1))
}

// TestBounds holds the bounds against the closed forms for no event at all,
// 1-0.05^(1/n) and -ln 0.05, and against one tabled value: 1 of 20 leaves 21.6 %
// (from memory).
func TestBounds(t *testing.T) {
	assert.InDelta(t, 1-math.Pow(0.05, 1.0/3000), atMost(0, 3000), 1e-9)
	assert.InDelta(t, 0.216, atMost(1, 20), 0.001)
	assert.InDelta(t, 1, atMost(5, 5), 0)
	assert.InDelta(t, -math.Log(0.05), mostEvents(0), 1e-9)
	assert.InDelta(t, 4.744, mostEvents(1), 0.001) // Garwood's table, from memory
}

// TestQuantile: the nearest rank.
func TestQuantile(t *testing.T) {
	x := []float64{4, 1, 3, 2}
	for share, want := range map[float64]float64{0: 1, 0.25: 1, 0.5: 2, 0.51: 3, 0.95: 4, 1: 4} {
		assert.InDelta(t, want, quantile(x, share), 0, "%g", share)
	}
	assert.True(t, math.IsNaN(quantile(nil, 0.5)))
}
