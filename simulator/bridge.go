package simulator

import (
	"math"

	"tetherbell/decode"
)

// never is a time that does not come.
const never = math.MaxInt64

// setEvery is how often every setting is told again, as the craft line is: a
// monitor that is started after the bridge must learn them, and one whose
// line was lost must hear them yet.
const setEvery = 10_000_000 // us

// A stream is one kind of line at its pace.
type stream struct {
	tag    decode.Tag
	period float64 // us
	base   int64   // instant of its first line, us since the start
	count  int64   // lines since
	due    int64   // instant of the next one
}

// A bridge samples the craft and sends lines. It has a clock and a counter of
// lines of its own, and a cable that may lose or spoil what it sends.
type bridge struct {
	link    Link
	noise   noise
	streams []stream
	next    int64 // earliest due
	seq     uint16
	boot    uint32
	born    int64  // when its clock showed clock0
	clock0  uint32 // us
	silent  int64  // the cable is dead until then
	down    int64  // the bridge itself is down until then; 0 it is up
	missing int    // lines of a burst still to lose
	sample  decode.Sample
	kept    [decode.TagCount]decode.Sample // the last of each kind, for a sensor that hangs
	sets    []setting
	poles   float64
	craft   decode.Sample
	name    []byte
	notes   []note
}

func newBridge(sc *Scenario, seed uint64) bridge {
	b := bridge{link: sc.Link, noise: newNoise(seed, streamLink), boot: sc.Link.Boot, clock0: sc.Link.ClockUS}
	r := &sc.Rates
	for _, s := range []struct {
		tag decode.Tag
		hz  float64
	}{
		{decode.State, r.State}, {decode.Axes, r.Axes}, {decode.Out, r.Out}, {decode.ERPM, r.ERPM},
		{decode.Accel, r.Accel}, {decode.Load, r.Load}, {decode.Temp, r.Temp}, {decode.Pack, r.Pack},
		{decode.Air, r.Air}, {decode.Hello, 1}, {decode.Craft, 0.1},
	} {
		if s.hz > 0 {
			b.streams = append(b.streams, stream{tag: s.tag, period: 1e6 / s.hz})
		}
	}
	b.poles = float64(sc.Craft.Poles)
	b.name = []byte(sc.Link.Name)
	b.notes = make([]note, 0, len(sc.Events))
	b.sets = newSettings(sc)
	c := &b.craft
	c.Tag, c.Text, c.Word = decode.Craft, []byte(sc.Craft.Name), []byte(sc.Craft.Layout)
	c.Put(decode.CraftMotors, float64(len(sc.places())))
	c.Put(decode.CraftPoles, b.poles)
	c.Put(decode.CraftBlades, float64(sc.Craft.Blades))
	c.Put(decode.CraftDiameter, sc.Craft.PropellerMM)
	c.Put(decode.CraftMass, sc.Craft.MassG)
	c.Put(decode.CraftCells, float64(sc.Craft.Cells))
	b.start(0)
	return b
}

// start is the bridge's coming up: hello and craft first, every setting is
// told, and the streams begin a few milliseconds apart. From then on it tells
// a setting when it changes, and every ten seconds.
func (b *bridge) start(now int64) {
	b.down, b.missing = 0, 0
	for k := range b.streams {
		s := &b.streams[k]
		switch s.tag {
		case decode.Hello:
			s.base = now
		case decode.Craft:
			s.base = now + 90
		default:
			s.base = now + 20_000 + 310*int64(k)
		}
		s.count, s.due = 0, s.base
	}
	for k := range b.sets {
		b.sets[k].due = now + 180 + 90*int64(k)
	}
	b.findNext()
}

// restart takes the bridge down for a while; it comes back with its clock and
// counter at nought and another boot number.
func (b *bridge) restart(now, until int64) {
	b.down = max(until, now+1)
	b.next = b.down
	for k := range b.notes {
		b.notes[k].due = max(b.notes[k].due, b.down+afterHello)
	}
}

func (b *bridge) findNext() {
	b.next = never
	for k := range b.streams {
		b.next = min(b.next, b.streams[k].due)
	}
	for k := range b.sets {
		b.next = min(b.next, b.sets[k].due)
	}
	if len(b.notes) > 0 {
		b.next = min(b.next, b.notes[0].due)
	}
}

// emit appends every line due before until.
func (b *bridge) emit(bench *Bench, dst []byte, until int64) []byte {
	for b.next < until {
		if b.down > 0 {
			b.seq, b.boot = 0, b.boot+1
			b.born, b.clock0 = b.down, 0
			b.start(b.down)
			continue
		}
		at := b.next
		dst = b.sendNotes(dst, at)
		for k := range b.sets {
			if s := &b.sets[k]; s.due == at {
				b.begin(decode.Set, at)
				b.sample.Word = s.name
				b.sample.Put(decode.SetValue, s.value)
				dst = b.send(dst, at)
				s.due = at + setEvery
			}
		}
		for k := range b.streams {
			s := &b.streams[k]
			if s.due != at {
				continue
			}
			b.begin(s.tag, at)
			b.measure(bench, at)
			dst = b.send(dst, at)
			b.schedule(s, at)
		}
		b.findNext()
	}
	return dst
}

// schedule sets a stream's next instant: on its even grid, but for jitter.
func (b *bridge) schedule(s *stream, at int64) {
	s.count++
	even := s.base + int64(mul(float64(s.count), s.period))
	off := mul(mul(clamp(b.noise.normal(), -3, 3), b.link.Jitter), s.period)
	s.due = max(at+1, even+int64(off))
}

// begin readies the sample for a new line.
func (b *bridge) begin(tag decode.Tag, at int64) {
	b.sample = decode.Sample{Tag: tag, Time: uint32(at-b.born) + b.clock0}
}

// send counts the line and puts it on the cable, which may lose or spoil it.
func (b *bridge) send(dst []byte, at int64) []byte {
	b.sample.Seq = b.seq
	b.seq++
	if b.lose() || at < b.silent {
		return dst
	}
	from := len(dst)
	dst = decode.Append(dst, &b.sample)
	if b.link.Flipped > 0 && b.noise.uniform() < b.link.Flipped {
		place := from + int(mul(b.noise.uniform(), float64(len(dst)-from)))
		dst[place] ^= 1 << (b.noise.pcg.Uint64() & 7)
	}
	return dst
}

// burstOdds returns how likely a burst begins at a line: with bursts of mean
// length B, starts so rare that the share of lost lines is as asked.
func (b *bridge) burstOdds() float64 {
	lost := b.link.Lost
	return lost / (mul(b.link.Burst, 1-lost) + lost)
}

// lose decides whether the cable swallows this line. Bursts have lengths of
// a geometric distribution.
func (b *bridge) lose() bool {
	if b.missing > 0 {
		b.missing--
		return true
	}
	if b.link.Lost <= 0 || b.noise.uniform() >= b.burstOdds() {
		return false
	}
	for b.noise.uniform() > 1/b.link.Burst {
		b.missing++
	}
	return true
}
