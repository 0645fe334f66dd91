package detect

import (
	"math"
	"testing"

	"tetherbell/decode"
)

func TestSpinDisarmed(t *testing.T) {
	disarmed := state(0, 0, 1, 0)
	one := Motor(2)
	// The craft has been disarmed from the start; something happens at 3 s.
	tests := []struct {
		name  string
		state []float64
		out   []float64
		rpm   []float64 // of the shaft
		where Where
	}{
		{"stands", disarmed, all4(0), all4(0), 0},
		{"one output", disarmed, []float64{0, 0, 0.02, 0}, nil, one},
		{"an output at zero's edge", disarmed, []float64{0, 0, 0.001, 0}, nil, 0},
		{"all outputs", disarmed, all4(0.3), nil, Motor(0) | Motor(1) | Motor(2) | Motor(3)},
		{"a rotor, output zero", disarmed, all4(0), []float64{0, 0, 210, 0}, one},
		{"a rotor turned by hand", disarmed, all4(0), []float64{0, 0, 190, 0}, 0},
		{"armed", state(1, 0, 1, 0), all4(0.3), all4(3000), 0},
		{"armed not known", state(no, 0, 1, 0), all4(0.3), all4(3000), 0},
		{"outputs not measured", disarmed, all4(no), all4(no), 0},
	}
	for _, c := range tests {
		for _, p := range []struct{ hz, jitter, loss float64 }{{50, 0, 0}, {200, 0.3, 0.05}} {
			t.Run(c.name, func(t *testing.T) {
				tr := newTrial(NewSpinDisarmed(), heron)
				streams := []stream{{decode.State, 50, 0, 0, steady(c.state...)}, {decode.Out, p.hz, p.jitter, p.loss, from(3, all4(0), c.out)}}
				if c.rpm != nil {
					electric := make([]float64, 4)
					for i, v := range c.rpm {
						electric[i] = v * 7 // 14 poles
					}
					streams = append(streams, stream{decode.ERPM, p.hz, p.jitter, p.loss, from(3, all4(0), electric)})
				}
				tr.run(0, 5, streams...)
				watchful(t, tr, c.name != "armed not known" && c.name != "outputs not measured")
				if c.where == 0 {
					tr.silent(t)
					return
				}
				got := tr.one(t, c.where, High, 3.2, 3.3)
				if got.value <= got.limit {
					t.Errorf("value %v is not past its limit %v", got.value, got.limit)
				}
			})
		}
	}
}

// For 0.2 s: a shorter pulse rings nothing, nor does an arming whose state
// line comes late or is lost.
func TestSpinDisarmedWaits(t *testing.T) {
	pulse := func(t float64) []float64 {
		if t > 2 && t < 2.19 {
			return all4(0.1)
		}
		return all4(0)
	}
	tr := newTrial(NewSpinDisarmed(), heron)
	tr.run(0, 4, stream{decode.State, 50, 0, 0, steady(state(0, 0, 1, 0)...)}, stream{decode.Out, 200, 0, 0, pulse})
	tr.silent(t)

	tr = newTrial(NewSpinDisarmed(), heron)
	out := stream{decode.Out, 200, 0, 0, from(2.01, all4(0), all4(0.06))}
	slow := stream{decode.State, 10, 0, 0, steady(state(0, 0, 1, 0)...)}
	tr.run(0, 2.05, slow, out)
	tr.run(2.05, 2.24, out) // the line of 2.1, that tells of arming, is lost, and the next is late
	tr.run(2.24, 4, stream{decode.State, 10, 0, 0, steady(state(1, 0, 1, 0)...)}, out)
	tr.silent(t)
}

// After a stop the coast is late-stop's: what goes on rings there, what comes
// back rings here.
func TestSpinDisarmedAfterAStop(t *testing.T) {
	st := from(2, state(1, 0, 1, 0.4), state(0, 0, 1, 0))
	for _, tt := range []struct {
		name string
		out  func(float64) []float64
		tau  float64
		hear float64
	}{
		{"healthy coast", from(2, all4(0.4), all4(0)), 0.25, 0},
		{"slow last turns", from(2, all4(0.4), all4(0)), 0.42, 0}, // 0.10 at 0.83 s, 0.03 at 1.1 s
		{"outputs stay: late-stop rings", steady(all4(0.4)...), 0.25, 0},
		{"outputs come back", func(t float64) []float64 {
			if t < 2 || t > 6 {
				return all4(0.1)
			}
			return all4(0)
		}, 0.25, 6.2},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tr := newTrial(NewSpinDisarmed(), heron)
			tr.run(0, 9, stream{decode.State, 50, 0, 0, st}, stream{decode.Out, 100, 0, 0, tt.out},
				stream{decode.ERPM, 50, 0, 0, func(t float64) []float64 {
					if t < 2 {
						return all4(40000)
					}
					return all4(spinDown(40000, tt.tau)(t - 2))
				}})
			if tt.hear == 0 {
				tr.silent(t)
				return
			}
			tr.one(t, Motor(0)|Motor(1)|Motor(2)|Motor(3), High, tt.hear, tt.hear+0.06)
		})
	}
}

// A rotor may take twice its coast to its last turns: a tenth of a fast speed
// is more than 5 % of idle speed.
func TestSpinDisarmedGivesLastTurns(t *testing.T) {
	for _, tt := range []struct {
		name string
		rest float64 // share of the speed before at which it stays
		hear bool
	}{{"coasts out", 0, false}, {"stays at a twentieth", 0.05, true}} {
		t.Run(tt.name, func(t *testing.T) {
			tr := newTrial(NewSpinDisarmed(), heron)
			tr.run(0, 10, stream{decode.State, 50, 0, 0, func(t float64) []float64 {
				switch {
				case t < 3:
					return state(1, 0, 1, 0)
				case t < 5:
					return state(1, 0, 1, 0.4)
				}
				return state(0, 0, 1, 0)
			}}, stream{decode.ERPM, 100, 0, 0, func(t float64) []float64 {
				switch {
				case t < 3:
					return all4(6000) // idle: 5 % of it are 300
				case t < 5:
					return all4(40000)
				}
				return all4(40000 * max(math.Exp(-(t-5)/0.42), tt.rest))
			}})
			if tt.hear {
				tr.one(t, Motor(0)|Motor(1)|Motor(2)|Motor(3), High, 7.2, 7.3)
			} else {
				tr.silent(t)
			}
		})
	}
}

// A rotor is held against 5 % of the idle speed that this craft showed: 3000
// rev/min, so 150.
func TestSpinDisarmedLearnsIdle(t *testing.T) {
	for _, tt := range []struct {
		name string
		rpm  float64
		hear bool
	}{{"under", 145, false}, {"over", 155, true}} {
		t.Run(tt.name, func(t *testing.T) {
			tr := newTrial(NewSpinDisarmed(), heron)
			rpm := func(t float64) float64 {
				switch {
				case t < 5:
					return 3000
				case t < 8:
					return spinDown(3000, 0.2)(t - 5)
				}
				return tt.rpm
			}
			tr.run(0, 10, stream{decode.State, 50, 0, 0, from(5, state(1, 0, 1, 0), state(0, 0, 1, 0))},
				stream{decode.ERPM, 50, 0, 0.05, func(t float64) []float64 {
					if t < 8 {
						return all4(7 * rpm(t))
					}
					return []float64{0, 7 * rpm(t), 0, 0}
				}})
			if !tt.hear {
				tr.silent(t)
				return
			}
			got := tr.one(t, Motor(1), High, 8.2, 8.3)
			near(t, "share of idle speed", tt.rpm/3000, got.value, 0.002)
			near(t, "limit", 0.05, got.limit, 0)
		})
	}
}

// Arming ends it; a restart makes rotors wait out an unseen coast, outputs
// not.
func TestSpinDisarmedEnds(t *testing.T) {
	tr := newTrial(NewSpinDisarmed(), heron)
	tr.run(0, 4, stream{decode.State, 50, 0, 0, from(2, state(0, 0, 1, 0), state(1, 0, 1, 0))}, stream{decode.Out, 100, 0, 0, steady(all4(0.1)...)})
	tr.one(t, Motor(0)|Motor(1)|Motor(2)|Motor(3), High, 0.2, 0.3)
	if last := tr.said[len(tr.said)-1]; last.word != "cleared" || last.at > 2.6 {
		t.Errorf("arming must end it:%s", tr.list())
	}

	tr = newTrial(NewSpinDisarmed(), heron)
	st := stream{decode.State, 50, 0, 0, steady(state(0, 0, 1, 0)...)}
	rotors := stream{decode.ERPM, 50, 0, 0, steady(all4(5000)...)}
	tr.run(0, 0.3, st, rotors)
	tr.d.Reset()
	tr.run(0.3, 1.4, st, rotors)
	tr.silent(t)
	tr.run(1.4, 2, st, rotors)
	tr.one(t, Motor(0)|Motor(1)|Motor(2)|Motor(3), High, 1.5, 1.6)
}

// A motor that starts while another rings is named, and heard as what is new.
func TestSpinDisarmedNamesTheNextMotor(t *testing.T) {
	tr := newTrial(NewSpinDisarmed(), heron)
	tr.run(0, 12, stream{decode.State, 50, 0, 0, steady(state(0, 0, 1, 0)...)},
		stream{decode.Out, 100, 0, 0, func(t float64) []float64 {
			v := all4(0)
			if t > 5 {
				v[0] = 0.02
			}
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
