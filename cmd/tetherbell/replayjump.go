package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"

	"tetherbell/dashboard"
	"tetherbell/decode"
	"tetherbell/link"
)

const (
	// nearUS of a recording are judged line by line on the way to a place. A key
	// shall show its picture within a fifth of a second, and a thousand axes lines
	// a second are judged a hundred times as fast as they came.
	nearUS = 20_000_000
	// warmUS are judged before a place that is farther: longer than the windows
	// that detectors judge by. What is learnt over a longer time is learnt anew.
	// A fresh engine takes four times as long for a line as one that has learnt.
	warmUS = 6_000_000
	// loreUS before the place are looked through for what the craft and its
	// settings are: longer than the ten seconds after which a bridge repeats them.
	loreUS = 12_000_000
)

// within holds a place to the recording, as far as its length is known.
func (r *replayer) within(to int64) int64 {
	r.measure()
	if to = max(to, 0); r.about.known {
		to = min(to, r.about.length)
	}
	return to
}

// measure takes the length from the look ahead, once that has read all: it is
// known then where there is no clock of the host, and where that stepped back.
func (r *replayer) measure() {
	if r.look == nil {
		return
	}
	if length, ok := r.look.whole(); ok {
		r.about.length, r.about.known = length, true
	}
}

// jump goes to another place. What lies between is judged without a sound, and
// going back the engine starts anew. A far place on a screen is gone to by a way
// of its own: the engine starts a little before it, and the screen says that
// nothing is known of what came before. Lines on standard output are those of
// the whole recording: nothing is left out on their way.
func (r *replayer) jump(to int64) error {
	to = r.within(to)
	r.aimed = 0
	onward := to >= r.pos && !r.ended
	r.aud.quiet = true
	defer func() { r.aud.quiet = false }()
	switch {
	case onward && to-r.pos <= nearUS:
	case to > nearUS && r.aud.form == asScreen:
		if err := r.far(to, onward); err != nil {
			return err
		}
	case !onward:
		if err := r.anew(); err != nil {
			return err
		}
	}
	r.pos = to
	return r.advance(to)
}

// anew starts from the beginning.
func (r *replayer) anew() error {
	if _, err := r.file.Seek(0, io.SeekStart); err != nil {
		return fmt.Errorf("read recording %s: %w", r.name, err)
	}
	r.rewind()
	return nil
}

// far starts the engine anew a little before a place. Where it is not known
// where in the file that is, it goes on, or from the beginning.
func (r *replayer) far(to int64, onward bool) error {
	at, err := r.file.Seek(0, io.SeekCurrent)
	if err != nil {
		return fmt.Errorf("read recording %s: %w", r.name, err)
	}
	lore, err := r.recent(to)
	if err != nil {
		return fmt.Errorf("read recording %s: %w", r.name, err)
	}
	w, ok, err := r.find(to - warmUS)
	switch {
	case err != nil:
	case ok:
		if _, err = r.file.Seek(w.offset, io.SeekStart); err == nil {
			r.start(w, lore)
		}
	case onward:
		_, err = r.file.Seek(at, io.SeekStart)
	default:
		return r.anew()
	}
	if err != nil {
		return fmt.Errorf("read recording %s: %w", r.name, err)
	}
	return nil
}

// recent are the lines before the judged ones that tell what the craft is and how
// it is set. The reader is anywhere afterwards.
func (r *replayer) recent(to int64) (lore [][]byte, err error) {
	w, ok, err := r.find(to - loreUS)
	if err != nil || !ok {
		return nil, err
	}
	if _, err := r.file.Seek(w.offset, io.SeekStart); err != nil {
		return nil, err
	}
	lines, way := link.NewSession(r.file), r.paceAt(w)
	var it link.Item
	var dec decode.Decoder
	var s decode.Sample
	many := several{owners: *w.owners}
	for {
		err := lines.Next(&it)
		if errors.Is(err, io.EOF) || err == nil && way.due(&it) >= to-warmUS {
			return lore, nil
		}
		if err != nil {
			return nil, err
		}
		if it.Kind == link.Bridge {
			many.turn(int(it.Count), it.US)
		}
		if it.Kind != link.Wire || !isLore(it.Line) || dec.Decode(it.Line, &s) != nil {
			continue
		}
		if many.own(goodLine, &s); s.Tag != decode.Unknown { // another's craft is no lore
			lore = append(lore, bytes.Clone(it.Line))
		}
	}
}

// paceAt is the pace of the lines from a waypoint on.
func (r *replayer) paceAt(w waypoint) pace {
	first := r.about.first
	return pace{ticks: r.about.ticks, begun: true, first: first, last: first + w.place/1000 - w.past, past: w.past, now: w.place}
}

// isLore reports whether a line tells what the craft is or how it is set.
func isLore(line []byte) bool {
	return bytes.HasPrefix(line, []byte("craft,")) || bytes.HasPrefix(line, []byte("set,"))
}

// find looks for a place in the file: where the look ahead has been, or by the
// host's clock. The reader is anywhere afterwards.
func (r *replayer) find(place int64) (w waypoint, ok bool, err error) {
	if r.look != nil {
		if w, ok = r.look.before(place); ok {
			return w, true, nil
		}
	}
	if !r.about.ticks {
		return w, false, nil
	}
	p, ok, err := link.FindAt(r.file, r.about.first+place/1000)
	if err != nil || !ok {
		return w, false, err
	}
	w = waypoint{offset: p.Offset, place: (p.MS - r.about.first) * 1000, owners: &r.about.owners}
	if _, err = r.file.Seek(p.Offset, io.SeekStart); err != nil {
		return w, false, err
	}
	lines := link.NewWalker(r.file, p.Offset)
	var it link.Item
	var dec decode.Decoder
	var s decode.Sample
	of, from := uint64(0), p.Offset           // whose lines come, and where their piece begins
	for due := w.place; due < place+warmUS; { // a silence may lie there
		at, err := lines.Next(&it)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return w, false, err
		}
		if it.Kind == link.At {
			due = (it.MS - r.about.first) * 1000
		}
		if it.Kind == link.Bridge {
			of, from = it.Count, at
		}
		if it.Kind == link.Wire && r.about.counts(of) && dec.Decode(it.Line, &s) == nil {
			if of > 0 { // begun with another's line, the engine would go by that one's clock
				w.offset, w.place = from, due
			}
			w.t = r.about.engineAt(due, s.Time)
			return w, true, nil
		}
	}
	return w, false, nil
}

// start sits the desk down at a waypoint, with what recent lines told of the
// craft; the reader stands there.
func (r *replayer) start(w waypoint, recent [][]byte) {
	o := r.about.head.options()
	o.Start = w.t
	r.seat(o)
	r.desk.many.owners = w.owners.Settled() // a bridge may have come late
	r.pace = r.paceAt(w)
	r.from = w.t
	var dec decode.Decoder
	var s decode.Sample
	for _, line := range slices.Concat(r.about.lore, recent) {
		if dec.Decode(line, &s) == nil {
			r.desk.eng.Recall(&s)
		}
	}
	text := fmt.Sprintf("judged from %.1f s on: what came before is not known here", float64(w.t)/1e6)
	if r.card != nil {
		text += ", and the card is not gone through"
	}
	r.aud.note(dashboard.Entry{T: w.t, Text: text})
}
