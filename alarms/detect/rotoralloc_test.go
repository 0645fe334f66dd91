package detect

import (
	"testing"

	"tetherbell/decode"
)

// TestRotorAlarmsAllocateNothing runs the detectors of rotors, hold and
// sensors through their streams, values moving and hanging.
func TestRotorAlarmsAllocateNothing(t *testing.T) {
	for _, d := range []Detector{
		NewRotorLost(), NewHoldLost(), NewVibrationStep(), NewFrozenSensor(), NewPressureDip(),
	} {
		tr := newTrial(d, heron)
		at, n, found := int64(0), 0, make([]Finding, 0, 16)
		in, s := Input{}, decode.Sample{}
		rang := false
		step := func() {
			n++
			x := float64(n*n*7%997) / 997
			if n > 7000 {
				x = 0.5 // all hang, and m1 stands
			}
			for _, l := range [...]struct {
				tag decode.Tag
				v   float64
			}{
				{decode.State, 0.3}, {decode.Out, 0.3 + 0.02*x}, {decode.ERPM, 30000 + 100*x}, {decode.Load, 4 + 0.1*x},
				{decode.Axes, 3 * x}, {decode.Accel, x}, {decode.Air, 101000 + x}, {decode.Temp, 30 + x}, {decode.Pack, 15 + x},
			} {
				tag, v := l.tag, l.v
				s = decode.Sample{Tag: tag}
				for i := range 4 {
					s.Put(i, v)
				}
				switch tag {
				case decode.State:
					s.Num[decode.Armed], s.Num[decode.Stopped] = 1, 0
				case decode.ERPM:
					if n > 7000 {
						s.Num[0] = 0
					}
				}
				at += 500
				tr.b.Now = at
				tr.learn(&s, at, 200)
				in = Input{S: &s, At: at}
				d.Observe(&tr.b, &in)
				found = d.Judge(&tr.b, found[:0])
				rang = rang || len(found) > 0
			}
		}
		for range 5000 {
			step()
		}
		if allocs := testing.AllocsPerRun(4000, step); allocs != 0 {
			t.Errorf("%s allocates %v times", d.Kind(), allocs)
		}
		if want := d.Kind() == RotorLost || d.Kind() == FrozenSensor; rang != want {
			t.Errorf("%s rang: %v", d.Kind(), rang)
		}
		if m := d.Missing(&tr.b); m != "" {
			t.Errorf("%s: %s", d.Kind(), m)
		}
	}
}
