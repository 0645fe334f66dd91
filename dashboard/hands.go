package dashboard

import (
	"github.com/gdamore/tcell/v2"
)

// A Hand is one move of a trainee's hand. The caller decides what it does to
// the craft, and may refuse it with a word in Hands.Say.
type Hand uint8

// The moves.
const (
	HandStop     Hand = iota // presses the stop switch; a later one lets it go
	HandArm                  // arms or disarms
	ThrottleUp               // one step
	ThrottleDown             // one step
	ThrottleZero             // all the way
	RollLeft                 // a nudge that springs back, as are the next ones
	RollRight
	NoseDown
	NoseUp
	YawLeft
	YawRight
)

// Hands is where a trainee's hand is.
type Hands struct {
	Throttle         float64 // 0..1
	Roll, Pitch, Yaw float64 // -1..1
	Armed, Stopped   bool
	Say              string // why the last key was refused; may be empty
}

// A handKey is a key that moves the hand.
type handKey struct {
	key
	move Hand
}

// handTable gives the trainee's keys their meaning. Where the hand is on, and
// the bench in view, they come before those of the key table.
func handTable() []handKey {
	rows := []handKey{
		{key{names: "Space", runes: " ", help: "STOP; when disarmed: let go"}, HandStop},
		{key{names: "r", runes: "rR", help: "arm, disarm"}, HandArm},
		{key{names: "Up Down", keys: []tcell.Key{tcell.KeyUp}, help: "throttle by 0.02"}, ThrottleUp},
		{key{keys: []tcell.Key{tcell.KeyDown}}, ThrottleDown},
		{key{names: "0", runes: "0", help: "throttle to zero"}, ThrottleZero},
		{key{names: "Left Right", keys: []tcell.Key{tcell.KeyLeft}, help: "nudge roll"}, RollLeft},
		{key{keys: []tcell.Key{tcell.KeyRight}}, RollRight},
		{key{names: "i k", runes: "iI", help: "nudge pitch: nose down, up"}, NoseDown},
		{key{runes: "kK"}, NoseUp},
		{key{names: "j l", runes: "jJ", help: "nudge yaw: left, right"}, YawLeft},
		{key{runes: "lL"}, YawRight},
	}
	for i := range rows {
		rows[i].do = moves(rows[i].move)
	}
	return rows
}

func moves(h Hand) func(*board) {
	return func(b *board) { b.act(Act{Kind: MoveHand, Hand: h}) }
}

// handsOf is the hand of a frame, nil where there is none.
func handsOf(f *Frame) *Hands {
	if f == nil {
		return nil
	}
	return f.Status.Hands
}

// hand answers the trainee's keys, and reports whether the key is spent. The
// stop works on every page. The others ask for the bench in view: what closes
// a page does no more, and the lists need the arrows for themselves.
func (b *board) hand(e *tcell.EventKey, bare bool) bool {
	if handsOf(b.frame) == nil {
		return false
	}
	for _, k := range handTable() {
		switch {
		case !k.matches(e):
			continue
		case k.move == HandStop || bare && !b.view.scrolls():
			k.do(b)
		case bare:
			return false
		}
		return true
	}
	return false
}

// handHelp puts the trainee's keys before the others of the help page.
func handHelp(shown []key) []key {
	var out []key
	for _, k := range handTable() {
		if k.names != "" {
			out = append(out, k.key)
		}
	}
	for _, k := range shown {
		if k.names == "Up Down" { // the throttle, here
			k.names, k.help = "PgUp PgDn", "scroll (lists: Up Down too)"
		}
		out = append(out, k)
	}
	return out
}

// drawHands draws the line of the hand: sticks, and the keys that move them.
// On a page where those do not work it says how to get back.
func (b *board) drawHands(p pane, h *Hands) {
	l := p.look
	for x := range p.w {
		p.put(x, 0, ' ', l.plain)
	}
	x := 0
	say := func(t string, do func(*board)) {
		b.clicks = append(b.clicks, clickable{p.x + x, p.y, len(t), do})
		x = p.text(x, 0, t, l.invert.Bold(true)) + 1
	}
	stop := "Space STOP"
	switch {
	case h.Stopped && h.Armed:
		stop = "STOPPED"
	case h.Stopped:
		stop = "Space release"
	}
	say(stop, moves(HandStop))
	arm := "r arm"
	if h.Armed {
		arm = "r disarm"
	}
	switch {
	case b.help || !b.cautioned:
		p.text(x, 0, "any key goes on to the sticks", l.plain)
		return
	case b.view.scrolls():
		p.text(x, 0, "1 goes back to the sticks", l.plain)
		return
	}
	if !h.Stopped || h.Armed { // else it would be refused
		say(arm, moves(HandArm))
	}
	x = max(x, len("Space STOP r disarm ")) // the sticks keep their places
	if h.Say != "" {
		p.text(x, 0, clean(h.Say), l.bold)
		return
	}
	gap := 1
	if p.w >= wideColumns {
		gap = 3
	}
	upDown, leftRight := "↑↓0", "←→"
	if l.ascii {
		upDown, leftRight = "^v0", "<>"
	}
	for _, s := range [4]struct{ keys, name, place string }{
		{upDown, "throttle", num(h.Throttle, 2)},
		{leftRight, "roll", left(signed(h.Roll, 2), 5)}, {"ik", "pitch", left(signed(h.Pitch, 2), 5)}, {"jl", "yaw", left(signed(h.Yaw, 2), 5)},
	} {
		x = p.text(x, 0, s.keys, l.bold)
		x = p.text(x+1, 0, s.name+" "+s.place, l.plain) + gap
	}
}
