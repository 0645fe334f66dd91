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

	axis     int // that oscillates, -1 none
	hz       float64
	growth   float64
	start    float64 // amplitude at the begin
	begin    float64 // when it starts
	top      float64 // where it saturates
	steps    bool    // stick steps on all axes
	ramps    bool    // throttle up and down
	taps     bool
	rotors   float64 // strength of the rotor lines in output, 0 none
	noise    float64 // factor of the noise
	empty    bool    // demands not measured
	noRate   bool
	noCtrl   bool
	windup   bool
	erpm     bool
	disarmed bool
	watch    bool // run on past the limit and past the first alarm
}

type result struct {
	events    []alarms.Event
	amplitude float64 // true amplitude at the first medium or high of the axis
	at        float64
	silent    bool // passed the limit in silence
	where     detect.Where
	summary   alarms.Summary
}

func (b bench) amp(t float64) float64 {
	if b.axis < 0 || t < b.begin {
		return 0
	}
	return min(b.start*math.Exp(b.growth*(t-b.begin)), b.top)
}

// run feeds the signals to an engine.
func (b bench) run(seed uint64) (res result) {
	rng := rand.New(rand.NewPCG(seed, 77))
	e := alarms.New(craft.Craft{Motors: 4, Poles: 14, Blades: 3, DiameterMM: 178, MassG: 655}, alarms.Options{})
	res.silent = b.axis >= 0
	defer func() { res.summary = e.Summary() }()
	var s decode.Sample
	seq := uint16(0)
	take := func(tag decode.Tag, t float64, fill func()) {
		s = decode.Sample{Tag: tag, Seq: seq, Time: uint32(t * 1e6)}
		seq++
		fill()
		e.Sample(&s, 80)
		for _, ev := range e.Events() {
			res.events = append(res.events, ev)
			if ev.Kind == detect.RisingOscillation && ev.Change == alarms.Raised && ev.Priority >= detect.Medium && res.at == 0 {
				res.at, res.amplitude, res.where = float64(ev.T)/1e6, b.amp(float64(ev.T)/1e6), ev.Where
			}
		}
	}
	dt := 1 / b.rate
	armed := 1.0
	if b.disarmed {
		armed = 0
	}
	nextState, nextOut, lost := 0.0, 0.0, 0
	var ctrl, rate, dem [3]float64
	var loNoise, tapU, tapV, wob [3]float64
	var resp [3][2]float64
	phase := rng.Float64() * 6.28
	var rph [4]float64
	thr := 0.3
	nextStep, nextTap := 2.0, 3.0
	for t := 0.0; t < b.seconds; t += dt {
		if b.ramps {
			thr = 0.3 + 0.15*math.Sin(2*math.Pi*t/7) + 0.05*math.Sin(2*math.Pi*t/1.9)
		}
		if b.steps && t > nextStep {
			nextStep = t + 0.3 + 1.5*rng.Float64()
			for i := range dem {
				dem[i] = 60 * (2*rng.Float64() - 1) * float64(rng.IntN(2))
			}
		}
		if b.taps && t > nextTap {
			nextTap = t + 0.4 + 2*rng.Float64()
			i := rng.IntN(3)
			tapV[i] += 0.12 * (2*rng.Float64() - 1)
		}
		speed := 6000 + 14000*thr
		line := 0.0
		for m := range rph {
			f := (speed*(1+0.03*float64(m)) + 60*math.Sin(t*(0.3+0.1*float64(m)))) / 60
			rph[m] += 2 * math.Pi * f * dt
			line += b.rotors * thr * (math.Sin(rph[m]) + 0.5*math.Sin(3*rph[m]))
		}
		for i := range ctrl {
			// the loop's answer to the demand: a second-order response
			w0, z := 2*math.Pi*6, 0.5
			for range 4 {
				h := dt / 4
				acc := w0*w0*(dem[i]-resp[i][0]) - 2*z*w0*resp[i][1]
				resp[i][1] += acc * h
				resp[i][0] += resp[i][1] * h
				// a tap rings down at 9 Hz
				tapV[i] += (-(2*math.Pi*9)*(2*math.Pi*9)*tapU[i] - 2*0.15*2*math.Pi*9*tapV[i]) * h
				tapU[i] += tapV[i] * h
			}
			loNoise[i] += (rng.NormFloat64() - loNoise[i]) * min(1, dt*2*math.Pi*20)
			wob[i] += rng.NormFloat64() * 0.02 * math.Sqrt(dt)
			wob[i] -= wob[i] * dt
			n := b.noise * (0.0012*rng.NormFloat64() + 0.004*loNoise[i]*math.Sqrt(dt*60))
			osc, oscY := 0.0, 0.0
			if i == b.axis {
				osc = b.amp(t) * math.Sin(2*math.Pi*b.hz*t+phase)
				oscY = b.amp(t) * 300 * math.Sin(2*math.Pi*b.hz*t+phase-2)
			}
			if b.axis >= 0 && i != b.axis {
				osc = 0.1 * b.amp(t) * math.Sin(2*math.Pi*b.hz*t+phase+1)
				oscY = 300 * osc
			}
			drift := 0.0
			if b.windup {
				drift = wob[i]
			}
			ctrl[i] = osc + 0.002*(dem[i]-resp[i][0]) + 0.0003*resp[i][1]/20 + n + 3*tapU[i]*9 + line*0.3 + drift
			rate[i] = oscY + resp[i][0] - 900*tapU[i]*3 + b.noise*(0.3*rng.NormFloat64()+1.2*loNoise[i]*math.Sqrt(dt*60)) + 100*line*0.3
		}
		at := t + b.jitter*dt*(2*rng.Float64()-1)
		if t >= nextState {
			nextState += 0.05
			take(decode.State, at, func() {
				for i, v := range []float64{armed, 0, 1, thr, 0, 0, 0, 1} {
					s.Put(i, v)
				}
			})
			if b.erpm {
				take(decode.ERPM, at, func() {
					for m := range 4 {
						s.Put(m, 7*math.Round(speed*(1+0.03*float64(m))))
					}
				})
			}
		}
		if t >= nextOut {
			nextOut += 0.01
			take(decode.Out, at, func() {
				for m := range 4 {
					s.Put(m, thr)
				}
			})
		}
		if !b.watch && b.axis >= 0 && b.amp(t) >= 0.1 && res.at == 0 {
			return res // past the limit in silence
		}
		if lost == 0 && rng.Float64() < b.loss/2.5 {
			lost = 1 + rng.IntN(4)
		}
		if lost > 0 {
			lost--
			seq++
			continue
		}
		take(decode.Axes, at, func() {
			for i := range 3 {
				if !b.noRate {
					s.Put(decode.RateRoll+i, math.Round(rate[i]*10)/10)
				}
				if !b.empty {
					s.Put(decode.DemandRoll+i, math.Round(dem[i]*10)/10)
				}
				if !b.noCtrl {
					s.Put(decode.ControlRoll+i, math.Round(ctrl[i]*1e4)/1e4)
				}
			}
			s.Put(decode.Throttle, thr)
		})
		if res.at > 0 && !b.watch {
			res.silent = false
			return res
		}
	}
	return res
}
