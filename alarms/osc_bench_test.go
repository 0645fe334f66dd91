package alarms_test

import (
	"math"
	"math/rand/v2"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// bench draws the signals of a spin-up. It uses no code of the detectors. All
// of it is invented for the test: levels are those of a small craft.
type bench struct {
	rate    float64 // axes lines a second
	seconds float64
	loss    float64 // share of lines lost, in bursts of up to four
	jitter  float64 // of the step

	axis   int // that oscillates, -1 none
	hz     float64
	growth float64
	start  float64 // amplitude at the begin
	begin  float64 // when it starts
	top    float64 // where it saturates
	stand  float64 // it does not grow before
	hole   float64 // when the axes stop for 0.4 s, 0 never

	steps    bool    // stick steps on all axes
	rests    float64 // when the sticks come to rest, 0 never
	carried  float64 // deg/s of demand per output of the oscillation: an attitude loop's
	ramps    bool    // throttle up and down
	taps     bool    // knocks that ring down
	rotors   float64 // strength of the rotor lines in output, 0 none
	noise    float64 // factor of the noise
	windup   bool    // integrators that drift
	empty    bool    // demands not measured
	noRate   bool
	noCtrl   bool
	halfCtrl bool // outputs are measured in every second line
	deadERPM bool // rotor speeds are reported as nothing
	erpm     bool // rotor speeds are reported
	disarmed bool
	watch    bool // run on past the limit and past the first alarm
}

// result is what an engine said of it.
type result struct {
	events    []alarms.Event
	at        float64 // of the first medium or high rising-oscillation
	amplitude float64 // true amplitude then
	where     detect.Where
	silent    bool // passed the limit in silence
	summary   alarms.Summary
}

func (b bench) amp(t float64) float64 {
	if b.axis < 0 || t < b.begin {
		return 0
	}
	return min(b.start*math.Exp(b.growth*max(t-max(b.begin, b.stand), 0)), b.top)
}

// drawing is a bench on its way through time.
type drawing struct {
	bench
	rng    *rand.Rand
	engine *alarms.Engine
	s      decode.Sample
	seq    uint16
	res    result

	throttle, speed   float64
	dem               [3]float64
	answer            [3][2]float64 // to the demand, and its slope
	slow, drift       [3]float64
	tap, tapV         [3]float64
	rotor             [4]float64 // phases
	phase             float64
	nextStep, nextTap float64
	ctrl, body, fed   [3]float64
}

// run feeds the signals to an engine.
func (b bench) run(seed uint64) result {
	rng := rand.New(rand.NewPCG(seed, 77))
	d := drawing{
		bench: b, rng: rng, throttle: 0.3, nextStep: 2, nextTap: 3, phase: rng.Float64() * 2 * math.Pi,
		engine: alarms.New(craft.Craft{Motors: 4, Poles: 14, Blades: 3, DiameterMM: 178, MassG: 655}, alarms.Options{}),
	}
	d.res.silent = b.axis >= 0
	dt := 1 / b.rate
	nextState, nextOut, lost := 0.0, 0.0, 0
	for t := 0.0; t < b.seconds; t += dt {
		d.step(t, dt)
		at := t + b.jitter*dt*(2*rng.Float64()-1)
		if t >= nextState {
			nextState += 0.05
			d.state(at)
		}
		if t >= nextOut {
			nextOut += 0.01
			d.take(decode.Out, at, func(s *decode.Sample) {
				for m := range 4 {
					s.Put(m, d.throttle)
				}
			})
		}
		if !b.watch && b.axis >= 0 && b.amp(t) >= 0.1 && d.res.at == 0 {
			break // past the limit in silence
		}
		if b.hole > 0 && t >= b.hole && t < b.hole+0.4 {
			d.seq++
			continue
		}
		if lost == 0 && rng.Float64() < b.loss/2.5 {
			lost = 1 + rng.IntN(4)
		}
		if lost > 0 {
			lost--
			d.seq++
			continue
		}
		d.take(decode.Axes, at, d.axes)
		if d.res.at > 0 && !b.watch {
			d.res.silent = false
			break
		}
	}
	d.res.summary = d.engine.Summary()
	return d.res
}

// take hands one sample to the engine and keeps what it says.
func (d *drawing) take(tag decode.Tag, t float64, fill func(*decode.Sample)) {
	d.s = decode.Sample{Tag: tag, Seq: d.seq, Time: uint32(t * 1e6)}
	d.seq++
	fill(&d.s)
	d.engine.Sample(&d.s, 80)
	for _, ev := range d.engine.Events() {
		d.res.events = append(d.res.events, ev)
		if d.res.at == 0 && ev.Kind == detect.RisingOscillation && ev.Change == alarms.Raised && ev.Priority >= detect.Medium {
			at := float64(ev.T) / 1e6
			d.res.at, d.res.amplitude, d.res.where = at, d.amp(at), ev.Where
		}
	}
}

func (d *drawing) state(at float64) {
	d.take(decode.State, at, func(s *decode.Sample) {
		armed := 1.0
		if d.disarmed {
			armed = 0
		}
		for i, v := range []float64{armed, 0, 1, d.throttle} {
			s.Put(i, v)
		}
		if !d.empty { // neither demand nor sticks
			for i, v := range d.dem {
				s.Put(decode.StickRoll+i, math.Round(v/200*1e3)/1e3)
			}
		}
		s.Put(decode.ControlOK, 1)
	})
	if !d.erpm {
		return
	}
	d.take(decode.ERPM, at, func(s *decode.Sample) {
		for m := range 4 {
			if d.deadERPM {
				s.Put(m, 0)
				continue
			}
			s.Put(m, 7*math.Round(d.speed*(1+0.03*float64(m))))
		}
	})
}

// axes fills a line, with the rounding of a real bridge.
func (d *drawing) axes(s *decode.Sample) {
	for i := range 3 {
		if !d.noRate {
			s.Put(decode.RateRoll+i, math.Round(d.body[i]*10)/10)
		}
		if !d.empty {
			s.Put(decode.DemandRoll+i, math.Round((d.dem[i]+d.fed[i])*10)/10)
		}
		if !d.noCtrl && (!d.halfCtrl || d.seq%2 == 0) {
			s.Put(decode.ControlRoll+i, math.Round(d.ctrl[i]*1e4)/1e4)
		}
	}
	s.Put(decode.Throttle, d.throttle)
}

// step moves everything on by dt.
func (d *drawing) step(t, dt float64) {
	if d.ramps {
		d.throttle = 0.3 + 0.15*math.Sin(2*math.Pi*t/7) + 0.05*math.Sin(2*math.Pi*t/1.9)
	}
	if d.steps && t > d.nextStep && (d.rests == 0 || t < d.rests) {
		d.nextStep = t + 0.3 + 1.5*d.rng.Float64()
		for i := range d.dem {
			d.dem[i] = 60 * (2*d.rng.Float64() - 1) * float64(d.rng.IntN(2))
		}
	}
	if d.taps && t > d.nextTap {
		d.nextTap = t + 0.4 + 2*d.rng.Float64()
		d.tapV[d.rng.IntN(3)] += 0.12 * (2*d.rng.Float64() - 1)
	}
	d.speed = 6000 + 14000*d.throttle
	line := 0.0
	for m := range d.rotor {
		f := (d.speed*(1+0.03*float64(m)) + 60*math.Sin(t*(0.3+0.1*float64(m)))) / 60
		d.rotor[m] += 2 * math.Pi * f * dt
		line += d.rotors * d.throttle * (math.Sin(d.rotor[m]) + 0.5*math.Sin(3*d.rotor[m]))
	}
	for i := range d.ctrl {
		d.moveAxis(i, t, dt, line)
	}
}

func (d *drawing) moveAxis(i int, t, dt, line float64) {
	const w0, z = 2 * math.Pi * 6, 0.5           // the loop's answer to the demand
	const tapW, tapZ = 2 * math.Pi * 9, 0.15     // a knock rings down at 9 Hz
	const outPerRate, ratePerOut = 0.002, 300.0  // of this craft
	const white, coloured = 0.0012, 0.004 * 7.75 // noise of the output, one sigma, and its slow part for one hertz
	for range 4 {
		h := dt / 4
		d.answer[i][1] += (w0*w0*(d.dem[i]-d.answer[i][0]) - 2*z*w0*d.answer[i][1]) * h
		d.answer[i][0] += d.answer[i][1] * h
		d.tapV[i] += (-tapW*tapW*d.tap[i] - 2*tapZ*tapW*d.tapV[i]) * h
		d.tap[i] += d.tapV[i] * h
	}
	d.slow[i] += (d.rng.NormFloat64() - d.slow[i]) * min(1, dt*2*math.Pi*20)
	d.drift[i] += d.rng.NormFloat64()*0.02*math.Sqrt(dt) - d.drift[i]*dt
	n := d.noise * (white*d.rng.NormFloat64() + coloured*d.slow[i]*math.Sqrt(dt))
	osc, oscRate := 0.0, 0.0
	switch {
	case d.axis < 0:
	case i == d.axis:
		osc = d.amp(t) * math.Sin(2*math.Pi*d.hz*t+d.phase)
		oscRate = ratePerOut * d.amp(t) * math.Sin(2*math.Pi*d.hz*t+d.phase-2)
	default: // the other axes are moved a little
		osc = 0.1 * d.amp(t) * math.Sin(2*math.Pi*d.hz*t+d.phase+1)
		oscRate = ratePerOut * osc
	}
	d.fed[i] = d.carried * osc
	drift := 0.0
	if d.windup {
		drift = d.drift[i]
	}
	d.ctrl[i] = osc + outPerRate*(d.dem[i]-d.answer[i][0]) + 0.000015*d.answer[i][1] + n + 27*d.tap[i] + 0.3*line + drift
	rateNoise := d.noise * (0.3*d.rng.NormFloat64() + 9.3*d.slow[i]*math.Sqrt(dt))
	d.body[i] = oscRate + d.answer[i][0] - 2700*d.tap[i] + rateNoise + 30*line
}
