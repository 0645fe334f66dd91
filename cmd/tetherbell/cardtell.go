package main

import (
	"fmt"

	"tetherbell/alarms/runcard"
	"tetherbell/dashboard"
)

// An announcer speaks what becomes of a card: passed chooses the chime before the
// text. It must not wait.
//
// This is the one place where a voice is plugged in: audience.announce. While it
// is nil the card is seen and not heard.
type announcer func(text string, passed bool)

// carded tells one change of a card: in the journal or as a line, and by sound.
func (a *audience) carded(c *runcard.Card, n runcard.News) {
	line := cardLine(c, n)
	switch {
	case a.form == asScreen:
		a.note(dashboard.Entry{T: n.T, Text: "card " + line})
	case a.form == asPlain && a.out != nil && !a.quiet:
		a.out.say(fmt.Sprintf("%9.3f  %-6s %s", float64(n.T)/1e6, "card", line))
	}
	if a.announce != nil && !a.quiet {
		if text, passed := spoken(c, n); text != "" {
			a.announce(text, passed)
		}
	}
}

// cardLine words one change.
func cardLine(c *runcard.Card, n runcard.News) string {
	if n.Step < 0 {
		switch n.State {
		case runcard.Now:
			return "begins: " + c.Name + ": " + n.Text
		case runcard.Passed:
			return "ended: " + n.Text
		}
		return n.Text
	}
	s := &c.Steps[n.Step]
	line := fmt.Sprintf("%d/%d %s %s: %s", n.Step+1, len(c.Steps), s.ID, n.State, n.Text)
	if n.State == runcard.Failed {
		line += "; " + s.IfFailed
	}
	return line
}

// spoken is what a voice says of a change: short, for it is heard beside
// propellers. Figures are for the screen.
func spoken(c *runcard.Card, n runcard.News) (text string, passed bool) {
	if n.Step < 0 {
		switch n.State {
		case runcard.Passed:
			return "Card ended. " + n.Text + ".", true
		case runcard.Waiting:
			return n.Text + ".", false
		}
		return "", false
	}
	s := &c.Steps[n.Step]
	switch n.State {
	case runcard.Now:
		return s.Say, true
	case runcard.Passed:
		return s.ID + " passed.", true
	case runcard.Failed:
		return s.ID + " failed. " + s.IfFailed, false
	case runcard.ByEye:
		return s.ID + " is not measured: look yourself, and tick it after disarming.", false
	}
	return "", false
}
