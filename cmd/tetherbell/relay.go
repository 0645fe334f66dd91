package main

import (
	"context"
	"errors"
	"io"

	"tetherbell/alarms"
	"tetherbell/decode"
	"tetherbell/link"
)

const (
	// lotLines of a recording go from hand to hand together: a third of a second
	// of a fast one, so that handing over costs nothing beside judging.
	lotLines = 512
	// lotCount lots are under way: one in each of four hands, and one that waits
	// before each. With their notes they take a megabyte.
	lotCount = 8
)

// A relay takes a recording through reader, scouts and desk, each in a goroutine
// of its own, one lot of lines after the other:
//
//	reader ──lots──▶ scout ──▶ scout ──lots with notes──▶ desk
//	  ◀─────────────────────free lots──────────────────────┘
//
// A lot belongs to whoever holds it. The reader cuts and decodes; each scout runs
// a heavy detector and notes what it finds; the desk does what a desk does, with
// the caller's goroutine. Whoever is faster waits: the lines, their order and
// what is made of them are the same as on one goroutine.
type relay struct {
	faults
	s      *link.Session
	scouts []*alarms.Scout
	free   chan *lot // as large as there are lots: giving back never waits
}

func newRelay(s *link.Session, scouts []*alarms.Scout) *relay {
	r := &relay{s: s, scouts: scouts, free: make(chan *lot, lotCount)}
	for range lotCount {
		r.free <- &lot{notes: make([]alarms.Notes, len(scouts))}
	}
	return r
}

// run hands all of a recording to the desk, whose first line, or the failure to
// read it, is there already. It returns what ended it: io.EOF at the recording's
// end. All goroutines have ended then.
func (r *relay) run(ctx context.Context, d *desk, first *link.Item, err error) error {
	ctx, stop := context.WithCancel(ctx)
	var hands []chan struct{} // closed by each at its end
	defer func() {
		stop()
		for _, done := range hands {
			<-done
		}
	}()
	start := func(body func()) {
		done := make(chan struct{})
		hands = append(hands, done)
		go r.guard(stop, done, body)
	}
	lots := make(chan *lot, 1)
	to := lots
	start(func() { r.read(ctx, *first, err, to) })
	for i, s := range r.scouts {
		from, to := lots, make(chan *lot, 1)
		start(func() { scout(ctx, s, i, from, to) })
		lots = to
	}
	for {
		select {
		case <-ctx.Done():
		case l, ok := <-lots:
			if ok {
				if err := l.judge(d); err != nil {
					return err
				}
				r.free <- l
				continue
			}
			<-ctx.Done() // it was not the recording that ended
		}
		if err := r.fault(); err != nil {
			return err
		}
		return ctx.Err()
	}
}

// read is the reader: it ends at the end of the recording, or with ctx.
func (r *relay) read(ctx context.Context, it link.Item, err error, to chan<- *lot) {
	defer close(to)
	var dec decode.Decoder
	var many several // whose lines are whose, for the scouts too
	for {
		var l *lot
		select {
		case <-ctx.Done():
			return
		case l = <-r.free:
		}
		l.empty()
		for err == nil && l.n < lotLines {
			l.add(&dec, &many, &it)
			err = r.s.Next(&it)
		}
		l.end = err
		select {
		case <-ctx.Done():
			return
		case to <- l:
		}
		if err != nil {
			return
		}
	}
}

// scout has the scout of number i look at all lots: it ends when they do, or with
// ctx.
func scout(ctx context.Context, s *alarms.Scout, i int, from <-chan *lot, to chan<- *lot) {
	defer close(to)
	for l := range from {
		s.Note(&l.notes[i])
		l.show(s)
		select {
		case <-ctx.Done():
			return
		case to <- l:
		}
	}
}

// A lot is some lines of a recording on their way to the desk.
type lot struct {
	lines [lotLines]lotLine
	n     int
	items []link.Item    // the host's lines
	text  []byte         // what lines and items hold of bytes
	notes []alarms.Notes // of each scout
	end   error          // what ended the recording after these lines; nil: there are more
}

// A lotLine is one of them.
type lotLine struct {
	what   lineKind
	size   int
	cause  decode.Cause // of a bad one
	way    way          // of a good one
	item   int          // of the host's: which
	bytes  []byte       // of a bad one, and of one with fields that are not known
	sample decode.Sample
}

type lineKind uint8

const (
	goodLine lineKind = iota
	badLine
	noLine   // blank, or what only looks like the host's
	hostLine // of the host: a tick, an act of the person
)

func (l *lot) empty() { l.n, l.items, l.text, l.end = 0, l.items[:0], l.text[:0], nil }

// add takes a line of the recording, with all that it holds.
func (l *lot) add(dec *decode.Decoder, many *several, it *link.Item) {
	to := &l.lines[l.n]
	l.n++
	if it.Kind != link.Wire {
		to.what, to.item = hostLine, len(l.items)
		if it.Kind == link.Bridge {
			many.turn(int(it.Count), it.US)
		}
		own := *it
		own.Line, own.Alarm, own.Where = l.keep(it.Line), l.keep(it.Alarm), l.keep(it.Where)
		l.items = append(l.items, own)
		return
	}
	to.size = len(it.Line) + 1
	to.what, to.cause = decodeLine(dec, it.Line, &to.sample)
	if to.bytes = nil; to.what == badLine || to.what == goodLine && isOdd(to.sample.Tag, it.Line) {
		to.bytes = l.keep(it.Line)
	}
	to.way = many.own(to.what, &to.sample)
	to.sample.Text, to.sample.Word = l.keep(to.sample.Text), l.keep(to.sample.Word)
}

// keep copies bytes that are valid until the next line alone.
func (l *lot) keep(b []byte) []byte {
	if len(b) == 0 {
		return b[:0:0]
	}
	from := len(l.text)
	l.text = append(l.text, b...) // where it grows, earlier ones stay in the old room
	return l.text[from:len(l.text):len(l.text)]
}

// show has a scout look at the lines.
func (l *lot) show(s *alarms.Scout) {
	for i := range l.lines[:l.n] {
		switch t := &l.lines[i]; t.what {
		case goodLine:
			s.Sample(&t.sample, t.size)
		case badLine:
			s.Bad(t.size)
		case hostLine:
			switch it := &l.items[t.item]; it.Kind {
			case link.At:
				s.Tick(it.MS)
			case link.Bridge:
				s.From(int(it.Count), it.US)
			case link.Lost:
				s.Misses()
			}
		}
	}
	if errors.Is(l.end, io.EOF) {
		s.Finish()
	}
}

// judge hands the lines to the desk, and returns what ended the recording.
func (l *lot) judge(d *desk) error {
	d.eng.Read(l.notes)
	for i := range l.lines[:l.n] {
		t := &l.lines[i]
		if t.what == hostLine {
			d.item(&l.items[t.item])
			continue
		}
		d.bytes += uint64(t.size)
		d.comes(t.way)
		d.take(t.what, &t.sample, t.cause, t.size, t.bytes)
	}
	if errors.Is(l.end, io.EOF) {
		d.finish()
	}
	return l.end
}
