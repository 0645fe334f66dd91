package simulator

import (
	"bytes"
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"

	"tetherbell/decode"
)

// alone is a bolted craft of which only the first motor has a propeller, with
// no control, no chance and a pack that does not tire: it comes to a speed
// and stays there.
func alone(throttle float64) Scenario {
	sc := quietScenario()
	c := &sc.Craft
	c.Hold, c.PackMAH, c.PackSlowOhm = "stand", 100_000, 0
	sc.Gains.Scale = 0
	sc.Seconds, sc.Link.Baud = 8.1, 0
	sc.Sensors.FrameHz, sc.Sensors.Ripple = 0, 0.02
	sc.Events = []Event{
		{At: 0.01, Do: "arm"}, {At: 0.1, Do: "throttle", To: throttle, Over: 0.1},
		{At: 0.01, Do: "propeller-off", Motor: 2}, {At: 0.01, Do: "propeller-off", Motor: 3}, {At: 0.01, Do: "propeller-off", Motor: 4},
	}
	return sc
}

// A listened is four seconds of one kind of line, and what really went on.
type listened struct {
	slot         [3][]float64
	rate         float64 // lines a second
	n            float64 // rev/s of the first rotor
	thrust, drag float64 // N, N m
}

// listen plays such a scenario and keeps a stream from 4 s on.
func listen(t *testing.T, sc Scenario, tag decode.Tag, rate float64) (l listened) {
	if tag == decode.Accel {
		sc.Rates.Accel = rate
	} else {
		sc.Rates.Axes = rate
	}
	b := New(sc, 1)
	var d decode.Decoder
	var rest []byte
	l.rate = rate
	for done := false; !done; {
		rest, _, done = b.Next(rest)
		for n := bytes.IndexByte(rest, '\n'); n >= 0; n = bytes.IndexByte(rest, '\n') {
			var s decode.Sample
			require.NoError(t, d.Decode(rest[:n], &s))
			rest = rest[n+1:]
			if s.Tag != tag || b.now < 4_000_000 || len(l.slot[0]) >= int(4*rate) {
				continue
			}
			for k := range l.slot {
				v, ok := s.Get(k) // specific force, or rates: both come first
				require.True(t, ok)
				l.slot[k] = append(l.slot[k], v)
			}
			l.n, l.thrust, l.drag = b.rotors[0].n, b.rotors[0].thrust, b.rotors[0].torque
		}
	}
	require.Len(t, l.slot[0], int(4*rate))
	return l
}

// spectrum returns amplitudes every 0.25 Hz, by gonum's transform. The window
// has a flat top, so that a line between two bins keeps its amplitude.
func (l listened) spectrum(slot int) []float64 {
	v := append([]float64(nil), l.slot[slot]...)
	mean := 0.0
	for _, x := range v {
		mean += x / float64(len(v))
	}
	w := make([]float64, len(v))
	for k := range v {
		v[k] -= mean
		w[k] = 1
	}
	window.FlatTop(v)
	window.FlatTop(w)
	sum := 0.0
	for _, x := range w {
		sum += x
	}
	c := fourier.NewFFT(len(v)).Coefficients(nil, v)
	out := make([]float64, len(c))
	for k := range c {
		out[k] = 2 * cmplx.Abs(c[k]) / sum
	}
	return out
}

// fold returns where a line shows that is sampled so many times a second
// (the sampling theorem: |f - k fs|).
func fold(hz, rate float64) float64 { return math.Abs(hz - rate*math.Round(hz/rate)) }

// lineAt returns the highest amplitude within the window's width of a
// frequency, and takes it out.
func lineAt(spectrum []float64, hz float64) (amplitude float64) {
	from, to := max(0, int(hz*4)-6), min(len(spectrum)-1, int(hz*4)+7)
	for k := from; k <= to; k++ {
		amplitude = max(amplitude, spectrum[k])
		spectrum[k] = 0
	}
	return amplitude
}

// A sound rotor with an unbalance U makes one line in its plane, at n, of
// U w^2 over the craft's mass (ISO 21940-11: the unbalance's force; 1 g mm at
// 16 000 rev/min is 2.8074 N), and one upward where blades pass, at n times
// their number, of the ripple that the scenario asks for. A bent blade adds n
// and 2n upward, and its drag pushes in the plane. Slow streams show the lines
// where they fold to. There are no others.
func TestRotorLines(t *testing.T) {
	require.InDelta(t, 2.8074, 1e-6*math.Pow(2*math.Pi*16000/60, 2), 5e-5)
	tests := []struct {
		name     string
		rate     float64
		throttle float64
		blades   int
		gmm      float64
		bent     float64
	}{
		{"sound", 2000, 0.5, 3, 2, 0},
		{"bent", 2000, 0.5, 3, 2, 0.3},
		{"bent, balanced", 2000, 0.3, 3, 0, 0.3},
		{"two blades", 2000, 0.6, 2, 2, 0},
		{"two blades, bent", 2000, 0.6, 2, 2, 0.3},
		{"four blades, fast", 2000, 0.9, 4, 10, 0.3},
		{"slow stream", 100, 0.5, 3, 2, 0},
		{"slow stream, bent", 140, 0.55, 3, 2, 0.3},
		{"400 a second", 400, 0.7, 3, 5, 0.3},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			sc := alone(tt.throttle)
			sc.Craft.Blades = tt.blades
			sc.Motors = []MotorSpec{{Motor: 1, Thrust: 1, Torque: 1, Speed: 1, Unbalance: tt.gmm, Bent: tt.bent}}
			l := listen(t, sc, decode.Accel, tt.rate)
			mass := sc.Craft.MassG / 1000
			w := 2 * math.Pi * l.n
			odd := tt.bent / float64(tt.blades)
			lever := 0.7 * sc.Craft.PropellerMM / 2000

			plane := (tt.gmm*1e-6*w*w + odd*l.drag/lever) / mass
			for slot := range 2 {
				s := l.spectrum(slot)
				lineAt(s, 0)
				got := lineAt(s, fold(l.n, tt.rate))
				assert.InEpsilon(t, plane, got, 0.01)
				assert.Less(t, highestOf(s), 0.01*plane+0.0005, "nothing else in the plane")
				t.Logf("%.2f Hz, seen at %.2f: %.4f m/s^2, on paper %.4f", l.n, fold(l.n, tt.rate), got, plane)
			}
			s := l.spectrum(2)
			lineAt(s, 0)
			want := map[int]float64{tt.blades: 0.02 * l.thrust / mass}
			if tt.bent > 0 {
				want[1] += 0.02 * l.thrust / mass * odd
				want[2] += 0.02 * l.thrust / mass * odd
			}
			for k, amplitude := range want {
				hz := fold(float64(k)*l.n, tt.rate)
				assert.InDelta(t, amplitude, lineAt(s, hz), 0.01*amplitude+0.0003, "%d times the speed, seen at %.2f Hz", k, hz)
			}
			assert.Less(t, highestOf(s), 0.01*want[tt.blades]+0.0005, "nothing else upward")
		})
	}
}

func highestOf(v []float64) (top float64) {
	for _, x := range v {
		top = max(top, x)
	}
	return top
}

// The gyro feels an unbalance by the torque of its force at the arm's end,
// about the vertical: the rate swings by U w arm/Iz (Newton's law for
// turning, once integrated).
func TestUnbalanceTurnsTheCraft(t *testing.T) {
	for _, gmm := range []float64{10, 40} {
		sc := alone(0.5)
		sc.Sensors.Ripple = 0
		sc.Motors = []MotorSpec{{Motor: 1, Thrust: 1, Torque: 1, Speed: 1, Unbalance: gmm}}
		l := listen(t, sc, decode.Axes, 1000)
		b := newBody(&sc)
		want := gmm * 1e-6 * 2 * math.Pi * l.n * 0.1575 / b.inertia[2] * 180 / math.Pi
		got := lineAt(l.spectrum(2), l.n)
		t.Logf("%v g mm at %.1f Hz: yaw %.3f deg/s, on paper %.3f", gmm, l.n, got, want)
		assert.InEpsilon(t, want, got, 0.01)
	}
}

// One degree of freedom, driven: magnification |1/(1 - r^2 + 2 i zeta r)|,
// transmissibility |(1 + 2 i zeta r)/(1 - r^2 + 2 i zeta r)|, as complex
// numbers. At r = 1 the first is 1/(2 zeta), at sqrt(1 - 2 zeta^2) it has its
// top of 1/(2 zeta sqrt(1 - zeta^2)); at r = sqrt 2 the second is 1 whatever
// the damping; undamped it is 1/3 at r = 2 and 1/8 at r = 3 (S. S. Rao,
// Mechanical Vibrations, forced vibration; from memory, values recomputed).
func TestResonanceAndTransmissibility(t *testing.T) {
	for _, zeta := range []float64{0.01, 0.05, 0.2, 0.5, 1, 2} {
		for r := 0.0; r < 6; r += 0.013 {
			below := complex(1-r*r, 2*zeta*r)
			require.InEpsilon(t, cmplx.Abs(1/below), resonance(r*80, 80, zeta), 1e-9)
			require.InEpsilon(t, cmplx.Abs(complex(1, 2*zeta*r)/below), transmissibility(r*80, 80, zeta), 1e-9)
		}
		assert.InEpsilon(t, 1/(2*zeta), resonance(80, 80, zeta), 1e-12)
		assert.InEpsilon(t, 1, transmissibility(80*math.Sqrt2, 80, zeta), 1e-12)
		if zeta < 0.7 {
			top := 80 * math.Sqrt(1-2*zeta*zeta)
			assert.InEpsilon(t, 1/(2*zeta*math.Sqrt(1-zeta*zeta)), resonance(top, 80, zeta), 1e-12)
			assert.Less(t, resonance(top*1.01, 80, zeta), resonance(top, 80, zeta))
			assert.Less(t, resonance(top*0.99, 80, zeta), resonance(top, 80, zeta))
		}
	}
	assert.InEpsilon(t, 1.0/3, transmissibility(160, 80, 0), 1e-12)
	assert.InEpsilon(t, 1.0/8, transmissibility(240, 80, 0), 1e-12)
	assert.Equal(t, 1.0, resonance(300, 0, 0.1), "a rigid frame")
	assert.Equal(t, 1.0, transmissibility(300, 0, 0.1), "a bolted mount")
}

// The same on the bench, by the rotor's line in the accelerometer's stream,
// over what it is in a stiff and bolted craft: on the frame's resonance
// 1/(2 zeta); behind a soft mount the transmissibility, at sqrt 2 of its
// resonance nothing lost or gained; a strap takes the isolation away.
func TestFrameMountAndStrap(t *testing.T) {
	spin := func(change func(sc *Scenario, n float64), n float64) (amplitude, speed float64) {
		sc := alone(0.5)
		sc.Motors = []MotorSpec{{Motor: 1, Thrust: 1, Torque: 1, Speed: 1, Unbalance: 5}}
		change(&sc, n)
		l := listen(t, sc, decode.Accel, 1000)
		return lineAt(l.spectrum(0), l.n), l.n
	}
	bare, n := spin(func(*Scenario, float64) {}, 0)
	tests := []struct {
		name   string
		change func(sc *Scenario, n float64)
		gain   float64
	}{
		{"frame's resonance on the line, damping 0.05", func(sc *Scenario, n float64) {
			sc.Sensors.FrameHz, sc.Sensors.FrameDamping = n, 0.05
		}, 10},
		{"frame's resonance on the line, damping 0.2", func(sc *Scenario, n float64) {
			sc.Sensors.FrameHz, sc.Sensors.FrameDamping = n, 0.2
		}, 2.5},
		{"frame far above: 1/(1 - 1/16)", func(sc *Scenario, n float64) {
			sc.Sensors.FrameHz, sc.Sensors.FrameDamping = 4*n, 0.01
		}, 1.066652},
		{"mount at a third, damping 0.1: sqrt(1.36/64.36)", func(sc *Scenario, n float64) {
			sc.Sensors.MountHz, sc.Sensors.MountDamping = n/3, 0.1
		}, 0.145366},
		{"mount at 1/sqrt 2", func(sc *Scenario, n float64) {
			sc.Sensors.MountHz, sc.Sensors.MountDamping = n/math.Sqrt2, 0.1
		}, 1},
		{"mount at a third, strapped over", func(sc *Scenario, n float64) {
			sc.Sensors.MountHz, sc.Sensors.MountDamping = n/3, 0.1
			sc.Events = append(sc.Events, Event{At: 2, Do: "strap", To: 1})
		}, 1},
		{"mount at a third, a strap that passes a half", func(sc *Scenario, n float64) {
			sc.Sensors.MountHz, sc.Sensors.MountDamping, sc.Sensors.Strap = n/3, 0.1, 0.5
		}, 0.572683},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, _ := spin(tt.change, n)
			t.Logf("%.5f of the bare craft's line, on paper %.5f", got/bare, tt.gain)
			assert.InEpsilon(t, tt.gain, got/bare, 0.005)
		})
	}
}
