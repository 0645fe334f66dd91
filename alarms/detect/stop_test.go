package detect

import (
	"math"
	"testing"

	"tetherbell/decode"
)

// spinDown is a rotor that coasts from speed to nothing: exponentially, with
// friction that ends it.
func spinDown(speed, tau float64) func(float64) float64 {
	return func(t float64) float64 {
		return max(0, speed*(1.05*math.Exp(-t/tau)-0.05))
	}
}

func TestLateStop(t *testing.T) {
	const stop = 2.0
	run, disarmed := state(1, 0, 1, 0.4), state(0, 0, 1, 0)
	asserted := state(1, 1, 1, 0.4)
	lone := Motor(1)
	all := Motor(0) | Motor(1) | Motor(2) | Motor(3)
	big := heron
	big.DiameterMM = 380 // 3 s to coast down
	quick := spinDown(40000, 0.2)
	slow := spinDown(40000, 0.8) // 0.10 at 1.56 s
	driven := func(float64) float64 { return 40000 }
	zero := func(float64) []float64 { return all4(0) }
	tests := []struct {
		name        string
		big         bool
		after       []float64               // state after the stop
		out         func(float64) []float64 // outputs by seconds after the stop; nil no out lines
		rotor       func(float64) float64   // speed of m2 after the stop, the others are quick; nil no erpm lines
		where       Where                   // 0 silent
		from, until float64
	}{
		{"stops as it should", false, disarmed, zero, quick, 0, 0, 0},
		{"output falls at 0.4 s", false, disarmed, from(0.4, all4(0.3), all4(0)), nil, 0, 0, 0},
		{"output falls at 0.9 s", false, disarmed, from(0.9, all4(0.3), all4(0)), nil, all, stop + 0.5, stop + 0.6},
		{"stop asserted, outputs stay", false, asserted, from(9, all4(0.3), all4(0)), nil, all, stop + 0.5, stop + 0.6},
		{"one output stays", false, disarmed, steady(0, 0.05, 0, 0), quick, lone, stop + 0.5, stop + 0.6},
		{"an output at zero's edge", false, disarmed, steady(0, 0.001, 0, 0), quick, 0, 0, 0},
		{"one rotor does not coast down", false, disarmed, zero, slow, lone, stop + 1, stop + 1.1},
		{"the same with large propellers", true, disarmed, zero, slow, 0, 0, 0},
		{"driven on, large propellers", true, disarmed, zero, driven, lone, stop + 3, stop + 3.1},
		{"driven on, only speeds known", false, disarmed, nil, driven, lone, stop + 1, stop + 1.1},
		{"only outputs known, zero", false, asserted, zero, nil, 0, 0, 0},
		{"output not measured", false, disarmed, steady(0, no, 0, 0), nil, 0, 0, 0},
	}
	for _, c := range tests {
		for _, p := range []struct{ hz, jitter, loss float64 }{{50, 0, 0}, {200, 0.3, 0.05}} {
			t.Run(c.name, func(t *testing.T) {
				k := heron
				if c.big {
					k = big
				}
				tr := newTrial(NewLateStop(), k)
				streams := []stream{{decode.State, 50, 0, 0, from(stop, run, c.after)}}
				if c.out != nil {
					streams = append(streams, stream{decode.Out, p.hz, p.jitter, p.loss, func(t float64) []float64 {
						if t < stop {
							return all4(0.4)
						}
						return c.out(t - stop)
					}})
				}
				if c.rotor != nil {
					streams = append(streams, stream{decode.ERPM, p.hz, p.jitter, p.loss, func(t float64) []float64 {
						if t < stop {
							return all4(40000)
						}
						v := all4(quick(t - stop))
						v[1] = c.rotor(t - stop)
						return v
					}})
				}
				tr.run(0, 8, streams...)
				watchful(t, tr, c.name != "output not measured") // of m2 nothing is known: it is watched in part
				if c.where == 0 {
					tr.silent(t)
					return
				}
				got := tr.one(t, c.where, High, c.from, c.until)
				if got.value <= got.limit {
					t.Errorf("value %v is not past its limit %v", got.value, got.limit)
				}
			})
		}
	}
}

// The motors of an alarm are those that went on when it was raised, until all
// stand; arming again or releasing the stop ends it.
func TestLateStopKeepsItsMotors(t *testing.T) {
	out := func(t float64) []float64 {
		switch {
		case t < 2:
			return all4(0.4)
		case t < 3:
			return []float64{0.3, 0.3, 0, 0}
		case t < 4:
			return []float64{0.3, 0, 0, 0}
		}
		return all4(0)
	}
	tr := newTrial(NewLateStop(), heron)
	tr.run(0, 6, stream{decode.State, 50, 0, 0, from(2, state(1, 0, 1, 0.4), state(0, 0, 1, 0))}, stream{decode.Out, 100, 0, 0, out})
	tr.one(t, Motor(0)|Motor(1), High, 2.5, 2.55)
	if last := tr.said[len(tr.said)-1]; last.word != "cleared" || last.at < 4.4 || last.at > 4.6 {
		t.Errorf("must clear after the last motor:%s", tr.list())
	}
	if s := (Motor(0) | Motor(1)).String(); s != "m1+m2" {
		t.Error(s)
	}

	for _, again := range [][]float64{state(1, 0, 1, 0.4), state(1, 0, 1, 0)} {
		tr = newTrial(NewLateStop(), heron)
		tr.run(0, 5, stream{decode.State, 50, 0, 0, func(t float64) []float64 {
			if t > 2 && t < 3 {
				return state(1, 1, 1, 0.4)
			}
			return again
		}}, stream{decode.Out, 100, 0, 0, steady(all4(0.3)...)})
		tr.one(t, Motor(0)|Motor(1)|Motor(2)|Motor(3), High, 2.5, 2.56)
		if last := tr.said[len(tr.said)-1]; last.word != "cleared" || last.at > 3.6 {
			t.Errorf("must end when the stop is released:%s", tr.list())
		}
	}
}

// While stop is asserted on an armed craft, an output that comes back rings;
// a session that begins disarmed has no stop to watch; one that begins armed
// with the stop asserted has.
func TestLateStopBegins(t *testing.T) {
	for _, tt := range []struct {
		name  string
		state func(float64) []float64
		out   func(float64) []float64
		from  float64 // 0 silent
	}{
		{"comes back 3 s after the stop", from(1, state(1, 0, 1, 0), state(1, 1, 1, 0)), func(t float64) []float64 {
			if t < 1 || t > 4 {
				return all4(0.2)
			}
			return all4(0)
		}, 4.2},
		{"begins disarmed", steady(state(0, 0, 1, 0)...), steady(all4(0.2)...), 0},
		{"begins armed with the stop asserted", steady(state(1, 1, 1, 0)...), steady(all4(0.2)...), 0.5},
		{"armed flag lost on the way", func(t float64) []float64 {
			switch {
			case t < 1:
				return state(1, 0, 1, 0.4)
			case t < 2:
				return state(no, 0, 1, 0.4)
			}
			return state(0, 0, 1, 0.4)
		}, steady(all4(0.2)...), 2.5},
		{"nothing known", steady(state(no, no, 1, 0)...), steady(all4(0.2)...), 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tr := newTrial(NewLateStop(), heron)
			tr.run(0, 6, stream{decode.State, 50, 0, 0, tt.state}, stream{decode.Out, 100, 0, 0, tt.out})
			watchful(t, tr, tt.name != "nothing known")
			if tt.from == 0 {
				tr.silent(t)
				return
			}
			tr.one(t, Motor(0)|Motor(1)|Motor(2)|Motor(3), High, tt.from, tt.from+0.1)
		})
	}
}

// A craft that is known to coast down in 0.4 s may not take 0.9 s, although
// the default allows a second; a stop from far faster is held to the default.
func TestLateStopLearnsTheCoast(t *testing.T) {
	cycle := func(first bool, speed, tau float64) func(float64) []float64 {
		return func(t float64) []float64 {
			if !first {
				t -= 5
			}
			if t < 2 {
				return all4(speed)
			}
			return all4(spinDown(speed, tau)(t - 2))
		}
	}
	arm := func(t float64) []float64 {
		if math.Mod(t, 5) < 2 {
			return state(1, 0, 1, 0.4)
		}
		return state(0, 0, 1, 0)
	}
	for _, tt := range []struct {
		name  string
		speed float64
		tau   float64
		hear  bool
	}{
		{"as before", 40000, 0.2, false},
		{"slower than learned", 40000, 0.47, true}, // 0.10 at 0.92 s; allowed 0.39*1.5+0.2 = 0.79 s
		{"slower, from a far higher speed", 60000, 0.47, false},
		{"slower, from a far lower speed", 4000, 0.47, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			d := NewLateStop()
			tr := newTrial(d, heron)
			tr.run(0, 5, stream{decode.State, 50, 0, 0, arm}, stream{decode.ERPM, 100, 0, 0, cycle(true, 40000, 0.2)})
			tr.silent(t)
			near(t, "learned coast", 0.39, d.(*lateStop).coasts.seconds[0], 0.02)
			tr.run(5, 10, stream{decode.State, 50, 0, 0, arm}, stream{decode.ERPM, 100, 0, 0, cycle(false, tt.speed, tt.tau)})
			if tt.hear {
				tr.one(t, Motor(0)|Motor(1)|Motor(2)|Motor(3), High, 7.7, 7.9)
			} else {
				tr.silent(t)
			}
		})
	}
	// Learning never excuses more than twice the default.
	var c coasts
	b := newTrial(NewLateStop(), heron).b
	c.fastest[0] = 40000
	c.learn(&b, 0, 40000, 5*Second)
	before := [decode.MaxMotors]float64{40000}
	if got := c.within(&b, &before); got != 2*Second {
		t.Errorf("got %d us", got)
	}
	c = coasts{}
	c.fastest[0] = 40000
	c.learn(&b, 0, 10000, Second/2)
	if c.seconds[0] != 0 {
		t.Error("a slow start teaches nothing")
	}
}

func TestLateStopReset(t *testing.T) {
	tr := newTrial(NewLateStop(), heron)
	out := stream{decode.Out, 100, 0, 0, steady(all4(0.3)...)}
	tr.run(0, 1.3, stream{decode.State, 50, 0, 0, from(1, state(1, 0, 1, 0), state(1, 1, 1, 0))}, out)
	tr.d.Reset()
	tr.run(1.3, 1.79, stream{decode.State, 50, 0, 0, steady(state(1, 1, 1, 0)...)}, out)
	tr.silent(t)
	tr.run(1.79, 2, stream{decode.State, 50, 0, 0, steady(state(1, 1, 1, 0)...)}, out)
	tr.one(t, Motor(0)|Motor(1)|Motor(2)|Motor(3), High, 1.8, 1.85)
	tr.b.Out, tr.b.ERPM = [8]Reading{}, [8]Reading{}
	watchful(t, tr, false)
}

// One that starts again while another goes on after the stop is named too.
func TestLateStopNamesTheNextMotor(t *testing.T) {
	tr := newTrial(NewLateStop(), heron)
	tr.run(0, 12, stream{decode.State, 50, 0, 0, func(t float64) []float64 {
		if t > 4 {
			return state(1, 1, 1, 0)
		}
		return state(1, 0, 1, 0.3)
	}},
		stream{decode.Out, 100, 0, 0, func(t float64) []float64 {
			if t < 4 {
				return all4(0.3)
			}
			v := all4(0)
			v[0] = 0.02
			if t > 7 {
				v[2] = 0.6
			}
			return v
		}})
	got := tr.raised()
	if len(got) != 2 || got[0].where != M1 || got[1].where != M1|M3 || got[1].at > 7.6 {
		t.Fatal(tr.list())
	}
}
