package compare

import (
	"math"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A bench feeds a collector with lines that a test draws: every value is a
// function of time. All of it is invented.
type bench struct {
	c    *Collector
	t    float64 // s
	rate float64 // axes a second
	out  map[decode.Tag]bool

	armed, stopped float64
	stick          [4]float64
	throttle       float64
	outs           [4]float64
	control        func(t float64) float64 // roll; pitch and yaw do half and a third of it
	turn           func(t float64) float64 // deg/s
	force          func(t float64) float64 // z
	temp           func(t float64) float64 // m3; the others stay
	load, volts    float64
	amps           float64
	spoil          float64 // a value that takes the place of all, where it is not nought
}

func newBench() *bench {
	zero := func(float64) float64 { return 0 }
	still := func(float64) float64 { return -9.81 }
	warm := func(float64) float64 { return 20 }
	return &bench{c: NewCollector(craft.Craft{Motors: 4, Cells: 4}), rate: 400, out: map[decode.Tag]bool{},
		control: zero, turn: zero, force: still, temp: warm, load: 3, volts: 16, amps: 2}
}

// steady sets a throttle that is asked for and obeyed.
func (b *bench) steady(throttle float64) *bench {
	b.stick[0], b.throttle = throttle, throttle
	if throttle == 0 {
		b.outs = [4]float64{0.08, 0.08, 0.08, 0.08}
	} else {
		b.outs = [4]float64{throttle * 1.05, throttle * 0.95, throttle, throttle}
	}
	return b
}

func (b *bench) send(tag decode.Tag, v ...float64) {
	if b.out[tag] {
		return
	}
	s := decode.Sample{Tag: tag}
	for i, x := range v {
		if b.spoil != 0 {
			x = b.spoil
		}
		s.Put(i, x)
	}
	b.c.Sample(int64(b.t*1e6), &s)
}

// run sends all streams for some time.
func (b *bench) run(seconds float64) *bench {
	step := 1 / b.rate
	n := int(math.Round(seconds * b.rate))
	every := func(i int, hz float64) bool { return i%int(math.Round(b.rate/hz)) == 0 }
	for i := range n {
		if every(i, 50) {
			b.send(decode.State, b.armed, b.stopped, 1, b.stick[0], b.stick[1], b.stick[2], b.stick[3], 1)
		}
		u, w := b.control(b.t), b.turn(b.t)
		b.send(decode.Axes, w, w/2, w/3, 0, 0, 0, u, u/2, u/3, b.throttle)
		if every(i, 100) {
			b.send(decode.Out, b.outs[0], b.outs[1], b.outs[2], b.outs[3])
			b.send(decode.Accel, 0, 0, b.force(b.t))
		}
		if every(i, 50) {
			b.send(decode.Load, b.load)
		}
		if every(i, 20) {
			b.send(decode.Pack, b.volts, b.amps)
		}
		if every(i, 5) {
			b.send(decode.Temp, 20, 20, b.temp(b.t), 20)
		}
		b.t += step
	}
	return b
}

// ramp moves the throttle along a line.
func (b *bench) ramp(to, seconds float64) *bench {
	from := b.stick[0]
	for i := range 50 {
		b.steady(from + (to-from)*float64(i+1)/50)
		b.run(seconds / 50)
	}
	return b
}

// set sends a setting.
func (b *bench) set(name string, v float64) *bench {
	s := decode.Sample{Tag: decode.Set, Word: []byte(name)}
	s.Put(decode.SetValue, v)
	b.c.Sample(int64(b.t*1e6), &s)
	return b
}
