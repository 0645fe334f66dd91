package detect

import (
	"math"
	"testing"

	"tetherbell/decode"
)

// TestHotPathsAllocateNothing runs every detector of this package's motor and
// state alarms through all tags, alarms ringing.
func TestHotPathsAllocateNothing(t *testing.T) {
	for _, d := range []Detector{
		NewGroundThrust(), NewSettingsSlip(), NewTipOver(), NewNearLift(),
		NewLateStop(), NewSpinDisarmed(), NewOutputImbalance(),
	} {
		tr := newTrial(d, heron)
		at, found := int64(0), make([]Finding, 0, 16)
		samples := []decode.Sample{
			sampleOf(decode.State, state(1, 0, 1, 0)), sampleOf(decode.Out, []float64{0.5, 0.9, 0.5, 0.5}),
			sampleOf(decode.ERPM, all4(40000)), sampleOf(decode.Load, []float64{9}),
			sampleOf(decode.Axes, []float64{500, 0, 0, 0, 0, 0, 0.1, 0, 0, 0.5}), sampleOf(decode.Set, []float64{0.5}),
			sampleOf(decode.State, state(0, 1, 1, 0)),
		}
		inputs := make([]Input, len(samples))
		allocs := testing.AllocsPerRun(2000, func() {
			for i := range samples {
				at += 2000
				tr.b.Now = at
				tr.learn(&samples[i], at, 70)
				inputs[i] = Input{S: &samples[i], At: at}
				d.Observe(&tr.b, &inputs[i])
				found = d.Judge(&tr.b, found[:0])
			}
		})
		if allocs != 0 {
			t.Errorf("%s allocates %v times", d.Kind(), allocs)
		}
		if d.Reset(); d.Missing(&tr.b) != "" {
			t.Errorf("%s: %s", d.Kind(), d.Missing(&tr.b))
		}
	}
}

func sampleOf(tag decode.Tag, v []float64) decode.Sample {
	s := decode.Sample{Tag: tag}
	for i, x := range v {
		if !math.IsNaN(x) {
			s.Put(i, x)
		}
	}
	if tag == decode.Set {
		s.Word = []byte("idle_ready")
	}
	return s
}
