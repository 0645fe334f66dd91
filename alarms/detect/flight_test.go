package detect

import (
	"math"
	"testing"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// flight reads one file of real flights: Masalimov and others, CrazyPAD, Data
// 2024, 9, 79 (MIT licence).
func flight(t *testing.T, name string) [][]float64 {
	t.Helper()
	return openNumbers(t, "quad_hover/"+name+".csv")
}

const full = 65535 // counts of a whole output in the records

func flag(so bool) float64 {
	if so {
		return 1
	}
	return 0
}

// fly replays a file as lines of our protocol: outputs by count, armed while
// any output is over zero, on the ground under 0.02 m.
func fly(t *testing.T, d Detector, name string) *trial {
	return flyAs(t, d, name, craft.Craft{Layout: "quad-x", Motors: 4, Cells: 1, Hold: craft.Tether})
}

// flyAs is the same with a craft of its own.
func flyAs(t *testing.T, d Detector, name string, c craft.Craft) *trial {
	rows := flight(t, name)
	tr := newTrial(d, c)
	rates := name[0] == 'r'
	for _, r := range rows {
		at := int64(math.Round(r[0] * 1e6))
		tr.tick(at)
		if rates {
			throttle := r[5] / full
			tr.feed(at, decode.State, 101, state(flag(throttle > 0), 0, flag(r[9] < 0.02), throttle))
			v := []float64{0, 0, 0, no, no, no, 0, 0, 0, throttle}
			for i := range 3 {
				v[i] = r[1+i] * 180 / math.Pi
				v[6+i] = min(max(r[6+i]/32767, -1), 1)
			}
			tr.feed(at, decode.Axes, 101, v)
			continue
		}
		out, sum := make([]float64, 4), 0.0
		for i := range out {
			out[i] = r[1+i] / full
			sum += out[i]
		}
		tr.feed(at, decode.State, 101, state(flag(sum > 0), 0, flag(r[6] < 0.02), sum/4))
		tr.feed(at, decode.Out, 101, out)
	}
	tr.tick(tr.b.Now + Second)
	return tr
}

// Real healthy craft: no alarm that a person must act on. A low one would be
// honest only over 20 %; none of these flights has it in a steady hold.
func TestRealFlightsImbalance(t *testing.T) {
	for _, c := range []struct {
		name  string
		most  Priority
		where Where // of the alarm that must be there, 0 none
	}{
		{"outputs_healthy_A0", None, 0},
		{"outputs_healthy_B0", None, 0},
		{"outputs_tape_out3_A0", Low, 0},
		// One blade of m3 is 3 mm shorter: its mean share is 1.21 to 1.25.
		{"outputs_cut3mm_out3_A1", Medium, M3},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr := fly(t, NewOutputImbalance(), c.name)
			t.Logf("said:%s", tr.list())
			var where Where
			for _, s := range tr.said {
				where |= s.where
				if s.level > c.most {
					t.Errorf("louder than %s: %s", c.most, s)
				}
			}
			if c.where != 0 && where&c.where == 0 {
				t.Errorf("%s must ring", c.where)
			}
		})
	}
}

// Lift-off and landing rock a healthy craft; nothing of it is a tumble. With
// a blade cut by 3 mm the craft swings at up to 210 deg/s, which a craft that
// is held must not: there it may ring.
func TestRealFlightsDoNotTip(t *testing.T) {
	for _, name := range []string{"rates_healthy_A0", "rates_healthy_B0", "rates_tape_out3_A0"} {
		t.Run(name, func(t *testing.T) {
			tr := fly(t, NewTipOver(), name)
			tr.silent(t)
			watchful(t, tr, true)
		})
	}
	t.Run("rates_cut3mm_out3_B0", func(t *testing.T) {
		tr := fly(t, NewTipOver(), "rates_cut3mm_out3_B0")
		t.Logf("said:%s", tr.list())
	})
}

// Healthy flights keep the ground, stop and disarm alarms silent too: their
// outputs go to zero with the throttle.
func TestRealFlightsStop(t *testing.T) {
	for _, name := range []string{"outputs_healthy_A0", "outputs_healthy_B0"} {
		for _, d := range []Detector{NewGroundThrust(), NewLateStop(), NewSpinDisarmed()} {
			t.Run(name+" "+d.Kind().String(), func(t *testing.T) { fly(t, d, name).silent(t) })
		}
	}
}
