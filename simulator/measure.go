package simulator

import "tetherbell/decode"

// measure fills the line that was begun with what stands at this instant.
func (b *bridge) measure(bench *Bench, at int64) {
	s := &b.sample
	ahead := at - bench.now
	if k := stuckOf(s.Tag); k >= 0 && at < bench.sense.stuck[k] && b.kept[s.Tag].Tag == s.Tag {
		seq, time := s.Seq, s.Time
		*s = b.kept[s.Tag] // it hangs: the same again, to the last digit
		s.Seq, s.Time = seq, time
		return
	}
	switch s.Tag {
	case decode.Hello:
		s.Text = b.name
		s.Put(decode.HelloVersion, 1)
		s.Put(decode.HelloBoot, float64(b.boot))
	case decode.Craft:
		seq, time := s.Seq, s.Time
		*s = b.craft
		s.Seq, s.Time = seq, time
	case decode.Axes:
		b.axes(bench, ahead)
	case decode.Out:
		for m, v := range bench.out[:bench.motors] {
			s.Put(m, grid(v, 10_000))
		}
	case decode.ERPM:
		for m := range bench.motors {
			// The drive times one electrical turn: good to about 0.1 %.
			r := &bench.rotors[m]
			rpm := mul(mul(mul(r.n, r.countBy), 60), 1+mul(0.001, bench.lineNoise.normal()))
			s.Put(m, clamp(grid(mul(rpm, b.poles/2), 1), 0, 1_000_000))
		}
	case decode.Accel:
		for k, v := range bench.sense.force(bench, ahead) {
			s.Put(k, v)
		}
	case decode.Load:
		s.Put(decode.LoadN, bench.sense.loadN(bench))
	case decode.Temp:
		for m := range bench.motors {
			s.Put(m, clamp(grid(bench.rotors[m].temp+mul(0.05, bench.lineNoise.normal()), 10), -40, 250))
		}
	case decode.Pack:
		s.Put(decode.Volts, max(0, grid(bench.pack.volts+mul(0.004, bench.lineNoise.normal()), 1000)))
		s.Put(decode.Amps, clamp(grid(bench.pack.amps+mul(0.03, bench.lineNoise.normal()), 100), -50, 1000))
	case decode.Air:
		s.Put(decode.Pascal, bench.sense.pascal(bench))
		s.Put(decode.AirC, bench.sc.Air.Celsius)
	case decode.State:
		b.state(bench, at)
	}
	if stuckOf(s.Tag) >= 0 {
		b.kept[s.Tag] = *s
	}
}

// stuckOf returns what must hang for a line to repeat itself, -1 nothing can:
// a gyro that hangs still leaves the controller's own values alive.
func stuckOf(t decode.Tag) int {
	switch t {
	case decode.ERPM:
		return stuckERPM
	case decode.Temp:
		return stuckTemp
	case decode.Pack:
		return stuckPack
	case decode.Air:
		return stuckAir
	case decode.Load:
		return stuckLoad
	}
	return -1
}

// axes fills a line of rates (0.1 deg/s), demands and controller outputs
// (0.0001).
func (b *bridge) axes(bench *Bench, ahead int64) {
	c := &bench.control
	gyro := bench.sense.gyro(bench, ahead, &bench.lineNoise)
	for k := range 3 {
		b.sample.Put(decode.RateRoll+k, grid(gyro[k], 10))
		b.sample.Put(decode.DemandRoll+k, grid(c.demand[k], 10))
		b.sample.Put(decode.ControlRoll+k, grid(c.u[k], 10_000))
	}
	b.sample.Put(decode.Throttle, grid(c.throttle, 10_000))
}

func (b *bridge) state(bench *Bench, at int64) {
	s := &b.sample
	flag := func(slot int, on bool) {
		v := 0.0
		if on {
			v = 1
		}
		s.Put(slot, v)
	}
	flag(decode.Armed, bench.armed)
	flag(decode.Stopped, bench.stopped)
	flag(decode.Ground, bench.body.padN > mul(mul(0.02, bench.body.mass), gravity))
	for k, v := range bench.sticks(at) {
		s.Put(decode.StickThrottle+k, grid(v, 1000))
	}
	flag(decode.ControlOK, bench.controlOK)
}
