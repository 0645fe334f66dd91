package main

import (
	"tetherbell/alarms/runcard"
)

// useCard puts a card of steps on the desk, before the first line; nil: none.
// Its run looks on at each of the engine's judgements, and its acts come through
// the desk in their order, so a recording says what the day said here too.
func (d *desk) useCard(c *runcard.Card) {
	if c == nil {
		return
	}
	d.card = runcard.NewRun(c)
	d.eng.SetWatcher(d.card)
}

// cardAct takes what a person did to a step of the card.
func (d *desk) cardAct(a runcard.Act, id string) {
	if d.rec != nil {
		d.rec.Mark(a.Mark(id))
	}
	d.card.Do(a, id)
	d.report()
}

// cardMark takes a mark that is the card's own, and reports whether it is. What
// came of a step is worked out anew, so that a replay does not say it twice.
func (d *desk) cardMark(text string) bool {
	if d.card == nil {
		return false
	}
	a, id, act, own := runcard.ParseMark(text)
	if act {
		d.cardAct(a, id)
	}
	return own
}

// reportCard hands on what changed on the card, and records what came of a step.
func (d *desk) reportCard() {
	if d.card == nil {
		return
	}
	for _, n := range d.card.News() {
		if d.rec != nil && n.Mark != "" {
			d.rec.Mark(n.Mark)
		}
		if d.onCard != nil {
			d.onCard(d.card.Card(), n)
		}
	}
}

// cardView copies the card for the screen; nil: there is none.
func (d *desk) cardView() *runcard.View {
	if d.card == nil {
		return nil
	}
	return d.card.View()
}
