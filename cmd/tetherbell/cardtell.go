package main

import (
	"fmt"
	"strings"

	"tetherbell/alarms/runcard"
	"tetherbell/dashboard/sound"
)

// An announcer makes heard what has become of a step: a chime for one that
// passed or failed, and words where they are wanted. It must not wait.
type announcer func(state runcard.State, words ...string)

// announceBy gives a card the voice of a player. Words of one moment give way
// to the newest: what to do next matters more than what was passed, which the
// chime has told.
func announceBy(p *sound.Player) announcer {
	return func(state runcard.State, words ...string) {
		switch state {
		case runcard.Passed:
			p.Chime(true)
		case runcard.Failed, runcard.Waiting: // armed before it is done
			p.Chime(false)
		}
		p.Say(words...)
	}
}

// carded tells one change of a card: in the journal or as a line, and by sound.
func (a *audience) carded(c *runcard.Card, n runcard.News) {
	line := cardLine(c, n)
	a.remark(n.T, "card", line, "card "+line)
	if a.announce == nil || a.quiet {
		a.eye = ""
		return
	}
	text := spoken(c, n)
	switch {
	case n.State == runcard.ByEye && n.Goes:
		a.eye = text // what to look at is no less than what to do next: both are said
	case a.eye != "":
		a.announce(n.State, a.eye, text)
		a.eye = ""
	case text != "":
		a.announce(n.State, text)
	}
}

// cardLine words one change.
func cardLine(c *runcard.Card, n runcard.News) string {
	if n.Step < 0 {
		switch n.State {
		case runcard.Now:
			return "begins: " + c.Name + ": " + n.Text
		case runcard.Passed, runcard.Failed:
			return "ended: " + n.Text
		}
		return n.Text
	}
	s := &c.Steps[n.Step]
	line := fmt.Sprintf("%d/%d %s %s: %s", n.Step+1, len(c.Steps), s.ID, n.State, n.Text)
	if n.State == runcard.Failed {
		line += "; " + n.Do
	}
	return line
}

// spoken is what a voice says of a change: short, for it is heard beside
// propellers. Figures are for the screen.
func spoken(c *runcard.Card, n runcard.News) string {
	if n.Step < 0 {
		switch n.State {
		case runcard.Passed, runcard.Failed:
			return strings.Replace(strings.ToLower(n.Text), "card", "Card", 1) + "."
		case runcard.Waiting:
			return n.Text + "."
		}
		return ""
	}
	s := &c.Steps[n.Step]
	switch n.State {
	case runcard.Now:
		return n.Text
	case runcard.Passed:
		return s.ID + " passed."
	case runcard.Failed:
		return s.ID + " failed. " + n.Do
	case runcard.ByEye:
		return s.ID + " is not measured: look yourself, and tick it after disarming."
	}
	return ""
}
