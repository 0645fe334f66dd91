package dashboard

import (
	"slices"
	"time"

	"tetherbell/alarms/runcard"
)

// cards sends an act for the step that the drawn picture offered it for. Where
// the card is not in view it opens it: nobody ticks what cannot be read whole.
func cards(a runcard.Act) func(*board) {
	return func(b *board) {
		if !b.card {
			b.card = hasCard(b.frame)
			return
		}
		if b.drawn == nil || b.drawn.Card == nil {
			return
		}
		v := b.drawn.Card
		id := [...]string{v.TickID, v.NoID, v.SkipID, v.AgainID}[a]
		b.actOn(a, id)
	}
}

// An offer is a key of the card that stands on the screen.
type offer struct {
	act   runcard.Act
	id    string
	since time.Time // when it came there
}

// A cardSight is what the board remembers of the card it shows.
type cardSight struct {
	before  []offer      // keys of the card, in the picture before the last
	pressed [4]time.Time // when each of them was pressed last
	up, at  int          // how far it is scrolled back, and at which step
}

// letGo is how long a key must have been let go before it counts again: a key
// that is held comes some thirty times a second (common practice, no source).
const letGo = time.Second / 4

// actOn sends an act for a step if the picture has offered it for long enough to
// be read: one further down, behind the help page, or one that has just taken
// the place of another, was not. A key that is held down acts once.
func (b *board) actOn(a runcard.Act, id string) {
	now := b.now()
	held := now.Sub(b.sight.pressed[a]) < letGo
	b.sight.pressed[a] = now
	at := slices.IndexFunc(b.offered, func(o offer) bool { return o.act == a && o.id == id })
	if id == "" || at < 0 || held || now.Sub(b.offered[at].since) < takeIn {
		return
	}
	b.act(Act{Kind: CardAct, Step: a, Text: id})
}

// hasCard reports whether there is a card to act on.
func hasCard(f *Frame) bool { return f != nil && f.Card != nil }

// withoutCard leaves out the card's keys where there is no card.
func withoutCard(keys []key, f *Frame) []key {
	if hasCard(f) {
		return keys
	}
	var out []key
	for _, k := range keys {
		if !k.card {
			out = append(out, k)
		}
	}
	return out
}

// clickCard notes a place of the card that the mouse can press.
func (b *board) clickCard(x, y, w int, a runcard.Act, id string) {
	o := offer{a, id, b.now()}
	for _, was := range b.sight.before {
		if was.act == a && was.id == id {
			o.since = was.since
		}
	}
	b.offered = append(b.offered, o)
	b.clicks = append(b.clicks, clickable{x, y, w, func(b *board) { b.actOn(a, id) }})
}
