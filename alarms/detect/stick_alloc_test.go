package detect

import (
	"testing"

	"tetherbell/decode"
)

// TestStickPathsAllocateNothing runs the detectors of stick and throttle
// through all their tags, with a stick that moves.
func TestStickPathsAllocateNothing(t *testing.T) {
	for _, d := range []Detector{
		NewStickHigh(), NewControlLost(), NewRunaway(), NewReversedResponse(), NewThrottleMismatch(), NewIdleGap(),
	} {
		tr := newTrial(d, heron)
		states := [2]decode.Sample{sampleOf(decode.State, []float64{1, 0, 1, 0.3, 0, 0, 0, 0}), sampleOf(decode.State, []float64{1, 0, 1, 0.3, 0.2, -0.2, 0.1, 0})}
		samples := []decode.Sample{
			sampleOf(decode.State, []float64{0, 0, 1, 0.3, 0, 0, 0, 1}), sampleOf(decode.Out, []float64{0.3, 0.5, 0.3, 0.4}),
			sampleOf(decode.ERPM, all4(40000)), sampleOf(decode.Load, []float64{3}),
			sampleOf(decode.Axes, []float64{5, 0, 0, -20, 10, 0, 0.1, 0, 0, 0.5}),
		}
		hotPath(t, tr, samples, 4000, 50, func(round int) { samples[0] = states[round/5%2] })
	}
}
