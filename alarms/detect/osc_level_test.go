package detect

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestLevelByDefinition: over several tapes' length, with holes, models that
// change and a clearing, a level says what a list of all frames says.
func TestLevelByDefinition(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	l := newLevel(500)
	l.depth = 400
	var all []frame
	var theta [2][basis]float64
	for n := range 3*tapeFrames + 77 {
		if n == tapeFrames+300 {
			l.clear()
			all = nil
		}
		f := frame{real: rng.IntN(9) > 0}
		for i := range f.v {
			f.v[i] = rng.NormFloat64()
		}
		l.push(&f)
		all = append(all, f)
		if rng.IntN(100) == 0 {
			theta[rng.IntN(2)][rng.IntN(basis)] = rng.NormFloat64()
		}
		if rng.IntN(1000) == 0 {
			theta = [2][basis]float64{} // as after a clearing
		}
		if rng.IntN(30) == 0 {
			sameLevel(t, &l, all, &theta, 1+rng.IntN(l.depth))
		}
		halved(t, &l, all)
	}
}

func sameLevel(t *testing.T, l *level, all []frame, theta *[2][basis]float64, n int) {
	t.Helper()
	w := oscWindow{n: n}
	if l.n < n {
		require.False(t, w.gather(l, theta, sigU, false))
		return
	}
	holes := 0
	last := all[len(all)-n:]
	for i := range last {
		if !last[i].real {
			holes++
		}
	}
	require.Equal(t, float64(holes) <= (1-leastReal)*float64(n), w.gather(l, theta, sigU, false))
	var raw oscWindow
	raw.n = n
	raw.gather(l, theta, sigU, true)
	for i := range last {
		var answer [2]float64
		for c := range answer {
			for k := range basis {
				answer[c] += theta[c][k] * last[i].v[k]
			}
		}
		want := [6]float64{last[i].v[sigU] - answer[0], last[i].v[sigY] - answer[1], answer[0], last[i].v[0], last[i].v[sigU], last[i].v[sigY]}
		got := [6]float64{w.x[i], w.y[i], w.r[i], w.d[i], raw.x[i], raw.y[i]}
		require.InDeltaSlice(t, want[:], got[:], 1e-12, "frame %d of %d", i, n)
	}
}

// halved holds halve against the filter written out as the comment on it says.
func halved(t *testing.T, l *level, all []frame) {
	t.Helper()
	var f frame
	due := len(all) >= halfTaps && len(all)%2 == 0
	require.Equal(t, due, l.halve(&f))
	if !due {
		return
	}
	taps := [halfTaps]float64{3, 0, -25, 0, 150, 256, 150, 0, -25, 0, 3}
	last := all[len(all)-halfTaps:]
	for i := range f.v {
		sum := 0.0
		for k, tap := range taps {
			sum += tap * last[k].v[i] / 512
		}
		require.InDelta(t, sum, f.v[i], 1e-12)
	}
	require.Equal(t, last[5].real || last[6].real, f.real)
}

// TestReachOfLooks: whatever the stream's pace, the bins that a window makes hold
// all that its looks ask for.
func TestReachOfLooks(t *testing.T) {
	for stream := 40.0; stream < 2100; stream *= 1.037 {
		var a oscAxis
		a.build(stream)
		for _, w := range a.windows {
			cell := w.spect.Padded() / w.n
			for i := range w.bands {
				b := &w.bands[i]
				name := fmt.Sprintf("%.0f a second, %.2f s, %.1f to %.1f Hz", stream, w.seconds, b.lo, b.hi)
				// A peak, with a bin on each side, and the usual noise about it.
				lo, hi := w.spect.Bin(b.lo/w.rate)-1-2*cell, w.spect.Bin(b.hi/w.rate)+1+2*cell
				assert.GreaterOrEqual(t, max(lo, 0), w.first, name)
				assert.LessOrEqual(t, min(hi, w.spect.Bins()-1), w.last, name)
				// What competes with a tone that lies a tenth beyond the band.
				cells := nearCells / float64(w.n)
				f, g := 0.9*b.lo/w.rate, 1.1*b.hi/w.rate
				assert.GreaterOrEqual(t, w.spect.Bin(max(f/nearBand, f-cells)), w.first, name)
				assert.LessOrEqual(t, w.spect.Bin(min(g*nearBand, g+cells)), w.last, name)
			}
		}
	}
}
