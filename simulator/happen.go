package simulator

import (
	"cmp"
	"reflect"
	"slices"

	"tetherbell/decode"
)

// hands are the person's sticks: each goes from one place to another along a
// straight line.
type hands [4]struct {
	from, to   float64
	begin, end int64
}

// The sticks' places in hands and in state lines.
const (
	stickThrottle = iota
	stickRoll
	stickPitch
	stickYaw
)

func (h *hands) at(now int64) (v [4]float64) {
	for k := range h {
		s := &h[k]
		switch {
		case now >= s.end:
			v[k] = s.to
		case now > s.begin:
			v[k] = s.from + mul(s.to-s.from, float64(now-s.begin)/float64(s.end-s.begin))
		default:
			v[k] = s.from
		}
	}
	return v
}

func (h *hands) move(stick int, now int64, to, over float64) {
	s := &h[stick]
	s.from, s.to = h.at(now)[stick], to
	s.begin, s.end = now, now+microseconds(over)
}

// microseconds turns a scenario's seconds into the clock's count.
func microseconds(s float64) int64 { return int64(mul(s, 1e6) + 0.5) }

// sortedEvents returns the events by time; those of one time keep their order.
func sortedEvents(in []Event) []Event {
	out := slices.Clone(in)
	slices.SortStableFunc(out, func(a, b Event) int {
		switch {
		case a.At < b.At:
			return -1
		case a.At > b.At:
			return 1
		}
		return 0
	})
	return out
}

// happen plays the events that are due.
func (b *Bench) happen() {
	for len(b.left) > 0 && microseconds(b.left[0].At) <= b.now {
		e := &b.left[0]
		b.left = b.left[1:]
		actions[e.Do].play(b, e)
	}
}

// An action is one thing that may happen: what of an event it needs, and what
// it does.
type action struct {
	needs string // keys that must stand in the event
	may   string // keys that may
	play  func(b *Bench, e *Event)
}

// actions are all the things that may happen. scenarios/README.md explains
// them to people; a test compares the two.
var actions = map[string]action{
	"arm":     {play: func(b *Bench, e *Event) { b.armed = true }},
	"disarm":  {play: func(b *Bench, e *Event) { b.armed = false }},
	"stop":    {play: func(b *Bench, e *Event) { b.stopped = true }},
	"release": {play: func(b *Bench, e *Event) { b.stopped = false }},

	"throttle": {needs: "to", may: "over", play: move(stickThrottle)},
	"roll":     {needs: "to", may: "over", play: move(stickRoll)},
	"pitch":    {needs: "to", may: "over", play: move(stickPitch)},
	"yaw":      {needs: "to", may: "over", play: move(stickYaw)},

	"set":  {needs: "name value", play: func(b *Bench, e *Event) { b.set(e.Name, e.Value) }},
	"note": {needs: "text", play: func(b *Bench, e *Event) { b.bridge.note(e.Text, b.now) }},

	"thrust":    {needs: "motor value", play: onPropeller(func(r *rotor, v float64) { r.thrustBy = v })},
	"unbalance": {needs: "motor value", play: onPropeller(func(r *rotor, v float64) { r.unbalance = mul(v, 1e-6) })},
	"propeller-off": {needs: "motor", play: func(b *Bench, e *Event) {
		r := &b.rotors[e.Motor-1]
		r.thrustBy, r.torqueBy, r.unbalance, r.bent, r.gone = 0, 0, 0, 0, true
	}},
	"break-blade": {needs: "motor value", play: func(b *Bench, e *Event) { b.breakBlade(e.Motor-1, e.Value) }},
	"bend-blade":  {needs: "motor value", play: onPropeller(func(r *rotor, v float64) { r.bent = v })},
	"lock":        {needs: "motor", play: func(b *Bench, e *Event) { b.lock(e.Motor - 1) }},
	"unlock":      {needs: "motor", play: func(b *Bench, e *Event) { b.rotors[e.Motor-1].locked = false }},
	"miscount":    {needs: "motor value", play: func(b *Bench, e *Event) { b.rotors[e.Motor-1].countBy = e.Value }},

	"line-breaks": {needs: "value", play: func(b *Bench, e *Event) { b.body.feet[int(e.Value)-1].broken = true }},
	"strap":       {needs: "to", play: func(b *Bench, e *Event) { b.sense.path.strap = e.To }},
	"freeze": {needs: "name seconds", play: func(b *Bench, e *Event) {
		b.sense.stuck[slices.Index(stuckNames, e.Name)] = b.now + microseconds(e.Seconds)
	}},
	"gyro-bias": {needs: "name value", play: func(b *Bench, e *Event) {
		b.sense.bias[slices.Index(axisNames, e.Name)] = e.Value
	}},
	"reverse": {needs: "name", play: func(b *Bench, e *Event) { b.reverse(slices.Index(axisNames, e.Name)) }},

	"mixer-reversed": {needs: "name", play: func(b *Bench, e *Event) { b.turnMixer(slices.Index(axisNames, e.Name)) }},
	"keep-height":    {needs: "value", play: func(b *Bench, e *Event) { b.keep.start(b, e.Value) }},

	"stick-output": {needs: "motor", play: func(b *Bench, e *Event) {
		b.stuck[e.Motor-1], b.stuckAt[e.Motor-1] = true, b.out[e.Motor-1]
	}},
	"free-output": {needs: "motor", play: func(b *Bench, e *Event) { b.stuck[e.Motor-1] = false }},
	"tap": {needs: "name value", play: func(b *Bench, e *Event) {
		b.body.rate[slices.Index(axisNames, e.Name)] += e.Value / degrees
	}},

	"control-lost": {play: func(b *Bench, e *Event) { b.controlOK = false }},
	"control-good": {play: func(b *Bench, e *Event) { b.controlOK = true }},

	"silence": {needs: "seconds", play: func(b *Bench, e *Event) {
		b.bridge.silent = b.now + microseconds(e.Seconds)
	}},
	"restart": {needs: "seconds", play: func(b *Bench, e *Event) {
		b.bridge.restart(b.now, b.now+microseconds(e.Seconds))
	}},
	"lose": {needs: "to", may: "value", play: func(b *Bench, e *Event) {
		b.bridge.link.Lost = e.To
		b.bridge.link.Burst = max(1, e.Value)
	}},
	"flip": {needs: "to", play: func(b *Bench, e *Event) { b.bridge.link.Flipped = e.To }},
}

// breakBlade takes a share off one blade of a rotor, from its tip: the lift
// and drag of that blade go by the square of what is left over the whole, and
// what is gone unbalances the rest.
func (b *Bench) breakBlade(m int, share float64) {
	r := &b.rotors[m]
	if r.gone || r.intact <= 0 {
		return
	}
	left := 1 - share
	lost := 1 - mul(left, left)
	blades := float64(b.sc.Craft.Blades)
	was := r.intact
	r.intact = max(0, was-lost/blades) // each break is another blade's
	r.thrustBy = mul(r.thrustBy, r.intact/was)
	r.torqueBy = mul(r.torqueBy, r.intact/was)
	r.bent = -lost
	// A blade weighs about 0.6 g at 178 mm, and more with the cube of its
	// length (common practice, no source); the piece sits at its middle.
	scale := b.prop.diameter / 0.178
	piece := mul(0.0006, mul(mul(scale, scale), mul(scale, share)))
	r.unbalance += mul(piece, mul(b.prop.diameter/2, 1-share/2))
}

// onPropeller does something to a rotor's propeller, if it is still there.
func onPropeller(do func(r *rotor, v float64)) func(b *Bench, e *Event) {
	return func(b *Bench, e *Event) {
		if r := &b.rotors[e.Motor-1]; !r.gone {
			do(r, e.Value)
		}
	}
}

// lock stops a rotor at once. Its angular momentum goes into the craft.
func (b *Bench) lock(m int) {
	r := &b.rotors[m]
	if !r.locked {
		b.body.rate[2] += mul(r.spin, mul(b.prop.rotorJ, mul(twoPi, r.n))) / b.body.inertia[2]
	}
	r.locked = true
}

// reverse turns a stick's channel over.
func (b *Bench) reverse(axis int) {
	l := &b.control.loop
	way := [3]*bool{&l.RollReversed, &l.PitchReversed, &l.YawReversed}[axis]
	*way = !*way
}

var axisNames = []string{"roll", "pitch", "yaw"}

func move(stick int) func(b *Bench, e *Event) {
	return func(b *Bench, e *Event) { b.hands.move(stick, b.now, e.To, e.Over) }
}

// note has the bridge say a text.
func (b *bridge) note(text string, now int64) {
	due := now
	if b.down > 0 { // it says so once it is back
		due = b.down + afterHello
	}
	b.notes = append(b.notes, note{[]byte(text), due})
	b.next = min(b.next, due)
}

// afterHello is when a bridge that comes up says what it had to keep, us.
const afterHello = 150

// A note waits to be sent.
type note struct {
	text []byte
	due  int64
}

// sendNotes appends the notes that are due at this instant.
func (b *bridge) sendNotes(dst []byte, at int64) []byte {
	for len(b.notes) > 0 && b.notes[0].due <= at {
		b.begin(decode.Note, at)
		b.sample.Text = b.notes[0].text
		b.notes = b.notes[1:]
		dst = b.send(dst, at)
	}
	return dst
}

// Act has something happen now, whatever the scenario says: a trainee's hand
// on stick and switches. It takes the same events as a scenario, their time
// aside, and refuses what Check would refuse.
func (b *Bench) Act(e Event) error {
	e.At = 0
	sc := b.sc
	sc.Events = []Event{e}
	if err := cmp.Or(sc.checkShares(), within(reflect.ValueOf(&sc).Elem(), ""), sc.checkEvents()); err != nil {
		return err
	}
	actions[e.Do].play(b, &e)
	return nil
}

// Sticks returns where the sticks are: throttle 0..1; roll, pitch and yaw
// -1..1.
func (b *Bench) Sticks() [4]float64 { return b.hands.at(b.now) }
