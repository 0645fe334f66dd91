package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A loopCase is a craft whose stick, demand, controller and motors answer each
// other: a rate loop about one axis on a held or a free craft, of second order,
// worked out here and nowhere else.
type loopCase struct {
	level       bool    // the stick asks for an attitude
	held        float64 // stiffness of the hold, 1/s^2; 0 free
	stickWrong  bool
	mixerWrong  bool
	noDemand    bool
	noCtrl      bool
	noOut       bool
	noise       float64 // of the demanded rate, deg/s
	rock        float64 // deg, rocking at 4 Hz that is none of the stick's
	axis        int
	axesHz, out float64
	stateHz     float64
	loss        float64
	stick       func(t float64) float64
	seed        uint64
	armed       float64
}

type loopState struct{ angle, rate, u, demand, diff float64 }

// play gives the states of the loop at each millisecond.
func (c *loopCase) play(seconds float64) []loopState {
	rng := rand.New(rand.NewPCG(c.seed+1, 5))
	var s loopState
	motor, wander := 0.0, 0.0
	out := make([]loopState, int(seconds*1000)+2)
	const dt = 0.001
	for i := range out {
		t := float64(i) * dt
		stick := c.stick(t)
		if c.stickWrong {
			stick = -stick
		}
		wander += dt/0.05*(-wander) + c.noise*math.Sqrt(2*dt/0.05)*rng.NormFloat64()
		rock := c.rock * math.Sin(2*math.Pi*4*t)
		rockRate := c.rock * 2 * math.Pi * 4 * math.Cos(2*math.Pi*4*t)
		if c.level {
			s.demand = 4*(30*stick-s.angle-rock) + wander
		} else {
			s.demand = 200*stick + wander
		}
		s.u = 0.0024*(s.demand-s.rate-rockRate) + 0.003*rng.NormFloat64()
		s.diff = s.u
		if c.mixerWrong {
			s.diff = -s.u
		}
		motor += dt / 0.05 * (s.diff - motor)
		s.rate += dt * (4000*motor - c.held*s.angle - 2*s.rate)
		s.angle += dt * s.rate
		if c.mixerWrong { // what holds it bounds it
			s.angle, s.rate = min(max(s.angle, -6), 6), min(max(s.rate, -200), 200)
		}
		out[i] = s
	}
	return out
}

func (c *loopCase) trial(seconds float64) *trial {
	tr := newTrial(NewReversedResponse(), heron)
	tr.rng = rand.New(rand.NewPCG(c.seed, 3))
	return c.trialOf(tr, seconds)
}

// trialOf goes on with a trial, the movement beginning anew.
func (c *loopCase) trialOf(tr *trial, seconds float64) *trial {
	all := c.play(seconds)
	begin := float64(tr.b.Now) / 1e6
	at := func(t float64) loopState { return all[min(max(int((t-begin)*1000), 0), len(all)-1)] }
	f, _ := airframeOf(&craft.Craft{Layout: "quad-x"})
	st := stream{decode.State, c.stateHz, 0.05, c.loss, func(t float64) []float64 {
		v := state(c.armed, 0, 1, 0.3)
		v[4+c.axis] = math.Round(c.stick(t-begin)*1000) / 1000
		return v
	}}
	ax := stream{decode.Axes, c.axesHz, 0.1, c.loss, func(t float64) []float64 {
		s := at(t)
		v := []float64{no, no, no, 0, 0, 0, 0, 0, 0, 0.3}
		v[3+c.axis], v[6+c.axis] = math.Round(s.demand*10)/10, s.u
		for i := range 3 {
			if c.noDemand {
				v[3+i] = no
			}
			if c.noCtrl {
				v[6+i] = no
			}
		}
		return v
	}}
	streams := []stream{st, ax}
	if !c.noOut {
		streams = append(streams, stream{decode.Out, c.out, 0.1, c.loss, func(t float64) []float64 {
			s := at(t)
			v := make([]float64, 4)
			for i := range v {
				part := [3]float64{-f.arms[i].y, f.arms[i].x, f.arms[i].turn}[c.axis]
				v[i] = min(max(0.35+s.diff*part, 0.1), 1)
			}
			return v
		}})
	}
	tr.run(begin, begin+seconds, streams...)
	return tr
}

// ramps moves a stick along straight lines between points of time and place.
func ramps(p ...[2]float64) func(float64) float64 {
	return func(t float64) float64 {
		for i := 1; i < len(p); i++ {
			if t < p[i][0] {
				a, b := p[i-1], p[i]
				return a[1] + (b[1]-a[1])*max(0, (t-a[0])/(b[0]-a[0]))
			}
		}
		return p[len(p)-1][1]
	}
}

// sticksTried are movements of size 1.
var sticksTried = map[string]func(float64) float64{
	"there and back": ramps([2]float64{2, 0}, [2]float64{2.15, 1}, [2]float64{2.6, 1}, [2]float64{2.75, 0}),
	"to and fro":     ramps([2]float64{2, 0}, [2]float64{2.15, 1}, [2]float64{2.5, 1}, [2]float64{2.8, -1}, [2]float64{3.1, -1}, [2]float64{3.25, 0}),
	"held":           ramps([2]float64{2, 0}, [2]float64{2.15, 1}, [2]float64{7, 1}),
	"taps":           ramps([2]float64{2, 0}, [2]float64{2.05, 1}, [2]float64{2.15, 1}, [2]float64{2.2, -1}, [2]float64{2.3, -1}, [2]float64{2.35, 0}),
	"slow":           ramps([2]float64{2, 0}, [2]float64{3, 1}, [2]float64{5, 1}, [2]float64{6, 0}),
	"stirred": func(t float64) float64 {
		if t < 2 {
			return 0
		}
		return math.Sin(2 * math.Pi * 0.7 * (t - 2))
	},
}

// rates of axes, out and state lines.
var loopRates = [][3]float64{{50, 50, 10}, {200, 100, 20}, {1000, 400, 50}}

// TestReversedStick: a reversed channel rings in rate and in level mode, by
// small and large movements, quick ones and held ones, at every rate; a sound
// one never does, whatever the loop makes of it.
func TestReversedStick(t *testing.T) {
	for name, stick := range sticksTried {
		for _, size := range []float64{0.04, 0.3} {
			for _, level := range []bool{false, true} {
				for _, hz := range loopRates {
					for _, wrong := range []bool{false, true} {
						c := loopCase{
							level: level, held: 400, axesHz: hz[0], out: hz[1], stateHz: hz[2], loss: 0.05, armed: 1, noise: 0.3,
							stickWrong: wrong, stick: func(t float64) float64 { return size * stick(t) },
						}
						tr := c.trial(7)
						what := fmt.Sprintf("%s of %v, level %v, %v lines a second, reversed %v", name, size, level, hz, wrong)
						got := tr.raised()
						switch {
						case !wrong && len(got) > 0:
							t.Errorf("%s: said%s", what, tr.list())
						case wrong && name == "slow" && size < 0.1: // may be too slow to be sure
						case wrong && (len(got) != 1 || got[0].where != Roll || got[0].level != High || got[0].story.Cause != "stick channel reversed"):
							t.Errorf("%s: said%s", what, tr.list())
						case wrong && (got[0].value > reversedR || got[0].story.More[0].Value.(float64) < 0.999):
							t.Errorf("%s: %+v", what, got[0])
						}
					}
				}
			}
		}
	}
}

// A sound craft that is free, one that rocks on its feet at 4 Hz, and one whose
// stick only trembles say nothing; and nothing is said of a stick that nobody
// moves while the channel is reversed.
func TestReversedSound(t *testing.T) {
	for _, tt := range []struct {
		name string
		c    loopCase
		size float64
	}{
		{"free, level", loopCase{level: true}, 0.2},
		{"free, rate", loopCase{}, 0.2},
		{"rocking, level", loopCase{level: true, held: 400, rock: 1}, 0.06},
		{"rocking, rate", loopCase{held: 400, rock: 1}, 0.06},
		{"noisy demand", loopCase{held: 400, noise: 5}, 0.06},
		{"trembling stick of a reversed channel", loopCase{held: 400, stickWrong: true}, 0.005},
		{"nobody moves it", loopCase{held: 400, stickWrong: true}, 0},
		{"no demand, sound", loopCase{held: 400, noDemand: true}, 0.2},
		{"no demand, no controller, sound", loopCase{held: 400, noDemand: true, noCtrl: true}, 0.2},
		{"no demand, rocking, level", loopCase{held: 400, noDemand: true, noCtrl: true, level: true, rock: 1}, 0.06},
	} {
		for name, stick := range sticksTried {
			for _, hz := range loopRates {
				c := tt.c
				c.axesHz, c.out, c.stateHz, c.loss, c.armed = hz[0], hz[1], hz[2], 0.05, 1
				c.stick = func(t float64) float64 { return tt.size * stick(t) }
				if tr := c.trial(7); len(tr.said) > 0 {
					t.Errorf("%s, %s, %v: said%s", tt.name, name, hz, tr.list())
				}
			}
		}
	}
}

// A stick that goes to and fro faster than the state lines show it, on a sound
// channel: what is seen is one half of it, or a step that came later.
func TestReversedFasterThanItsLines(t *testing.T) {
	for _, hz := range []float64{10, 20, 50} {
		for _, ms := range []float64{25, 40, 45, 60, 80, 100, 130} {
			for seed := range uint64(10) {
				w := ms / 1000
				for name, shape := range map[string]func(x float64) float64{
					"there and back": ramps([2]float64{0, 0}, [2]float64{0.001, 1}, [2]float64{w, 1}, [2]float64{w + 0.001, 0}),
					"to and fro":     ramps([2]float64{0, 0}, [2]float64{0.001, -1}, [2]float64{w, -1}, [2]float64{w + 0.001, 1}, [2]float64{2 * w, 1}, [2]float64{2*w + 0.001, 0}),
					"and stays":      ramps([2]float64{0, 0}, [2]float64{0.001, -1}, [2]float64{w, -1}, [2]float64{w + 0.001, 1}),
				} {
					c := loopCase{
						held: 400, axesHz: 200, out: 100, stateHz: hz, armed: 1, seed: seed, noise: 0.02,
						stick: func(t float64) float64 { return 0.25 * shape(t-2-0.0111*float64(seed)) },
					}
					if tr := c.trial(4); len(tr.said) > 0 {
						t.Errorf("%s of %v ms, %v lines a second, %d: said%s", name, ms, hz, seed, tr.list())
					}
				}
			}
		}
	}
}

// Each axis by its own name, and which way round it is.
func TestReversedAxes(t *testing.T) {
	for axis, words := range [][2]string{{"right", "left"}, {"nose up", "nose down"}, {"clockwise", "counter-clockwise"}} {
		c := loopCase{held: 400, axesHz: 200, out: 100, stateHz: 50, armed: 1, axis: axis, stickWrong: true, stick: sticksTried["to and fro"]}
		got := c.trial(5).one(t, Axis(axis), High, 2, 2.5)
		for _, w := range words {
			if !strings.Contains(got.story.Text, w) {
				t.Errorf("%q does not say %s", got.story.Text, w)
			}
		}
		c.armed = 0 // seen before arming: nothing turns yet
		got = c.trial(5).one(t, Axis(axis), Medium, 2, 2.5)
		if !strings.HasPrefix(got.story.Action, "do not arm") {
			t.Error(got.story.Action)
		}
	}
}

// Motors that answer the wrong way: by demand and controller, and where
// neither is known by the beginning of the movement alone.
func TestReversedMixer(t *testing.T) {
	steps := ramps([2]float64{2, 0}, [2]float64{2.06, 0.3}, [2]float64{3, 0.3}, [2]float64{3.06, 0}, [2]float64{4, 0}, [2]float64{4.06, -0.3}, [2]float64{5, -0.3}, [2]float64{5.06, 0})
	for _, tt := range []struct {
		name  string
		c     loopCase
		cause string
	}{
		{"all known", loopCase{}, "mixer reversed, or motors in another order"},
		{"no demand", loopCase{noDemand: true}, "mixer reversed, or motors in another order"},
		{"no controller", loopCase{noCtrl: true}, "mixer reversed, or motors in another order"},
		{"neither", loopCase{noDemand: true, noCtrl: true}, "stick channel or mixer reversed"},
		{"no outputs", loopCase{noOut: true}, ""},
	} {
		for axis := range 3 {
			for _, hz := range loopRates {
				c := tt.c
				c.mixerWrong, c.held, c.axis, c.armed = true, 2000, axis, 1
				c.axesHz, c.out, c.stateHz, c.stick = hz[0], hz[1], hz[2], steps
				tr := c.trial(7)
				got := tr.raised()
				switch {
				case axis == 2 || tt.cause == "": // which way yaw's propellers turn is not told
					if len(got) > 0 {
						t.Errorf("%s, %s, %v: said%s", tt.name, Axis(axis), hz, tr.list())
					}
				case len(got) == 0 || got[0].where != Axis(axis) || got[0].story.Cause != tt.cause:
					t.Errorf("%s, %s, %v: said%s", tt.name, Axis(axis), hz, tr.list())
				}
			}
		}
	}
}

// A bridge that tells the controller's output with the wrong sign, on a sound
// craft, is no reversed mixer.
func TestReversedBridgeSign(t *testing.T) {
	c := loopCase{held: 400, axesHz: 200, out: 100, stateHz: 50, armed: 1, stick: sticksTried["to and fro"]}
	tr := c.trial(0.01)
	tr.d = &signTurned{tr.d.(*reversedResponse)}
	d := c.trialOf(tr, 6)
	d.silent(t)
}

// signTurned turns the controller's sign before the detector sees it.
type signTurned struct{ *reversedResponse }

func (s *signTurned) Observe(b *Bench, in *Input) {
	was := b.Ctrl
	for i := range b.Ctrl {
		b.Ctrl[i].V = -b.Ctrl[i].V
	}
	s.reversedResponse.Observe(b, in)
	b.Ctrl = was
}

// Fisher's z of r = 0.8 over 1.2 s of moves of 0.1 s: atanh(0.8) = 1.0986
// (tables of the inverse hyperbolic tangent, from memory) times the root of
// 12 - 2.
func TestTally(t *testing.T) {
	var s tally
	for i := range 12 {
		x := float64(1 - 2*(i%2))
		y := []float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, -0.5, -1.5}[i]
		s.add(x, x*y, 0.1)
	}
	near(t, "r", (10-2)/math.Sqrt(12*(10+0.25+2.25)), s.r(), 1e-12)
	s = tally{xy: 0.8, xx: 1, yy: 1, time: 1.2}
	near(t, "z", 1.0986*math.Sqrt(10), s.z(), 1e-3)
	near(t, "too few", 0, (&tally{xy: 1, xx: 1, yy: 1, time: 0.2}).z(), 0)
}

func TestReversedResetAndMissing(t *testing.T) {
	c := loopCase{held: 400, axesHz: 200, out: 100, stateHz: 50, armed: 1, stickWrong: true, stick: sticksTried["to and fro"]}
	tr := c.trial(5)
	tr.one(t, Roll, High, 2, 2.5)
	tr.d.Reset()
	if f := tr.d.Judge(&tr.b, nil); len(f) != 1 {
		t.Error("a restart of the bridge turns no channel over")
	}
	c.stickWrong = false
	c.trialOf(tr, 5)
	if len(tr.up) > 0 {
		t.Error("shown to be right, and still up")
	}
	for _, m := range []struct {
		c     loopCase
		watch bool
	}{{loopCase{}, true}, {loopCase{noDemand: true}, false}, {loopCase{noOut: true}, true}} {
		m.c.axesHz, m.c.out, m.c.stateHz, m.c.stick = 200, 100, 50, sticksTried["held"]
		watchful(t, m.c.trial(1), m.watch)
	}
}

// A track answers between its values, on a line, and nowhere else: not before
// the session began, not beyond its ends, not over a hole.
func TestTrack(t *testing.T) {
	var k track
	k.clear()
	for _, at := range []int64{0, 20_000, 40_000, 900_000} {
		k.put(at, float64(at)/1e6)
	}
	for _, tt := range []struct {
		at int64
		ok bool
	}{{-1_000_000, false}, {-1, false}, {0, false}, {15_000, true}, {30_000, true}, {200_000, false}, {800_000, false}, {2_000_000, false}} {
		v, ok := k.at(tt.at)
		if ok != tt.ok || ok && math.Abs(v-(float64(tt.at)/1e6-0.005)) > 1e-9 {
			t.Errorf("at %d: %v %v", tt.at, v, ok)
		}
	}
}
