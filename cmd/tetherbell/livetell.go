package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
	"tetherbell/dashboard"
	"tetherbell/dashboard/sound"
	"tetherbell/decode"
)

// lookEvery is how often the line as a whole is looked at.
const lookEvery = 200 * time.Millisecond

// lookAtSound tries the audio whenever it has become what is heard, at the
// start and when it comes back, by a soft chime: who hears it knows that an
// alarm would be heard. It tells what makes the sound when that has changed,
// and at the start where no screen shows it.
func (l *live) lookAtSound() {
	if l.aud.sound == nil || l.ended {
		return
	}
	select {
	case <-l.aud.sound.Settled():
	default:
		return
	}
	way := l.aud.sound.State().Way
	status := l.aud.sound.Status() // no older than the way
	if way == l.way {
		return
	}
	if way == sound.Audio {
		l.aud.sound.Chime(true)
	}
	first := l.way == sound.Unknown
	l.way = way
	if !first {
		l.record(soundWords(status))
	}
	if l.aud.form != asScreen || !first { // the screen shows what it began with
		l.say(soundWords(status))
	}
}

// tell is called by the desk with what changed: the sound hears it first.
func (l *live) tell(events []alarms.Event) {
	var s alarms.Snapshot
	l.desk.eng.Snapshot(&s)
	l.judgeBeacon(&s)
	l.expect(&s)
	l.aud.heard(&s)
	l.aud.told(events)
	l.shownAt = time.Time{} // and the next tick shows it
}

// showNow makes a new picture, and lets the sound know what should be heard:
// a sound pause ends by time alone.
func (l *live) showNow() {
	l.shownAt = time.Now()
	s := new(alarms.Snapshot)
	l.desk.eng.Snapshot(s)
	if l.ended {
		s.Sounding, l.aud.still = 0, true // nothing is watched any more
		if l.blind = l.blind && s.PausedUS == 0; l.blind {
			s.Sounding = detect.High // and somebody may rely on it
			s.SoundSeq++
		}
	}
	l.judgeBeacon(s)
	l.expect(s)
	l.aud.heard(s)
	l.lookAtSound()
	if l.aud.form == asScreen {
		l.aud.show(s, l.status())
	}
}

// status is what the engine does not know.
func (l *live) status() dashboard.Status {
	st := dashboard.Status{Source: l.name, Baud: l.limit, Hint: l.hint, Ended: l.ended, Leaving: l.leaving, Blind: l.blind, Port: "open", Sights: l.desk.cableSights(), BadCauses: l.desk.countCauses()}
	if l.aud.sound != nil {
		st.Sound, st.Heard, st.Tick = l.aud.sound.Status(), l.aud.sound.State(), l.aud.tickWord()
	}
	if l.port != nil {
		if p := l.port.Status(); !p.Open {
			st.Lost = true
			st.Port = fmt.Sprintf("lost for %.0f s, tried again %d times", time.Since(p.Since).Seconds(), p.Tries)
			st.Hint = lostNext
			if what, next := refused(p); what != "" {
				st.Hint = what + ": " + next
			}
		}
	}
	if l.inlets != nil {
		st.Bridges = l.bridgePorts()
		if st.Lost = l.inlets.allLost(); st.Lost {
			if st.Port = "all ports lost"; l.inlets.refuse() {
				st.Hint = l.hint
			} else {
				st.Hint = "are the cables in? it goes on by itself when a port is back"
			}
		}
	}
	if l.ended {
		st.Port, st.Lost = "input ended", false
	} else if l.hand != nil {
		st.Hands = l.hand.hands()
	}
	if l.rec != nil {
		r := l.rec.Status()
		st.Recording, st.RecordedBytes, st.RecordMissing = filepath.Base(r.Path), r.Written, r.Missing()
		if !l.ended {
			st.RecordError = l.disk.now
		}
	}
	st.BeaconError = l.beacon.fault()
	st.Beacon, st.BeaconFallen = l.beacon.shows()
	if l.recErr != nil {
		st.RecordError = l.recErr.Error()
	}
	return st
}

// portChanged tells of a lost port and of its return.
func (l *live) portChanged(name string, back bool) {
	text := portText(name, back)
	l.record(text)
	l.health.since = l.ms()
	l.say(text)
}

// say tells something that is no event: in the journal of the screen, or on
// standard error.
func (l *live) say(text string) {
	if l.aud.form == asScreen {
		l.aud.note(dashboard.Entry{T: l.engineTime(), Text: text})
		return
	}
	l.note("%s", text)
}

// lapsed tells what has left the watch, or is back, beside the events where those
// are for programs.
func (l *live) lapsed(t int64, text string) {
	if l.aud.form == asJSON {
		l.note("%s", text)
		return
	}
	l.aud.remark(t, "watch", text, text)
}

// cardAct carries out what the person did to a step, where it can be done now.
func (l *live) cardAct(a runcard.Act, id string) error {
	if l.desk.card == nil {
		return errors.New("there is no card of steps (--card)")
	}
	if l.ended { // the recording is closed: it would say something else
		return errors.New("the input has ended, and the card with it")
	}
	if err := l.desk.card.May(a, id); err != nil {
		return err
	}
	l.desk.cardAct(a, id)
	return nil
}

// carded is called by the desk with what changed on the card. The stream of JSON
// on standard output is for alarms alone.
func (l *live) carded(c *runcard.Card, n runcard.News) {
	l.aud.carded(c, n)
	if l.aud.form == asJSON {
		l.note("%.3f card %s", float64(n.T)/1e6, cardLine(c, n))
	}
}

// acted is called by the desk with what the person did.
func (l *live) acted(word, text string) { l.aud.acted(l.engineTime(), word, text) }

func (l *live) engineTime() int64 { return l.desk.eng.Now() }

// lookAtLine tells a person when the line brings nothing good.
func (l *live) lookAtLine(ms int64) {
	if time.Since(l.looked) < lookEvery {
		return
	}
	l.looked = time.Now()
	if l.follow != nil {
		l.lookAtFile(ms)
		return
	}
	if l.inlets != nil {
		l.lookAtInlets(ms)
		return
	}
	if l.port != nil {
		p := l.port.Status()
		if l.refused.look(ms, p) {
			l.sayTrouble(refused(p))
		}
		if !p.Open {
			l.hint, l.health.since = "", ms
			return
		}
	}
	t, fresh := l.health.look(ms, l.desk.good, l.desk.bytes, l.desk.causes[decode.OtherVersion])
	if t == noTrouble {
		l.hint = ""
		return
	}
	what, next := t.of(l.desk.text(0)).words(l.name, l.baud)
	if l.hint = what + ": " + next; fresh {
		l.sayTrouble(what, next)
	}
}

// sayTrouble tells what is wrong with a line, and the next step.
func (l *live) sayTrouble(what, next string) {
	if l.aud.form == asScreen {
		l.say(what + ": " + next)
		return
	}
	l.say(what)
	l.note("hint: %s", next)
}

// lookAtFile tells a person that a recording has no line of a bridge yet, or
// that it grows no more: most often it is one that was finished long ago.
func (l *live) lookAtFile(ms int64) {
	switch {
	case !l.follow.clock.caught:
		l.hint = ""
		return
	case l.desk.bytes > 0 && ms-l.follow.clock.grew >= growPause:
		next := "is its recording over? then: tetherbell replay " + l.name
		if l.hint == "" {
			l.say("the file grows no more")
			l.note("hint: %s", next)
		}
		l.hint = "the file grows no more: " + next
		return
	case l.desk.bytes > 0:
		l.hint = ""
		return
	}
	if l.hint == "" {
		l.say("waiting for the file to grow: there is no line in " + l.name + " yet")
	}
	l.hint = "waiting for the file to grow: is something still recording into it?"
}

// take is called by the screen with what the person did. A full queue means
// a desk that stands still, which the screen shows by itself. The hand at a
// simulated craft is no business of the desk, which sees what comes of it.
func (l *live) take(a dashboard.Act) {
	if a.Kind == dashboard.MoveHand {
		if l.hand != nil {
			l.hand.move(a.Hand)
		}
		return
	}
	select {
	case l.acts <- a:
	default:
	}
}

// act carries out what the person did.
func (l *live) act(a dashboard.Act) {
	switch a.Kind {
	case dashboard.Acknowledge:
		l.desk.acknowledge(a.Alarm, a.Where)
		l.hush()
	case dashboard.PauseSound:
		l.desk.pause(int64(a.Seconds * 1000))
		l.hush()
	case dashboard.ToggleTick:
		l.aud.tick = !l.aud.tick
	case dashboard.Mark:
		l.desk.mark(runcard.Free(a.Text))
	case dashboard.CardAct:
		_ = l.cardAct(a.Step, a.Text) // the picture was older than the card: nothing is done
	}
	l.showNow()
}

// note tells something that is no event, where no screen does.
func (l *live) note(format string, args ...any) {
	if l.notes == nil {
		return
	}
	text := fmt.Sprintf(format, args...)
	if !strings.HasPrefix(text, "hint: ") {
		text = "tetherbell: " + text
	}
	l.notes.say(text)
}

// hush ends the burst that sounds: the person has heard it. The sound is told
// first what is left to be heard, for it begins that at once.
func (l *live) hush() {
	l.showNow()
	if l.aud.sound != nil {
		l.aud.sound.Hush()
	}
}
