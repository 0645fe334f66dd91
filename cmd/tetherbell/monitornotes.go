package main

import (
	"fmt"
	"strings"
)

// What the monitor notes of a port, before and behind its name. A recording has
// it, and a replay reads it again.
const (
	portWord = "port "
	lostWord = " lost: trying again until it is back"
	backWord = " is back"
	// notesTold of ports are told at the end.
	notesTold = 6
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
	if at < len(d.cables) {
		d.cables[at].Port(!lost, d.eng.Now())
	}
	if d.ports++; d.ports <= notesTold {
		d.portNotes = append(d.portNotes, fmt.Sprintf("  monitor: %.1f s: %s", float64(d.eng.Now())/1e6, printableText(text, 160)))
	}
}

// portLines tell of ports that were lost and came back.
func (d *desk) portLines() []string {
	if n := d.ports - len(d.portNotes); n > 0 {
		return append(d.portNotes[:len(d.portNotes):len(d.portNotes)], fmt.Sprintf("  monitor: %d more notes of ports", n))
	}
	return d.portNotes
}
