package main

import (
	"strings"
)

// What the monitor notes of a port, before and behind its name. A recording has
// it, and a replay reads it again.
const (
	portWord = "port "
	lostWord = " lost: trying again until it is back"
	backWord = " is back"
)

// portText is the note of a port that is lost, or back.
func portText(name string, back bool) string {
	if back {
		return portWord + name + backWord
	}
	return portWord + name + lostWord
}

// monitor takes a note of the monitor's own, made now or on the day.
func (d *desk) monitor(text string) {
	if d.rec != nil {
		d.rec.Note(text)
	}
	if d.acc != nil {
		d.acc.Own(text)
	}
	d.tellOfItself(text)
	rest, ok := strings.CutPrefix(text, portWord)
	if !ok {
		return
	}
	name, lost := strings.CutSuffix(rest, lostWord)
	if !lost {
		if name, ok = strings.CutSuffix(rest, backWord); !ok {
			return
		}
	}
	at := 0
	for i := range d.many.names {
		if d.many.names[i] == name {
			at = i
		}
	}
	if !lost {
		d.eng.PortBack(at)
	}
	if at < len(d.cables) {
		d.cables[at].Port(!lost, d.eng.Now())
	}
}
