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
		samples := []decode.Sample{
			sampleOf(decode.State, state(1, 0, 1, 0)), sampleOf(decode.Out, []float64{0.5, 0.9, 0.5, 0.5}),
			sampleOf(decode.ERPM, all4(40000)), sampleOf(decode.Load, []float64{9}),
			sampleOf(decode.Axes, []float64{500, 0, 0, 0, 0, 0, 0.1, 0, 0, 0.5}), sampleOf(decode.Set, []float64{0.5}),
			sampleOf(decode.State, state(0, 1, 1, 0)),
		}
		hotPath(t, tr, samples, 2000, 70, func(int) {})
		if d.Reset(); d.Missing(&tr.b) != "" {
			t.Errorf("%s: %s", d.Kind(), d.Missing(&tr.b))
		}
	}
}

// hotPath feeds a detector samples, step microseconds apart at a pace of hz, round
// after round with a change before each, and wants no allocation.
func hotPath(t *testing.T, tr *trial, samples []decode.Sample, step int64, hz float64, change func(round int)) {
	t.Helper()
	at, round, found := int64(0), 0, make([]Finding, 0, 16)
	inputs := make([]Input, len(samples))
	allocs := testing.AllocsPerRun(2000, func() {
		round++
		change(round)
		for i := range samples {
			at += step
			tr.b.Now = at
			tr.learn(&samples[i], at, hz)
			inputs[i] = Input{S: &samples[i], At: at}
			tr.d.Observe(&tr.b, &inputs[i])
			found = tr.d.Judge(&tr.b, found[:0])
		}
	})
	if allocs != 0 {
		t.Errorf("%s allocates %v times", tr.d.Kind(), allocs)
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
