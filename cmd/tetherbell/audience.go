package main

import (
	"fmt"
	"sync/atomic"
	"time"

	"tetherbell/alarms"
	"tetherbell/alarms/runcard"
	"tetherbell/dashboard"
	"tetherbell/dashboard/sound"
	"tetherbell/dashboard/vigil"
)

const (
	// frameEvery is how often there is a new picture while nothing happens:
	// no eye reads figures that change faster. What happens makes its own,
	// with the next tick.
	frameEvery = 100 * time.Millisecond
	// keepEntries is how much of the journal a person can scroll back over.
	keepEntries = 400
)

// form is how events are told on standard output.
type form uint8

const (
	asScreen form = iota // not at all: there is a screen
	asPlain
	asJSON
)

// An audience is everybody who is told: the sound first, then standard
// output, then the screen. None of them can hold up the desk, whose goroutine
// owns the audience.
type audience struct {
	form     form
	sound    *sound.Player // nil: none
	out      *printer      // nil with a screen
	frame    atomic.Pointer[dashboard.Frame]
	journal  []dashboard.Entry
	fresh    bool // the journal has changed since the last frame
	shown    []dashboard.Entry
	line     []byte
	card     func() *runcard.View // of the desk; nil: nobody asks for one
	announce announcer            // nil: no voice
	eye      string               // words of a step left to the eye, which those of the next one go with
	watch    *vigil.Watch         // that the sound beats for; nil: none
	quiet    bool                 // a replay that runs ahead: nothing is heard or printed
	aids
}

// heard tells the sound what should be heard now.
func (a *audience) heard(s *alarms.Snapshot) {
	if a.sound != nil && !a.quiet {
		a.sound.Want(s.Sounding, s.SoundSeq)
		a.aid(s)
	}
}

// told tells events, once the sound has been told.
func (a *audience) told(events []alarms.Event) {
	for i := range events {
		e := &events[i]
		switch {
		case a.out == nil || a.quiet:
		case a.form == asJSON:
			a.line = e.AppendJSON(a.line[:0], "")
			a.out.print(a.line)
		default:
			a.out.say(e.Plain())
		}
		if a.form == asScreen {
			a.note(dashboard.FromEvent(e))
		}
	}
}

// acted tells what the person did that no event tells of: in the journal, or
// as a line like those of events.
func (a *audience) acted(t int64, word, text string) {
	a.remark(t, word, text, word+": "+text)
}

// turned tells the journal what the craft says of itself, once that has changed.
func (a *audience) turned(t int64, text string) { a.remark(t, "craft", text, text) }

// remark tells what is no event: an entry in the journal of a screen, or a line
// like those of events, a word in the place of the priority.
func (a *audience) remark(t int64, word, text, entry string) {
	switch {
	case a.form == asScreen:
		a.note(dashboard.Entry{T: t, Text: entry})
	case a.form == asPlain && a.out != nil && !a.quiet:
		a.out.say(fmt.Sprintf("%9.3f  %-6s %s", float64(t)/1e6, word, text))
	}
}

// note adds an entry to the journal.
func (a *audience) note(e dashboard.Entry) {
	if len(a.journal) >= 2*keepEntries {
		a.journal = append(a.journal[:0], a.journal[len(a.journal)-keepEntries:]...)
	}
	a.journal = append(a.journal, e)
	a.fresh = true
}

// show makes a new picture. It shares nothing that changes later.
func (a *audience) show(s *alarms.Snapshot, st dashboard.Status) {
	if a.fresh {
		tail := a.journal[max(0, len(a.journal)-keepEntries):]
		a.shown = append([]dashboard.Entry(nil), tail...)
		a.fresh = false
	}
	f := &dashboard.Frame{Snap: s, Status: st, Journal: a.shown}
	if a.card != nil {
		f.Card = a.card()
	}
	a.frame.Store(f)
}

// latest gives the newest picture, for the screen's goroutine.
func (a *audience) latest() *dashboard.Frame { return a.frame.Load() }
