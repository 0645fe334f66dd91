package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
	"tetherbell/dashboard"
	"tetherbell/dashboard/sound"
	"tetherbell/dashboard/vigil"
	"tetherbell/link"
)

const (
	// tickEvery is the step of the host's clock that the engine sees: a
	// fifteenth of the shortest silence that rings.
	tickEvery = 20 * time.Millisecond
	// pieceSize and pieceCount bound what was read but not yet looked at, at
	// a quarter of a megabyte: most of a second of the fastest port.
	pieceSize  = 4 << 10
	pieceCount = 64
	// restAfter is how long the reader lets bytes gather after a read that
	// brought fewer than restUnder: a fast port hands out each line by itself,
	// and to wake for every one costs more than to judge it. It is less than
	// the 10 ms between two judgements, and less than a port's own buffer of
	// 4 kB lasts at 3 Mbaud; a source that is behind brings more, and gets no
	// rest.
	restAfter = 8 * time.Millisecond
	restUnder = pieceSize / 4
	// recordPatience is how long the end waits for a slow disk.
	recordPatience = 3 * time.Second
	// printPatience is how long an interrupted end waits for a reader of
	// standard output that does not read.
	printPatience = 500 * time.Millisecond
)

// source is where bytes come from. Read may return 0 and nil when none came
// for a while; link.ErrLost and link.ErrBack do not end it.
type source interface {
	Read(p []byte) (int, error)
	Close() error
}

// A piece is what one read brought.
type piece struct {
	buf []byte
	n   int
	err error

	from int   // its bridge, from 1, where there are several; else 0
	us   int64 // when it was read, microseconds of the host's clock
}

// A live run is a source on one side, everybody who is told on the other, and
// the desk between:
//
//	reader ──pieces──▶ desk ──▶ sound, printer, recorder, picture ◀── screen
//	  ◀──free buffers──┘  ▲
//	                      └── ticks, acts of the person
//
// The reader waits only for the desk, and the desk for nobody: sound takes
// the newest wish, printer and recorder have bounded queues of their own, and
// the screen looks at the newest picture when it likes.
type live struct {
	con        *console
	name       string // of the source, as people are told it
	file       string // what the summary calls the input
	src        source
	port       *link.Port     // the source when it is a serial port
	inlets     inlets         // the source when it is several ports
	baud       int            // asked of the port; 0 where there is none
	limit      int            // the baud that bounds what can come; 0 where none does
	bridges    alarms.Options // of several bridges; else it names none
	desk       *desk
	follow     *follow // the source is a recording that is still being written
	aud        audience
	dog        watchdog
	beacon     *beacon  // nil: none
	beaconSaid string   // of its trouble, as told last
	notes      *printer // standard error without a screen: it may stall too

	pieces chan piece
	free   chan []byte
	acts   chan dashboard.Act
	orders <-chan order  // lines of standard input; nil: none
	card   *runcard.Card // of steps to go through; nil: none
	hand   *trainee      // at the simulated craft; nil: none

	started time.Time
	ended   bool      // no line will come again
	blind   bool      // and the craft was armed with the last one
	leaving string    // nobody at the bench does, and it is about to end: why
	left    bool      // somebody ends the watch: that is no surprise
	endWhy  error     // nil: in order
	ticked  int64     // ms: the last look at the clock
	shownAt time.Time // of the last picture
	looked  time.Time // at the line's trouble
	health  linkWatch
	refused refusal        // of the port
	flags   *flags         // of the sound
	disk    diskWatch      // of the recording
	way     sound.Way      // what the sound is heard through, as it was told last
	hint    string         // what to do next, for the screen
	parting string         // the same, once the input has ended
	rec     *link.Recorder // also once it is closed; nil: nothing is recorded
	recErr  error
	cut     error // the watch was ended from outside while somebody relied on it
	staged  bool  // a demonstration: nobody stands beside it
	mute    bool  // standard output is gone
	deaf    bool  // and standard error
	outErr  error // what that came to
	faults
}

// run lives until the input ends (without a screen), the person quits, or asked
// ends, and a little longer where nobody at the bench asked for that. It returns
// what went wrong, if anything did.
func (l *live) run(asked context.Context) error {
	ctx, cancel := context.WithCancel(context.WithoutCancel(asked)) // heedEnd ends it
	defer cancel()
	l.started = time.Now()
	l.pieces, l.free = make(chan piece, pieceCount), make(chan []byte, pieceCount)
	for range pieceCount {
		l.free <- make([]byte, pieceSize)
	}
	l.acts = make(chan dashboard.Act, 64) // a person types no faster
	bell := make(chan struct{}, 1)
	var err error
	if err = l.aud.openSound(ctx, l.con, l.flags, bell); err != nil {
		return err
	}
	broken := func() { l.lastCry(ctx); cancel() }
	desk, reader, sentry, heeded := make(chan struct{}), make(chan struct{}), make(chan struct{}), make(chan struct{})
	// Whoever heeds the end: ended by either context, waited for below.
	go l.guard(cancel, heeded, func() { l.heedEnd(asked, ctx); cancel() })
	// The sentry: ended by ctx, waited for below.
	go l.guard(broken, sentry, func() { l.routineSentry(ctx) })
	l.beacon.start(ctx, &l.dog.watch)
	// The reader: ended by the source's end or Close, waited for below.
	if l.inlets != nil {
		l.startReaders(broken, reader)
	} else {
		go l.guard(broken, reader, l.routineRead)
	}
	// The desk: ended by ctx or the end of the input, waited for below.
	go l.guard(broken, desk, func() { l.routineDesk(ctx, cancel) })

	if l.aud.form == asScreen {
		err = dashboard.RunWatched(ctx, nil, l.aud.latest, l.take, bell, &l.dog.watch)
		if err != nil && !errors.Is(err, dashboard.ErrStalled) { // nobody asked for it
			l.dog.dark.Store(true)
			l.lastCry(ctx)
		}
		l.dog.end()
		cancel()
	}
	<-desk
	cancel()
	<-sentry
	<-heeded
	l.beacon.close()
	l.src.Close()
	awaitBriefly(reader)
	if l.aud.sound != nil {
		l.aud.sound.Close()
	}
	if l.aud.form == asScreen && l.fault() == nil {
		verdictAfter(l.con, l.verdict())
	}
	return errors.Join(l.fault(), err, l.endWhy, l.recErr, l.cut, l.outErr)
}

// awaitBriefly waits for a reader that may be stuck in standard input, which
// nothing can release.
func awaitBriefly(done <-chan struct{}) {
	t := time.NewTimer(300 * time.Millisecond)
	defer t.Stop()
	select {
	case <-done:
	case <-t.C:
	}
}

// routineRead moves bytes from the source to the desk. A read that brings
// nothing costs no buffer.
func (l *live) routineRead() {
	defer close(l.pieces)
	l.read(l.src, 0)
}

// read is the body of a reader: of the only one, or of a bridge's.
func (l *live) read(src source, from int) {
	buf := <-l.free
	for {
		n, err := src.Read(buf)
		if n == 0 && err == nil && l.follow == nil {
			continue
		}
		l.pieces <- piece{buf: buf, n: n, err: err, from: from, us: time.Since(l.started).Microseconds()}
		if err != nil && !errors.Is(err, link.ErrLost) && !errors.Is(err, link.ErrBack) {
			return
		}
		if err == nil && n < restUnder && l.follow == nil {
			time.Sleep(restAfter)
		}
		buf = <-l.free
	}
}

// routineDesk decides the order of everything.
func (l *live) routineDesk(ctx context.Context, cancel func()) {
	defer l.end(ctx)
	orderly := false
	defer func() {
		if !orderly { // a panic is on its way up
			l.dog.fallen.Store(true)
			l.dog.watch.Fall(vigil.Desk)
		}
	}()
	l.work(ctx)
	orderly = true
}

// work takes one thing after the other, until the end.
func (l *live) work(ctx context.Context) {
	tick := time.NewTicker(tickEvery)
	defer tick.Stop()
	var broken, deaf <-chan struct{}
	if l.aud.out != nil {
		broken, deaf = l.aud.out.broken, l.notes.broken
	}
	for {
		select {
		case p, ok := <-l.pieces:
			l.piece(p, ok)
		case <-tick.C:
			l.drain() // what came before the tick is judged before it
			l.tick()
		case a := <-l.acts:
			l.act(a)
		case o, ok := <-l.orders:
			if ok {
				l.order(o)
			} else {
				l.orders = nil
			}
		case <-broken:
			broken, l.mute = nil, true
		case <-deaf:
			deaf, l.deaf = nil, true
		case <-ctx.Done():
			l.left = true
			l.drain()
			return
		}
		if l.unheard() {
			l.left = true
			return
		}
		if l.ended && l.aud.form != asScreen {
			return
		}
	}
}

// drain takes what the reader has brought, and no more than fits the queue:
// a fast source must not keep the clock from being looked at.
func (l *live) drain() {
	for range pieceCount {
		select {
		case p, ok := <-l.pieces:
			l.piece(p, ok)
		default:
			return
		}
	}
}

// piece takes what one read brought.
func (l *live) piece(p piece, ok bool) {
	if !ok {
		l.pieces = nil // the reader has ended; its last piece said why
		return
	}
	if p.from > 0 {
		l.pieceFrom(p)
		return
	}
	if l.follow != nil {
		l.follow.feed(p.buf[:p.n], l.ms())
	} else {
		l.desk.feed(p.buf[:p.n])
	}
	l.free <- p.buf
	switch {
	case p.err == nil:
	case errors.Is(p.err, link.ErrLost):
		l.desk.unplug()
		l.portChanged(l.name, false)
	case errors.Is(p.err, link.ErrBack):
		l.portChanged(l.name, true)
	case errors.Is(p.err, io.EOF):
		l.inputEnded(nil)
	default:
		l.inputEnded(fmt.Errorf("read %s: %w", l.name, p.err))
	}
	if l.follow != nil && l.follow.ended {
		l.inputEnded(nil)
	}
}

func (l *live) ms() int64 { return time.Since(l.started).Milliseconds() }

// tick moves the host's clock on and looks after all that goes by time.
func (l *live) tick() {
	var ms int64
	if !l.ended {
		ms = l.onTime() // which may hear the end
	}
	if !l.ended {
		if l.follow == nil {
			l.desk.tick(ms)
		} else if at, ok := l.follow.clock.own(ms); ok {
			l.desk.tick(at)
		}
		l.lookAtLine(ms)
		l.lookAtRecording()
	}
	l.judged()
	if time.Since(l.shownAt) >= frameEvery {
		l.showNow()
	}
}

// inputEnded judges the last windows: the end of the input is no silence.
func (l *live) inputEnded(why error) {
	if l.ended {
		return
	}
	if n := l.torn(); n > 0 && l.aud.form != asScreen {
		l.note("the last line of %s is torn (%d bytes without a line end): dropped", l.name, n)
	}
	l.ended, l.endWhy = true, why
	l.blind = l.desk.eng.State().Armed == detect.Yes
	l.hint = l.parting
	l.dog.rest()
	l.beacon.judge(nil, false)
	l.desk.finish()
	if !l.left { // a disk may take its time: whoever relies on the watch hears first
		l.tellBlind()
		l.showNow()
	}
	l.closeRecording()
	l.showNow()
}

func (l *live) torn() int {
	if l.follow != nil {
		return l.follow.cut.Torn()
	}
	return l.desk.cut.Torn()
}
