package cable

import "tetherbell/decode"

const (
	// quietSpell without a sight of a kind makes the next one news again.
	quietSpell = 30_000_000 // us
	// recent is how long a sight explains an alarm: the window over which a bad
	// link is judged.
	recent = 5_000_000 // us
	// noHost says that the host's clock has not been heard.
	noHost = int64(-1)
	// nearSeq: so many lines further on is the same count of the same bridge.
	nearSeq = 64
	// nearRead is the same among lines that are bad.
	nearRead = 8
)

// A Watch looks at a line. It is made by New; one goroutine owns it. Good lines
// cost it no memory.
type Watch struct {
	baud   int
	stream decode.Stream
	begun  bool
	now    int64 // engine time of the last call
	last   struct {
		seq  uint16
		tag  decode.Tag
		time uint32
		size int
	}

	clock clock
	pace  pace
	ticks decode.Ticks
	milli millis
	prove prover

	seen    [KindCount]seen
	wrong   [formCount]wrong
	gone    uint64 // how often the port was lost
	goneAt  int64  // host time of that; noHost: it is there, or nobody knows
	goneFor int64  // microseconds, in all
	looked  uint64 // bad lines that the forms are a share of
	heard   uint64 // good lines
	back    back
	late    struct { // the tag that was behind last
		tag decode.Tag
		by  int64 // us
	}
	counting counting
	tagSeq   [decode.TagCount]uint16 // count of the last line of each tag
	readSeq  uint16                  // count of the last bad line that reads well
	held     [KindCount]uint64
	since    int64  // engine time since when some are held
	badRun   int    // bad lines since the last good one
	textRun  int    // of them, those that are text
	pending  uint16 // kinds that are news
	torn     bool   // the next bad line may be half a one: it proves nothing
	mess     int    // garbage lines since the last good one
	cut      []byte // the last line, if it was a bad one
	half     []byte // beginning of a line that another one stood in
	cutBad   bool
}

// seen is what is kept of a kind.
type seen struct {
	count       uint64
	first, last int64
	again       bool
	figure      float64 // of the sentence; what it means depends on the kind
}

// New returns a watch for a line of some baud, 0 where none is known.
func New(baud int) *Watch {
	w := &Watch{baud: baud, torn: true, milli: millis{host: noHost}}
	w.clock.start()
	return w
}

// Misses says that lines are missing from the input here that had come: what
// follows is looked at as what comes first is.
func (w *Watch) Misses() {
	w.stream, w.begun, w.torn, w.cutBad = decode.Stream{}, false, true, false
	w.ticks, w.milli = decode.Ticks{}, millis{host: noHost}
	w.clock.since, w.clock.wanted, w.clock.quiet = noHost, noHost, 0
	w.back.open = false
	w.clock.anew()
}

// Good takes a good line of any tag: its length with its line end in bytes, and
// engine time before it, in microseconds.
func (w *Watch) Good(s *decode.Sample, size int, now int64) {
	w.now = now
	w.heard++
	if s.Held { // what follows tells whose it is
		w.pace.bytes += size
		w.clock.heard()
		return
	}
	l := &w.last
	if w.begun && s.Seq == l.seq && s.Time == l.time && s.Tag == l.tag && size == l.size {
		w.see(DoubledLines)
		w.pace.bytes += size
		return
	}
	ahead, dt := s.Seq-l.seq, int64(int32(s.Time-l.time))
	l.seq, l.time, l.tag, l.size = s.Seq, s.Time, s.Tag, size
	before := w.tagSeq[s.Tag]
	w.tagSeq[s.Tag] = s.Seq
	if ahead != 1 && w.begun {
		w.miscount(ahead, s.Seq-before)
	}
	if s.Moved != 0 {
		w.Swapped(now)
	}
	step := w.stream.Next(s, w.clock.silent())
	w.clock.heard()
	w.torn, w.cutBad, w.mess = false, false, 0
	w.pace.line(max(s.Tag, s.Aside), size, step.Gap)
	on := max(step.DT, 0)
	if step.Restart { // what goes back and comes again is no time that went by
		on = dt
	}
	if n, f := w.milli.line(on, size, step.Gap, w.clock.host); n > 0 {
		w.always(f, uint64(n))
	}
	if !w.begun || step.Restart || step.DT > leapLeast || w.clock.quiet > 0 || w.back.open {
		w.odd(s, step, ahead, dt)
	}
	w.begun, w.badRun, w.textRun = true, 0, 0
	if w.since != 0 {
		w.release()
	}
	if lag, late := w.clock.line(step.DT, step.Gap); late {
		w.clock.late(lag)
	}
	if w.pace.due(now) {
		w.judgePace()
	}
}

// odd takes a good line that follows the last one as lines seldom do.
func (w *Watch) odd(s *decode.Sample, step decode.Step, ahead uint16, dt int64) {
	quiet := w.clock.quiet
	w.clock.quiet = 0
	switch {
	case w.back.open && w.behind(s.Tag, ahead, dt):
	case step.FirstLine:
		w.clock.anew()
	case step.Restart:
		if s.Moved == 0 {
			w.anew(s, ahead, dt)
		}
		w.clock.anew()
	case w.badRun > tornMost: // lines came all the time, if bad ones
	case w.clock.host == noHost && step.DT >= lostLeast && step.Gap > 0,
		quiet >= quietLeast && ahead != 1 && step.DT >= quiet/2: // the count may have gone round meanwhile
		if k := &w.seen[Unplugged]; w.gone > 0 && w.now-k.last < reopened {
			k.last = w.now // the same hole, from the other side
		} else {
			w.see(Unplugged).figure += float64(step.DT) / 1e6
		}
		w.clock.excused = w.clock.host + reopened
	case ahead >= 1 && ahead <= stepAhead && quiet == 0:
		w.clock.leapt(step.DT)
	}
}

// anew tells a bridge that began anew from one whose clock alone jumped: its
// count goes on.
func (w *Watch) anew(s *decode.Sample, ahead uint16, dt int64) {
	goesOn := ahead >= 1 && ahead <= nearSeq && !(s.Seq < nearSeq && s.Time < 10_000_000)
	boot, known := w.stream.Boot()
	k, figure := ClockStep, float64(dt)/1e3
	switch {
	case s.Tag == decode.Hello && dt > -leapLeast && dt < 10_000_000:
		if ahead == 1 && s.Seq != 0 && dt >= 0 { // neither began anew
			w.habitual(Restart, formBoot)
			return
		}
		k = Restart
	case !goesOn:
		k = Restart
	case dt >= 0 && w.clock.host == noHost:
		return
	}
	if k == Restart {
		figure = 0
		if known {
			figure = float64(boot)
		}
	}
	if ahead == 1 && dt < 0 {
		w.steppedBack(s.Tag, -dt, k, figure)
		return
	}
	w.see(k).figure = figure
}

// Bad takes a rejected line as it came, without its line end, and engine time.
func (w *Watch) Bad(line []byte, cause decode.Cause, now int64) {
	w.now = now
	w.pace.bytes += len(line) + 1
	w.pace.bad++
	w.badRun++
	quiet := w.clock.heard()
	line = trimmed(line)
	f := w.formOf(line, cause)
	if f.proven() || f == formParity || f == formEdge || reading(line) {
		w.textRun++
	}
	if !f.proven() && f != formParity && garbage(line) {
		w.garbled(line, quiet)
		return
	}
	torn := w.torn || quiet >= quietLeast
	w.torn = false
	switch {
	case f.proven():
		w.proof(line, f)
		return
	case torn || cause > decode.BadChecksum:
		return // half a line
	case w.cutBad && w.prove.split(w.cut, line):
		w.cutBad = false
		w.see(FlippedBits)
		return
	case w.rejoins(line):
		w.cutBad = false
		w.wrote(formTorn)
		w.miswrote(formTorn, 1)
		w.own(formTorn)
		return
	}
	w.cut, w.cutBad = append(w.cut[:0], line[:min(len(line), maxKept)]...), true
	w.judgeLine(line, f)
}

// Text reports whether the bad lines since the last good one are text, so that the
// baud they were heard at is right.
func (w *Watch) Text() bool {
	return w.badRun >= habitLeast && 20*w.textRun >= 19*w.badRun
}

// judgeLine tells what made a bad line, and holds it back where it may as well be
// the bridge that writes so.
func (w *Watch) judgeLine(line []byte, f form) {
	k, ok := joined(line)
	if !ok {
		k, ok = w.prove.prove(line)
	}
	if !ok {
		k = Unclear
		if len(line) == sumLen-1 { // it may belong to the line before
			return
		}
		f = w.formWithin(line, f)
	}
	w.looked++
	switch {
	case f != formNone:
		w.wrote(f)
	case len(w.half) > 0:
		w.hold(k, formTorn)
		return
	default:
		w.see(k)
		return
	}
	if w.habit(f) {
		w.miswrote(f, 1)
		w.own(f)
		return
	}
	w.hold(k, f)
}

// hold holds a line back that may be the bridge's writing.
func (w *Watch) hold(k Kind, f form) {
	w.wrong[f].as[k]++
	w.held[k]++
	if w.since == 0 {
		w.since = max(w.now, 1)
	}
}

// formWithin finds the form of a line that no one fault explains, by what it
// holds. One byte of another line before it looks like a first byte left out.
func (w *Watch) formWithin(line []byte, f form) form {
	if f != formNone && f != sumFirst {
		return f
	}
	within, ok := w.around(line)
	switch {
	case ok, len(w.half) > 0:
		return within
	case f == formNone && w.readsOn(line):
		return sumOther
	}
	return f
}

// readsOn reports whether a bad line reads well, and its count goes on from the
// last one that did.
func (w *Watch) readsOn(line []byte) bool {
	seq, ok := w.prove.reads(line)
	if !ok {
		return false
	}
	ahead := seq - w.readSeq
	w.readSeq = seq
	return ahead >= 1 && ahead <= nearRead || w.wrong[sumOther].count == 0
}

// garbled takes a line that is no text. Several with no good line between are
// of another rate, and one is that comes after long.
func (w *Watch) garbled(line []byte, quiet int64) {
	w.clock.quiet = 0
	w.cutBad, w.torn = false, true
	w.mess++
	long := len(line) >= maxKept && (quiet >= messLong || !w.begun)
	if w.mess < messLeast && !long {
		return
	}
	k := w.see(WrongBaud)
	if w.mess == messLeast && !long {
		k.count += messLeast - 1
	}
}

const (
	messLeast = 3         // garbage lines in a row are of another rate (common practice, no source)
	messLong  = 1_000_000 // us without a line end, and then one far too long
	// tornMost bad lines lie about a hole: the halves of lines at its two ends.
	tornMost = 2
)

// Tick takes the host's clock, milliseconds since any fixed start, and engine
// time.
func (w *Watch) Tick(ms, now int64) {
	w.now = now
	c := &w.clock
	c.tick(ms * 1000)
	if stood := w.ticks.Next(ms); stood > 0 {
		w.standstill(stood * 1000)
	}
	if c.heap > 0 {
		k := w.see(HeldUp)
		k.figure = max(k.figure, float64(c.heap)/1e6)
		c.heap = 0
	}
	if c.stepped != 0 {
		w.see(ClockStep).figure = float64(c.stepped) / 1e3
		c.stepped = 0
	}
	if c.drifts {
		k := w.see(ClockDrift)
		k.count, k.figure = 1, c.ppm
		c.drifts = false
	}
	if w.since != 0 {
		w.release()
	}
	if w.pace.due(now) {
		w.judgePace()
	}
}

// Port says that the port was lost, or is back: somebody pulled the plug, or the
// bridge has let go of it. No text of the line tells that.
func (w *Watch) Port(back bool, now int64) {
	w.now = now
	if !back {
		w.goneAt = w.clock.host
		w.see(Unplugged)
		w.gone++
		return
	}
	if w.goneAt != noHost && w.gone > 0 {
		w.goneFor += w.clock.host - w.goneAt
		w.seen[Unplugged].last = now
		w.goneAt = noHost
	}
	w.clock.excused = w.clock.host + reopened
}

// standstill takes a time in which whoever ticks was not let run: what is late,
// missing or torn behind it is not the line's fault.
func (w *Watch) standstill(us int64) {
	c := &w.clock
	c.stood(us)
	w.torn = true
	w.pace.begin(w.now)
}

// see notes a sight.
func (w *Watch) see(k Kind) *seen {
	s := &w.seen[k]
	switch {
	case s.count == 0:
		s.first = w.now
		w.pending |= 1 << k
	case w.now-s.last >= quietSpell:
		s.again = true
		w.pending |= 1 << k
	}
	s.count++
	s.last = w.now
	return s
}

// shown reports whether the evidence for a kind bears being told. Where bytes
// are lost, some of them are line ends; and what is of no clear kind is told
// where it is no small rest of what is clear.
func (w *Watch) shown(k Kind) bool {
	n := w.seen[k].count
	switch k {
	case Restart, ClockStep, ClockDrift, HeldUp:
		return n > 0 && w.wrong[formMillis].count+w.wrong[formFactor].count == 0 // times that are none tell nothing
	case DoubledLines:
		return n > 0 && w.wrong[countStill].count == 0 // all are alike in that
	case MergedLines:
		return n >= 2 && 4*n > w.seen[LostBytes].count
	case Unclear:
		clear := w.seen[FlippedBits].count + w.seen[LostBytes].count + w.seen[DoubledBytes].count + w.seen[MergedLines].count +
			4*w.seen[WrongBaud].count + w.seen[Miswritten].count // between lines that are no text, some look like it
		return n >= 3 && 2*n > clear
	}
	return n > 0
}
