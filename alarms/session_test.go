package alarms

import (
	"math"
	"math/rand/v2"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// An input is one thing an engine is given.
type input struct {
	kind  byte // l line, b bad line, t tick, a acknowledge, p pause
	s     decode.Sample
	ms    int64
	k     detect.Kind
	w     detect.Where
	pause float64
}

func (in *input) feed(e *Engine) {
	switch in.kind {
	case 'l':
		s := in.s
		e.Sample(&s, 60)
	case 'b':
		e.Bad(60)
	case 't':
		e.Tick(in.ms)
	case 'a':
		e.Acknowledge(in.k, in.w)
	case 'p':
		e.PauseSound(in.pause)
	}
}

// nasty texts: what a text of the line could try.
var nasty = []string{`Marsh Heron`, `"},{"t":1`, `back\slash\`, `<b>&amp;`, "bell\a\x1b[2J", "two\nlines\r", "\xff\xfe", ""}

// A drawer draws a session that rings in every way: it is no craft, but each
// stream stays within the protocol's ranges.
type drawer struct {
	rng    *rand.Rand
	in     []input
	us     int64 // the bridge's clock
	host   int64 // milliseconds
	ticks  bool
	seq    uint16
	armed  float64
	mood   int // what the craft does for a while
	phase  float64
	growth float64
}

// drawSession draws so many seconds; every few of them something else begins.
func drawSession(seed uint64, seconds float64, ticks bool) []input {
	d := &drawer{rng: rand.New(rand.NewPCG(seed, 99)), ticks: ticks, us: int64(seed) * 1_000_000_007 % (1 << 32)}
	for range int(seconds * 250) {
		d.step(4000)
		d.lines()
		if d.rng.IntN(750) == 0 {
			d.mood, d.growth = d.rng.IntN(6), 0.003
		}
		if d.rng.IntN(1500) == 0 {
			d.happen()
		}
	}
	return d.in
}

func (d *drawer) step(us int64) {
	d.us += us
	if before := d.host; d.ticks {
		d.host += us / 1000
		for ms := before/20*20 + 20; ms <= d.host; ms += 20 {
			d.in = append(d.in, input{kind: 't', ms: ms})
		}
	}
}

// happen is what befalls a session now and then.
func (d *drawer) happen() {
	switch d.rng.IntN(9) {
	case 0: // the bridge begins anew
		d.us, d.seq = 0, 0
	case 1: // silence
		for range d.rng.IntN(100) {
			d.step(20_000)
		}
	case 2: // the host's clock steps back
		d.host = max(0, d.host-int64(d.rng.IntN(3000)))
	case 3:
		for range d.rng.IntN(40) {
			d.in = append(d.in, input{kind: 'b'})
		}
	case 4, 5:
		for _, w := range []detect.Where{detect.Link, detect.Craft, detect.Pitch, detect.M2} {
			d.in = append(d.in, input{kind: 'a', k: detect.Kind(d.rng.IntN(int(detect.KindCount))), w: w})
		}
	case 6:
		d.in = append(d.in, input{kind: 'p', pause: []float64{10, -1, 1e9, math.NaN(), math.Inf(1)}[d.rng.IntN(5)]})
	case 7:
		d.us += int64(d.rng.IntN(20_000_000)) // a leap of the bridge
	default:
		d.armed = 1 - d.armed
	}
}

func (d *drawer) line(tag decode.Tag, word, text string, v ...float64) {
	s := decode.Sample{Tag: tag, Seq: d.seq, Time: uint32(d.us)}
	if tag != decode.Axes {
		s.Time -= uint32(d.rng.IntN(30_000)) // streams lag each other
	}
	d.seq++
	switch d.rng.IntN(40) {
	case 0:
		return // lost
	case 1:
		d.in = append(d.in, input{kind: 'b'})
		return
	}
	s.Word, s.Text = []byte(word), []byte(text)
	for i, x := range v {
		if d.rng.IntN(200) > 0 { // else not measured
			s.Put(i, x)
		}
	}
	d.in = append(d.in, input{kind: 'l', s: s})
}

// lines sends what is due in this step of 4 ms.
func (d *drawer) lines() {
	r := d.rng
	d.phase += 2 * math.Pi * 9 * 0.004
	d.growth = min(d.growth*1.01, 0.4)
	osc, out, lift, stick, turn := 0.0, 0.06, 0.0, 0.0, 0.0
	switch d.mood {
	case 1:
		osc = d.growth
	case 2:
		out, stick, lift = 0.45, 0.4, 5.9
	case 3:
		out = 0.6
	case 4:
		osc, out, stick = 0.3, 0.3, 0.3
	case 5:
		turn, out = min(3000, 20000*d.growth), 0.3
	}
	noise := func() float64 { return r.NormFloat64() * 0.002 }
	if r.IntN(20) > 0 {
		c := osc*math.Sin(d.phase) + noise()
		d.line(decode.Axes, "", "", turn+500*osc*math.Cos(d.phase), 300*c, noise(), 0, 0, 0, c, c, noise(), out)
	}
	if r.IntN(3) == 0 {
		d.line(decode.Out, "", "", out, min(1, 1.6*out), out, out)
		d.line(decode.ERPM, "", "", 90000*out, 90000*out, 90000*out, 60000*out)
	}
	if r.IntN(12) == 0 {
		d.line(decode.State, "", "", d.armed, float64(r.IntN(40)/39), 1, stick, 0, 0, 0, 1)
		d.line(decode.Load, "", "", lift)
	}
	if r.IntN(250) == 0 {
		text := nasty[r.IntN(len(nasty))]
		d.line(decode.Temp, "", "", 20, 21, 22, 23)
		d.line(decode.Hello, "", text, 1, float64(1+r.IntN(30)/29))
		d.line(decode.Craft, "quad-x", text, 4, 14, 3, 178, 655, 4)
		d.line(decode.Set, []string{"idle_ready", "limit_oscillation", "idle_least", "p_roll"}[r.IntN(4)], text, []float64{0.06, 0.5, -3, 1e300}[r.IntN(4)])
		d.line(decode.Note, "", text)
		d.line(decode.Unknown, "", "")
	}
}

func heron() craft.Craft {
	return craft.Craft{Name: "two\nlines \"quoted\"", Layout: "quad-x", Motors: 4, Poles: 14, Blades: 3, DiameterMM: 178, MassG: 655, Cells: 4}
}
