package main

import (
	"errors"
	"fmt"
	"hash/crc32"

	"tetherbell/alarms"
	"tetherbell/alarms/account"
	"tetherbell/alarms/cable"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

// A desk is where the order of everything is decided: lines, ticks of the
// host's clock and acts of the person reach the engine through it, one after
// the other, and reach the recorder in that same order before the engine acts
// on them. So a recording holds exactly what the engine was given. Live runs,
// replay and check all sit at such a desk; they differ only in who hands in
// the next thing and when. One goroutine owns it.
type desk struct {
	cut      link.Splitter
	dec      decode.Decoder
	eng      *alarms.Engine
	rec      *link.Recorder              // nil: nothing is recorded
	tell     func(events []alarms.Event) // what changed; valid during the call
	acted    func(word, text string)     // a mark or a pause of the person; nil: nobody asks
	turned   func(t int64, text string)  // the craft armed, disarmed, was stopped; nil: nobody asks
	stood    alarms.State                // as last told
	card     *runcard.Run                // nil: no card of steps is gone through
	acc      *account.Collector          // nil: no account is kept
	cmp      *comparing                  // nil: nothing is compared
	onCard   func(*runcard.Card, runcard.News)
	cables   []*cable.Watch                          // one for each bridge, in their order; the first is always there
	ailing   func(t int64, word, text, entry string) // a fault of the line is seen; nil: nobody asks
	onLine   func(line []byte)                       // made once: a method value allocates
	sample   decode.Sample                           // scratch
	json     []byte                                  // scratch
	said     uint32                                  // checksum of what was recorded as said
	bytes    uint64                                  // taken in so far
	causes   [decode.CauseCount]uint64               // bad lines by cause
	firstBad badLines
	oddTags  oddTags                    // that are not known
	rings    rings                      // what a verdict names
	good     uint64                     // good lines
	bad      uint64                     // bad lines
	notes    notes                      // what is odd about a recording
	many     several                    // of bridges; empty where there is one
	itself   itself                     // what the monitor told of itself
	lapsed   func(t int64, text string) // an alarm has left the watch, or is back; nil: nobody asks
}

// notes are what is odd about a recording.
type notes struct {
	strange, lost uint64 // host lines not understood, lines it says it lost
	headed, ended bool   // it has the first line of a recording, and the last one
	only          string // what of it was seen, where that is not all: a verdict begins with it
	left          bool   // it was left before its end
}

// breaksOff reports whether the end of a recording is missing.
func (n *notes) breaksOff() bool { return n.headed && !n.ended }

func newDesk(c craft.Craft, baud int, rec *link.Recorder, tell func([]alarms.Event)) *desk {
	return deskOf(alarms.New(c, alarms.Options{Baud: baud}), rec, tell)
}

// deskOf is a desk with an engine that is there.
func deskOf(eng *alarms.Engine, rec *link.Recorder, tell func([]alarms.Event)) *desk {
	d := &desk{eng: eng, rec: rec, tell: tell, cables: []*cable.Watch{cable.New(firstBaud(eng))}}
	d.onLine, d.many.now = d.line, eng.Now
	eng.SeeLine(d.blame)
	return d
}

// feed takes the next bytes of the wire.
func (d *desk) feed(p []byte) {
	d.bytes += uint64(len(p))
	d.cut.Feed(p, d.onLine)
}

// unplug ends the line that was being heard when the port was lost.
func (d *desk) unplug() { d.cut.Unplug(d.onLine) }

// line takes one line of the wire, without its line feed.
func (d *desk) line(l []byte) {
	d.many.due(d)
	if d.rec != nil {
		d.rec.Line(l)
	}
	what, cause := decodeLine(&d.dec, l, &d.sample)
	d.comes(d.many.own(what, &d.sample))
	d.take(what, &d.sample, cause, len(l)+1, l)
}

// decodeLine reads a line of the wire, and says what it is.
func decodeLine(dec *decode.Decoder, l []byte, s *decode.Sample) (lineKind, decode.Cause) {
	err := dec.Decode(l, s)
	switch {
	case err == nil:
		return goodLine, 0
	case errors.Is(err, decode.ErrBlank), errors.Is(err, decode.ErrHost):
		return noLine, 0
	}
	var bad *decode.LineError // here, for it goes to the heap
	if errors.As(err, &bad) {
		return badLine, bad.Cause
	}
	return badLine, 0
}

// take brings a line that was read to the engine. Its bytes are looked at where it
// is bad, or some of its fields are not known.
func (d *desk) take(what lineKind, s *decode.Sample, cause decode.Cause, size int, line []byte) {
	switch what {
	case goodLine:
		d.good++
		d.cable().Good(s, size, d.eng.Now())
		d.eng.Sample(s, size)
		if d.acc != nil {
			d.acc.Sample(s, size)
		}
		d.cmp.sample(s)
		if s.Tag == decode.Unknown {
			d.tellOddTags()
		} else {
			d.keepSurplus(s.Tag, line)
		}
	case badLine:
		d.causes[cause]++
		d.many.reject(cause)
		d.firstBad.keep(line, cause, d.eng.Now())
		d.bad++
		d.cable().Bad(line, cause, d.eng.Now())
		d.eng.Bad(size)
		if d.acc != nil {
			d.acc.Bad(cause, size)
		}
	default:
		return
	}
	d.report()
}

// tick takes the host's clock.
func (d *desk) tick(ms int64) {
	if d.rec != nil {
		d.rec.At(ms)
	}
	for _, w := range d.cables {
		w.Tick(ms, d.eng.Now())
	}
	d.eng.Tick(ms)
	if d.acc != nil {
		d.acc.Tick(ms)
	}
	d.cmp.tick(ms)
	d.many.tellWays(ms*1000, false)
	d.report()
}

// acknowledge takes a person's word for one alarm.
func (d *desk) acknowledge(k detect.Kind, w detect.Where) {
	if d.rec != nil {
		d.rec.Ack(k.String(), w.String())
	}
	d.eng.Acknowledge(k, w)
	d.report()
}

// acknowledgeAll takes a person's word for all that is there.
func (d *desk) acknowledgeAll() {
	for _, v := range d.eng.Unacknowledged() {
		d.acknowledge(v.Kind, v.Where)
	}
}

// pause takes a person's wish for quiet.
func (d *desk) pause(ms int64) {
	if d.rec != nil {
		d.rec.Pause(ms)
	}
	d.eng.PauseSound(float64(ms) / 1000)
	if d.acted != nil {
		d.acted("pause", pauseText(ms))
	}
	d.report()
}

// pauseText tells of a wish for quiet.
func pauseText(ms int64) string {
	if ms > 0 {
		return fmt.Sprintf("sound paused for %g s", float64(ms)/1000)
	}
	return "sound is on again"
}

// mark takes a person's note, of which only a card has a use.
func (d *desk) mark(text string) {
	if d.acc != nil {
		d.acc.Mark(text)
	}
	if d.cardMark(text) {
		return
	}
	if d.rec != nil {
		d.rec.Mark(text)
	}
	if d.acted != nil {
		d.acted("mark", text)
	}
}

// finish says that the input has ended.
func (d *desk) finish() {
	d.forget()
	d.many.tellWays(0, true)
	d.eng.Finish()
	if d.card != nil {
		d.card.Finish()
	}
	d.report()
}

// report hands on what changed, and records it.
func (d *desk) report() {
	if d.turned != nil {
		d.reportState()
	}
	if events := d.eng.Events(); len(events) > 0 {
		d.reportEvents(events)
	}
	d.reportCard()
	if d.ailing != nil {
		d.reportCable()
	}
	if d.lapsed != nil {
		d.reportLosses()
	}
}

// reportState tells what the craft says of itself where that has changed. A
// recording has the lines that say so.
func (d *desk) reportState() {
	now := d.eng.State()
	if now == d.stood {
		return
	}
	for _, text := range now.Since(d.stood) {
		d.turned(d.eng.Now(), text)
	}
	d.stood = now
}

func (d *desk) reportEvents(events []alarms.Event) {
	if d.rec != nil {
		for i := range events {
			d.json = events[i].AppendJSON(d.json[:0], "")
			d.rec.Alarm(d.json)
			d.said = crc32.Update(d.said, castagnoli, d.json)
		}
	}
	d.rings.keep(events)
	if d.acc != nil {
		d.acc.Events(events)
	}
	if d.tell != nil {
		d.tell(events)
	}
}

// misses says that the recording lacks lines here that had come.
func (d *desk) misses() {
	d.eng.Misses()
	if d.acc != nil {
		d.acc.Misses()
	}
	d.cmp.misses()
	for _, w := range d.cables {
		w.Misses()
	}
}

// item takes one line of a recording.
func (d *desk) item(it *link.Item) {
	switch it.Kind {
	case link.Wire:
		d.bytes += uint64(len(it.Line)) + 1
		d.line(it.Line)
	case link.At:
		d.tick(it.MS)
	case link.Ack:
		k, okK := detect.KindNamed(string(it.Alarm))
		w, okW := detect.WhereNamed(string(it.Where))
		if !okK || !okW {
			d.notes.strange++
			return
		}
		d.acknowledge(k, w)
	case link.Pause:
		d.pause(it.MS)
	case link.Mark:
		d.mark(string(it.Line))
	case link.Bridge:
		d.from(int(it.Count), it.US)
	case link.Note:
		d.monitor(string(it.Line))
		if d.acted != nil {
			d.acted("monitor", string(it.Line))
		}
	case link.Lost:
		d.notes.lost += it.Count
		d.misses()
	case link.Header:
		d.notes.headed = true
	case link.End:
		d.notes.ended = true
	case link.Other:
		d.notes.strange++
	}
}
