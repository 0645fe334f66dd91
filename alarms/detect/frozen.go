package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
)

const (
	// frozenLines: a value must repeat in so many lines at least, however slow
	// its stream.
	frozenLines = 10
	// frozenLearn lines must have been seen in this state before.
	frozenLearn = 20
	// frozenAlive is the share of lines with a change over which a value counts
	// as alive (common practice, no source). One that changes less often is
	// watched too, up to frozenDull, but must repeat for so long that an alive
	// one would not do it once in a million. Noise that lands in steps of a
	// sensor with the chances p1, p2, ... repeats with the sum of their squares,
	// S, and stays n times more in one step with the sum of p^(n+1), which is at
	// most S^((n+1)/2): no step's chance is over the root of S.
	frozenAlive  = 0.90
	frozenDull   = 0.50
	frozenChance = 1e-6
	// frozenTurns: of its changes so many must turn back: a trembling value
	// turns back in two of three, a ramp that ends in none, and that is no sensor
	// that hangs (two of three: white noise; common result, computed).
	frozenTurns = 0.20
	// frozenLonger: and it must repeat so many times longer than it ever did.
	frozenLonger = 2
	frozenBlend  = 1.0 / 32 // weight of a line in what is known of the last lines
	frozenParts  = 8
)

// The streams that are watched, in the order in which one place tells of them.
var frozenStreams = [...]struct {
	tag   decode.Tag
	parts int // fields that are measured: what is computed may well stand
	name  string
}{
	{decode.Axes, 3, "gyro"}, {decode.Accel, 3, "accelerometer"}, {decode.ERPM, 8, "rotor speed"},
	{decode.Temp, 8, "motor temperature"}, {decode.Pack, 2, "pack"}, {decode.Load, 1, "load cells"}, {decode.Air, 1, "barometer"},
}

// pulse follows one value: how often it changes, and since when it does not.
type pulse struct {
	known  bool
	last   float64
	way    int8    // of the last change, +1 or -1
	lines  float64 // in this state, the present run of repeats not counted
	same   float64 // of them, without a change
	turns  float64 // changes that turned back
	recent float64 // share of repeats in the last lines
	run    int     // repeats now
	most   int     // most repeats that ended
	since  int64   // time of the last change
	gap    int     // lines running that do not measure it
	heard  int64   // when it was last measured
}

// stream follows one stream: each field, and all of them together.
type frozenStream struct {
	part  [frozenParts]pulse
	whole pulse
	mask  Where // of the finding that is up
	which bool  // it is the whole line
	at    int64
	place uint16 // fields of the finding
	news  frozenNews
}

// frozenSensor tells of a value that trembled and now repeats to the last
// digit.
type frozenSensor struct {
	s     [len(frozenStreams)]frozenStream
	going bool // armed, with thrust on
	turn  uint8
}

// NewFrozenSensor returns the detector of frozen-sensor.
func NewFrozenSensor() Detector { return &frozenSensor{} }

func (*frozenSensor) Kind() Kind { return FrozenSensor }

// Reset forgets every value.
func (d *frozenSensor) Reset() { *d = frozenSensor{} }

// frozenState reports whether values may be expected to tremble: armed, with
// an output over zero. What is not known counts as so.
func frozenState(b *Bench) bool {
	armed := b.Armed == Yes || b.Armed == Unknown && b.LastArmed == Yes
	return armed && b.Stopped != Yes && thrustOver(b, 0, zeroOutput)
}

// Observe follows the values of a line.
func (d *frozenSensor) Observe(b *Bench, in *Input) {
	if in.S.Tag == decode.State || in.S.Tag == decode.Out {
		if going := frozenState(b); going != d.going {
			d.going = going
			for k := range d.s {
				d.s[k].between(in.At)
			}
		}
		return
	}
	for k := range frozenStreams {
		switch {
		case frozenStreams[k].tag != in.S.Tag:
		case d.going:
			d.s[k].take(in, frozenStreams[k].parts)
		default:
			d.s[k].rest(in, frozenStreams[k].parts)
		}
	}
}

// between ends what was found, and lets every value begin its repeats anew. What is
// known of a value stays: one that hung at the stop hangs at the next arming too,
// and must be told again, or what comes of it is taken for a fault of the craft.
func (s *frozenStream) between(at int64) {
	s.mask, s.place, s.which, s.news = 0, 0, false, frozenNews{}
	for i := range s.part {
		s.part[i].begin(at)
	}
	s.whole.begin(at)
}

// rest follows one line while nothing need tremble. A value that moves there lives,
// and what it does under thrust is learned anew.
func (s *frozenStream) rest(in *Input, parts int) {
	for i := range parts {
		if v, ok := in.S.Get(i); ok && v != s.part[i].last {
			s.part[i], s.whole = pulse{}, pulse{}
		}
	}
}

// take follows one line. A field that is not measured is a hole: what is known
// of the value stays, and only a long hole ends its repeats.
func (s *frozenStream) take(in *Input, parts int) {
	changed, turned, any := false, false, false
	for i := range parts {
		p := &s.part[i]
		v, ok := in.S.Get(i)
		if !ok {
			p.gap++
			continue
		}
		if in.S.Tag == decode.ERPM && v == 0 { // a rotor that stands is rotor-lost's
			*p = pulse{}
			continue
		}
		any = true
		if !p.known {
			*p = pulse{known: true, last: v, since: in.At, heard: in.At}
			continue
		}
		if p.resume(in.At) {
			p.last = v
			continue
		}
		if v == p.last {
			p.see(false, false, in.At)
			continue
		}
		way := int8(1)
		if v < p.last {
			way = -1
		}
		back := way == -p.way
		changed, turned = true, turned || back
		p.see(true, back, in.At)
		p.last, p.way = v, way
	}
	w := &s.whole
	switch {
	case !any:
		w.gap++
	case !w.known:
		*w = pulse{known: true, since: in.At, heard: in.At}
	case !w.resume(in.At):
		w.see(changed, turned, in.At)
	}
	s.at = in.At
}

// here reports whether the value is measured, but for a hole of one line or of
// a moment.
func (p *pulse) here(at int64) bool {
	return p.known && (p.gap <= 1 || at-p.heard <= holeTime)
}

// resume notes that the value is measured, and reports whether that begins its
// repeats anew: nobody knows what it did in a long hole.
func (p *pulse) resume(at int64) bool {
	anew := !p.here(at)
	if anew {
		p.run, p.since = 0, at
	}
	p.gap, p.heard = 0, at
	return anew
}

// begin forgets the repeats, and no more.
func (p *pulse) begin(at int64) { p.run, p.since, p.gap, p.heard = 0, at, 0, at }

// see takes whether a line brought a change.
func (p *pulse) see(changed, back bool, at int64) {
	if !changed {
		p.run++
		return
	}
	p.lines += float64(p.run) + 1
	p.same += float64(p.run)
	for range min(p.run, 256) {
		p.recent += frozenBlend * (1 - p.recent)
	}
	p.recent -= frozenBlend * p.recent
	if back {
		p.turns++
	}
	p.most = max(p.most, p.run)
	p.run, p.since = 0, at
}

// repeats returns the chance of a repeat: what was seen in this state or in
// its last lines, whichever is more. One repeat more than seen is allowed for.
func (p *pulse) repeats() float64 {
	return max((p.same+1)/(p.lines+1), p.recent)
}

// alive reports whether the value was seen trembling.
func (p *pulse) alive() bool {
	return p.known && p.lines >= frozenLearn && p.repeats() <= frozenDull && p.turns >= frozenTurns*(p.lines-p.same)
}

// frozen reports whether an alive value has stood for too long.
func (p *pulse) frozen(at int64, least int64) bool {
	if !p.here(at) || !p.alive() || p.run < frozenLines || p.run < frozenLonger*p.most || at-p.since < least {
		return false
	}
	r := p.repeats()
	return p.same/p.lines < 1-frozenAlive || float64(p.run+1)/2*math.Log(r) < math.Log(frozenChance)
}

// Judge gives one finding for each place of a stream that hangs.
func (d *frozenSensor) Judge(b *Bench, dst []Finding) []Finding {
	if !d.going {
		return dst
	}
	least := int64(b.Limits.FrozenSeconds * float64(Second))
	for k := range d.s {
		s := &d.s[k]
		if s.mask != 0 && !s.still() {
			s.mask, s.place = 0, 0
		}
		if s.look(k, least) {
			d.arrive(s)
		}
	}
	for k := range d.s {
		s := &d.s[k]
		if s.mask == 0 || d.lead(s.mask) != k {
			continue
		}
		dst = append(dst, Finding{
			Where: s.mask, Level: Medium, Case: s.news.turn,
			Value: s.span(), Limit: b.Limits.FrozenSeconds,
		})
	}
	return dst
}

// still reports whether what was found has not changed since.
func (s *frozenStream) still() bool {
	if s.which {
		return s.whole.known && s.whole.run > 0 && s.whole.gap == 0
	}
	for i := range s.part {
		if s.place&(1<<uint(i)) != 0 && s.part[i].known && s.part[i].run > 0 && s.part[i].gap == 0 {
			return true
		}
	}
	return false
}

// since returns the time of the last change of what was found.
func (s *frozenStream) since() int64 {
	if s.which {
		return s.whole.since
	}
	t := s.at
	for i := range s.part {
		if s.place&(1<<uint(i)) != 0 && s.part[i].run > 0 {
			t = min(t, s.part[i].since)
		}
	}
	return t
}

// find looks for a frozen line, else for frozen fields of it.
func (s *frozenStream) find(least int64) (fields uint16, whole bool) {
	known, stuck, now := uint16(0), uint16(0), false
	for i := range s.part {
		p := &s.part[i]
		if !p.here(s.at) {
			continue
		}
		known |= 1 << uint(i)
		if p.frozen(s.at, least) {
			stuck |= 1 << uint(i)
			now = now || p.gap == 0
		}
	}
	switch {
	case s.whole.gap == 0 && s.whole.frozen(s.at, least):
		return known, true
	case now: // one of them at least is measured in this line
		return stuck, false
	}
	return 0, false
}

// frozenPlace names the place of fields of a stream.
func frozenPlace(tag decode.Tag, fields uint16) Where {
	switch tag {
	case decode.Axes:
		return Where(fields) // roll, pitch, yaw are its first bits
	case decode.ERPM, decode.Temp:
		return Where(fields) * M1
	case decode.Pack:
		return Pack
	}
	return Craft
}

// Describe says which sensors repeat themselves.
func (d *frozenSensor) Describe(_ *Bench, f Finding) Story {
	k := max(d.lead(f.Where), 0)
	name := frozenStreams[k].name
	s := Story{
		Unit: "s", Cause: "sensor hangs",
		Text: fmt.Sprintf("%s of %s has repeated itself to the last digit for %.1f s", name, f.Where, f.Value),
		More: []Fact{{"stream", name}, {"lines_repeated", d.s[k].run()}},
	}
	if f.Where == Craft || f.Where == Pack {
		s.Text = fmt.Sprintf("%s: the value has repeated itself to the last digit for %.1f s", name, f.Value)
	}
	wiring := name
	for i := range d.s {
		if i != k && d.s[i].mask == f.Where {
			other := frozenStreams[i].name
			wiring += ", " + other
			s.Text += fmt.Sprintf("; %s for %.1f s", other, d.s[i].span())
		}
	}
	s.Action = "stop; check the wiring of the " + wiring
	if frozenStreams[k].tag == decode.Axes {
		s.Action = "cut throttle; the loop steers by a dead gyro"
	}
	return s
}

// run returns how many lines what was found has repeated for.
func (s *frozenStream) run() int {
	if s.which {
		return s.whole.run
	}
	n := 0
	for i := range s.part {
		if s.place&(1<<uint(i)) != 0 {
			n = max(n, s.part[i].run)
		}
	}
	return n
}

// Missing speaks up only when nothing is watched at all.
func (d *frozenSensor) Missing(b *Bench) string {
	if b.Armed == Unknown && b.LastArmed == Unknown {
		return noArmed(b)
	}
	for k := range frozenStreams {
		if b.Streams[frozenStreams[k].tag].Count > 0 {
			if !d.going || !d.learned() {
				return ""
			}
			for i := range d.s {
				if d.s[i].watched() {
					return ""
				}
			}
			return "no value trembles enough to tell when it hangs"
		}
	}
	return "no sensor values"
}

// learned reports whether the streams have been followed for long enough to
// be known.
func (d *frozenSensor) learned() bool {
	for i := range d.s {
		if p := &d.s[i].whole; p.known && p.lines+float64(p.run) >= 2*frozenLearn {
			return true
		}
	}
	return false
}

// watched reports whether the stream has a value that is alive.
func (s *frozenStream) watched() bool {
	if s.whole.alive() {
		return true
	}
	for i := range s.part {
		if s.part[i].alive() {
			return true
		}
	}
	return false
}
