package hearing

import (
	"fmt"
	"math"
	"math/rand/v2"

	"tetherbell/decode"
)

// Limit of the controller output that nothing may pass in silence.
const Limit = 0.10

// GyroDensity is the gyro's noise, deg/s/sqrt(Hz): twice what data sheets of
// small gyros promise, since a frame adds its own (common practice, no source).
const GyroDensity = 0.01

// A Bench says what is drawn. Zero values are a quiet bench.
type Bench struct {
	Name    string
	Rate    float64 // axes lines a second
	Seconds float64
	Seed    uint64

	Hz, Growth float64 // of the loop that goes unstable; Growth 0: none does
	Begin      float64 // when its gain rises
	Healthy    bool    // the gain does not rise: the cause removed

	Noise    float64 // factor of the gyro's noise, 0 stands for 1
	Wash     float64 // torque noise below 4 Hz, deg/s^2/sqrt(Hz)
	Loss     float64 // share of lines lost, in bursts
	Sticks   bool    // steps, doublets and slow moves of the sticks
	Ramps    bool    // throttle up and down
	Taps     bool    // knocks on the frame
	Lines    float64 // amplitude of each rotor line in the output at half throttle, 0 none
	Drift    bool    // integrators that wind up
	Coarse   bool    // rate rounded to 1 deg/s, output to 0.002
	NoSpeeds bool    // rotor speeds are not reported
	NoDemand bool
	NoRate   bool
	NoOutput bool
	Damping  float64 // of loops near their margin: damping ratio of their slowest pair, 0 for well damped ones
	Nearing  bool    // their gains come up from four tenths, and go back, in half a minute
}

// String tells the bench in a few words.
func (b Bench) String() string {
	return fmt.Sprintf("%s %.0f/s seed %d: %.1f Hz %+.2f /s", b.Name, b.Rate, b.Seed, b.Hz, b.Growth)
}

// Axis is the one that oscillates.
func (b *Bench) Axis() int { return int(b.Seed % 3) }

// A Drawing is a bench on its way through time.
type Drawing struct {
	Bench
	rng    *rand.Rand
	h      float64 // of a step, seconds
	sub    int     // steps a line
	steps  int64
	nextAt int64 // step of the next line
	lines  int64
	losing int
	axes   [3]axis

	throttle, throttleTo, throttleIn float64
	rotors                           [4]rotor
	blades                           float64
	said                             [4][]float64 // speeds on their way to the report
	saidAt                           int
	nextStick, nextTap               float64
	noise                            float64
}

// axis is one loop with what shakes it.
type axis struct {
	*loop
	wants, demand, demandV float64
	turbulence             float64
	pull, pullSlow, torque float64
	tap, tapLeft           float64
	lineGain               [4][2]float64
	lineTurn               [4][2]float64
}

// rotor is one motor with its propeller.
type rotor struct{ phase, hz, off, wander float64 }

// stepsASecond of the loops: a controller of about 2 kHz.
const stepsASecond = 2000

// NewDrawing draws craft and bench from the seed.
func NewDrawing(b Bench) *Drawing {
	d := &Drawing{Bench: b, rng: rand.New(rand.NewPCG(b.Seed, 0xbe11)), throttle: 0.3, nextStick: 1.5, nextTap: 2, noise: 1}
	if b.Noise > 0 {
		d.noise = b.Noise
	}
	d.sub = max(1, int(math.Round(stepsASecond/b.Rate)))
	d.h = 1 / (b.Rate * float64(d.sub))
	d.blades = float64(2 + d.rng.IntN(2))
	for m := range d.rotors {
		d.rotors[m] = rotor{phase: d.rng.Float64() * 2 * math.Pi, off: 0.03 * d.rng.NormFloat64()}
		d.said[m] = make([]float64, int(0.03/d.h))
	}
	hz, growth := b.Hz, b.Growth
	if growth == 0 && hz == 0 {
		hz, growth = 3*math.Pow(50.0/3, d.rng.Float64()), 1
	}
	for i := range d.axes {
		d.axes[i].loop = drawLoop(d.rng, hz, max(growth, 0.3), d.h)
		d.axes[i].now = (0.2 + 0.3*d.rng.Float64()) * d.axes[i].gain
		if b.Damping > 0 {
			f := hz * (0.8 + 0.4*d.rng.Float64())
			d.axes[i].loop = drawLoop(d.rng, f, -b.Damping*2*math.Pi*f, d.h)
		}
		end := d.axes[i].now
		if b.Growth > 0 && i == b.Axis() {
			end = d.axes[i].gain
		}
		d.drawLines(&d.axes[i], end)
	}
	return d
}

// drawLines draws how strongly each rotor's lines reach an axis: the amplitude
// of a line in the output is about Lines at half throttle, at the gain that the
// loop comes to.
func (d *Drawing) drawLines(a *axis, gain float64) {
	const typical = 150.0 // hertz, of a line
	for m := range a.lineGain {
		for k := range a.lineGain[m] {
			strength := d.Lines * (0.3 + 0.7*d.rng.Float64())
			if k == 1 {
				strength *= 0.7
			}
			// Back through gyro filter, derivative and gain.
			corner := -math.Log(1-a.ag) / (2 * math.Pi * d.h)
			lead := math.Hypot(1, 2*math.Pi*typical*a.td)
			a.lineGain[m][k] = strength / gain * math.Hypot(1, typical/corner) / lead
			a.lineTurn[m][k] = d.rng.Float64() * 2 * math.Pi
		}
	}
}

// Now is the time of the newest step, seconds.
func (d *Drawing) Now() float64 { return float64(d.steps) * d.h }

// Truth is the amplitude of the oscillating loop's pole pair in its output, 0
// before its gain rose.
func (d *Drawing) Truth() float64 {
	if d.Growth == 0 || d.Healthy || d.Now() < d.Begin {
		return 0
	}
	a := &d.axes[d.Axis()]
	amplitude, _ := a.mode(a.torque, a.demand)
	return amplitude
}

// Next runs to the next line that arrives. It reports false at the end.
func (d *Drawing) Next(f *Frame) bool {
	for {
		d.nextLine()
		for d.steps < d.nextAt {
			d.step()
		}
		if d.Now() >= d.Seconds {
			return false
		}
		if d.losing == 0 && d.rng.Float64() < d.Loss/2.5 {
			d.losing = 1 + d.rng.IntN(4)
		}
		if d.losing > 0 {
			d.losing--
			continue
		}
		d.fill(f)
		return true
	}
}

// nextLine sets when the next line is taken: near its time, a tenth of the
// pace to and fro.
func (d *Drawing) nextLine() {
	d.lines++
	j := (2*d.rng.Float64() - 1) * 0.1 * float64(d.sub)
	at := float64(d.lines*int64(d.sub)) + j
	d.nextAt = max(d.steps+1, int64(math.Floor(at+d.rng.Float64())))
}

func (d *Drawing) fill(f *Frame) {
	f.T = d.Now()
	rate, out := 0.1, 1e-4
	if d.Coarse {
		rate, out = 1, 2e-3
	}
	for i := range d.axes {
		a := &d.axes[i]
		f.Rate[i] = math.Round(a.g/rate) * rate
		f.Output[i] = math.Round(a.past[a.head]/out) * out
		f.Demand[i] = math.Round(a.demand*10) / 10
	}
}

// Speeds are the rotors' reported speeds, turns a second, 30 ms late.
func (d *Drawing) Speeds() [4]float64 {
	var v [4]float64
	for m := range v {
		v[m] = d.said[m][d.saidAt]
	}
	return v
}

// put hands the frame's values to a sample of the axes stream.
func (d *Drawing) put(f *Frame, s *decode.Sample) {
	for i := range 3 {
		if !d.NoRate {
			s.Put(decode.RateRoll+i, f.Rate[i])
		}
		if !d.NoDemand {
			s.Put(decode.DemandRoll+i, f.Demand[i])
		}
		if !d.NoOutput {
			s.Put(decode.ControlRoll+i, f.Output[i])
		}
	}
	s.Put(decode.Throttle, math.Round(d.throttle*1e3)/1e3)
}
