package detect

import (
	"testing"

	"tetherbell/decode"
)

// all6 are the values of six motors, the last one by itself.
func all6(v, last float64) []float64 { return []float64{v, v, v, v, v, last} }

// TestMotorsBeyondTheCraft: a motor that lines carry and the craft file does not
// count may hurt as any other.
func TestMotorsBeyondTheCraft(t *testing.T) {
	lone := Motor(5)
	run, disarmed := state(1, 0, 1, 0.4), state(0, 0, 1, 0)
	for _, tt := range []struct {
		name        string
		d           Detector
		was, is     []float64 // state to 2 s and from then on
		out, rpm    [2][]float64
		where       Where
		from, until float64
	}{
		{"disarmed, an output", NewSpinDisarmed(), disarmed, disarmed, [2][]float64{all6(0, 0), all6(0, 0.35)}, [2][]float64{}, lone, 2.2, 2.3},
		{"disarmed, a rotor", NewSpinDisarmed(), disarmed, disarmed, [2][]float64{}, [2][]float64{all6(0, 0), all6(0, 9000)}, lone, 2.2, 2.3},
		{"disarmed, stands", NewSpinDisarmed(), disarmed, disarmed, [2][]float64{all6(0, 0), all6(0, 0)}, [2][]float64{all6(0, 0), all6(0, 0)}, 0, 0, 0},
		{"after disarming, an output", NewLateStop(), run, disarmed, [2][]float64{all6(0.4, 0.4), all6(0, 0.35)}, [2][]float64{}, lone, 2.5, 2.6},
		{"after disarming, a rotor", NewLateStop(), run, disarmed, [2][]float64{all6(0.4, 0.4), all6(0, 0)}, [2][]float64{all6(40000, 40000), all6(0, 30000)}, lone, 3, 3.1},
		{"after disarming, stands", NewLateStop(), run, disarmed, [2][]float64{all6(0.4, 0.4), all6(0, 0)}, [2][]float64{all6(40000, 40000), all6(0, 0)}, 0, 0, 0},
		{"armed idle, it makes the mean", NewGroundThrust(), state(1, 0, 1, 0), state(1, 0, 1, 0), [2][]float64{all6(0.1, 0.1), all6(0.1, 0.9)}, [2][]float64{}, Craft, 2, 2.1},
		{"armed idle, it makes it not", NewGroundThrust(), state(1, 0, 1, 0), state(1, 0, 1, 0), [2][]float64{all6(0.1, 0.1), all6(0.1, 0.5)}, [2][]float64{}, 0, 0, 0},
		{"armed idle, those beyond rest", NewGroundThrust(), state(1, 0, 1, 0), state(1, 0, 1, 0), [2][]float64{all6(0.1, 0), all6(0.3, 0)}, [2][]float64{}, Craft, 2, 2.1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tr := newTrial(tt.d, heron) // of four motors
			streams := []stream{{decode.State, 50, 0, 0, from(2, tt.was, tt.is)}}
			if tt.out[0] != nil {
				streams = append(streams, stream{decode.Out, 50, 0, 0, from(2, tt.out[0], tt.out[1])})
			}
			if tt.rpm[0] != nil {
				streams = append(streams, stream{decode.ERPM, 50, 0, 0, from(2, tt.rpm[0], tt.rpm[1])})
			}
			tr.run(0, 4, streams...)
			if tt.where == 0 {
				tr.silent(t)
				return
			}
			tr.one(t, tt.where, High, tt.from, tt.until)
		})
	}
	b := newTrial(NewSpinDisarmed(), heron).b
	b.Out[5] = Reading{V: 0.3, OK: true}
	if !AnyOutput(&b) || b.Shown() != 6 || b.Motors != 4 {
		t.Errorf("driven %v, shown %d of %d", AnyOutput(&b), b.Shown(), b.Motors)
	}
}
