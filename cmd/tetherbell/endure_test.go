package main

import (
	"bytes"
	"fmt"
	"math"
	"math/bits"
	"os"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/decode/craft"
	"tetherbell/link"
	"tetherbell/simulator"
)

// A spread is how long things took: counts in steps of a sixteenth of a
// doubling, so that it takes no more room after a day than after a second.
type spread struct {
	counts [64 * 16]uint64
	all    uint64
	worst  time.Duration
}

func (s *spread) add(d time.Duration) {
	ns := uint64(max(d, 1))
	k := bits.Len64(ns) - 1
	part := (ns << 4 >> k) & 15
	s.counts[k*16+int(part)]++
	s.all++
	s.worst = max(s.worst, d)
}

// at is what a share of all did not exceed, to a sixteenth.
func (s *spread) at(share float64) time.Duration {
	left := uint64(math.Ceil(share * float64(s.all)))
	for i, n := range s.counts {
		if left <= n {
			return time.Duration((uint64(i%16) + 17) << (i / 16) >> 4)
		}
		left -= n
	}
	return s.worst
}

// An endured is a live run without its goroutines: a bench on one side, the
// desk with all who are told on the other, and a host's clock that goes as
// fast as the desk can follow.
type endured struct {
	l      *live
	src    *spinups
	slices chan slice // what the bench has made ahead
	free   chan []byte
	close  func()
	rang   []rung
	took   spread // a line through the desk
	hostUS int64
	steps  int64
	chunks uint64
	fed    uint64 // bytes
}

// A slice is what the bench sent up to a moment of the host's clock.
type slice struct {
	text  []byte
	until int64
}

// A rung is an alarm that was raised, or became worse.
type rung struct {
	at   int64 // us of the host's clock
	text string
	name string // "alarm priority where"
}

// newEndured starts the bench with a chapter: a goroutine, ended by close at the
// latest with the test, makes lines ahead of the desk, as a simulator beside it
// would.
func newEndured(t *testing.T, first int, chapter func(int) simulator.Scenario) *endured {
	e := &endured{src: &spinups{n: first, chapter: chapter}, slices: make(chan slice, 64), free: make(chan []byte, 66)}
	e.l = &live{con: &console{out: os.Stdout, err: os.Stderr}, name: "endurance", started: time.Now()}
	e.l.desk = newDesk(craft.Craft{Hold: craft.Tether}, 0, nil, func(events []alarms.Event) {
		e.keep(events)
		e.l.tell(events)
	})
	e.l.desk.acted, e.l.desk.turned = e.l.acted, e.l.aud.turned
	stop, done := make(chan struct{}), make(chan struct{})
	for range cap(e.free) {
		e.free <- nil
	}
	go func() {
		defer close(done)
		for {
			s := slice{text: (<-e.free)[:0]}
			s.text, s.until, _ = e.src.Next(s.text)
			select {
			case e.slices <- s:
			case <-stop:
				return
			}
		}
	}()
	e.close = sync.OnceFunc(func() {
		close(stop)
		for {
			select {
			case s := <-e.slices:
				e.free <- s.text
			case <-done:
				return
			}
		}
	})
	t.Cleanup(e.close)
	return e
}

func (e *endured) keep(events []alarms.Event) {
	for i := range events {
		v := &events[i]
		if v.Change == alarms.Raised || v.Change == alarms.Worsened {
			e.rang = append(e.rang, rung{e.hostUS, v.Plain(), fmt.Sprintf("%v %v %v", v.Kind, v.Priority, v.Where)})
		}
	}
}

// run goes on until a time of the host's clock, in microseconds.
func (e *endured) run(until int64) {
	for e.hostUS < until {
		s := <-e.slices
		// Through a silence the host's clock ticks on.
		for step := tickEvery.Microseconds(); e.hostUS/step < s.until/step; {
			if len(s.text) > 0 && e.hostUS/step == s.until/step-1 {
				break // the lines came before that tick
			}
			e.tick((e.hostUS/step + 1) * step)
		}
		e.feed(s.text)
		if step := tickEvery.Microseconds(); e.hostUS/step < s.until/step {
			e.tick(s.until / step * step)
		}
		e.hostUS = s.until
		e.free <- s.text
	}
}

// tick is one step of the host's clock.
func (e *endured) tick(us int64) {
	e.hostUS = us
	e.l.desk.tick(us / 1000)
	if e.steps++; e.steps%int64(frameEvery/tickEvery) == 0 {
		e.l.showNow()
	}
	if e.steps%30_000 == 0 { // every ten minutes somebody looks in
		e.l.desk.mark("looked in")
		e.l.desk.acknowledgeAll()
	}
	if r := e.l.desk.rec; r != nil {
		for r.Status().Waiting > 1<<20 { // no disk takes hours in minutes
			time.Sleep(time.Millisecond)
		}
	}
}

// feed hands in lines, each by itself and timed, or now and then cut anywhere,
// as a port does.
func (e *endured) feed(text []byte) {
	e.fed += uint64(len(text))
	if e.chunks++; e.chunks%16 == 0 && len(text) > 2 {
		cut := int(e.chunks/16) % len(text)
		e.l.desk.feed(text[:cut])
		e.l.desk.feed(text[cut:])
		return
	}
	for line := range bytes.Lines(text) {
		began := time.Now()
		e.l.desk.feed(line)
		e.took.add(time.Since(began))
	}
}

// A span is what was measured over one stretch of the run.
type span struct {
	hours     float64 // at its end
	heap, rss float64 // MB; heap after a collection
	goros     int
	files     int
	p50, p99  time.Duration
	worst     time.Duration
	alarms    int
	good, bad uint64
	lost      uint64
	took      time.Duration
}

const spanHead = "   hours  heap MB   rss MB  gorout. descr.   line p50     p99     worst  alarms      lines  bad lost  took"

func (s span) String() string {
	return fmt.Sprintf("%8.2f %8.3f %8.1f %8d %6d %10v %7v %9v %7d %10d %4d %4d %5.1fs", s.hours, s.heap, s.rss, s.goros, s.files,
		s.p50, s.p99, s.worst.Round(time.Microsecond), s.alarms, s.good, s.bad, s.lost, s.took.Seconds())
}

// measure ends a stretch.
func (e *endured) measure(t *testing.T, began time.Time) span {
	var m runtime.MemStats
	took := time.Since(began)
	runtime.GC()
	runtime.GC() // what finalizers let go
	runtime.ReadMemStats(&m)
	sum := e.l.desk.eng.Summary()
	s := span{
		hours: float64(e.hostUS) / 3.6e9, heap: float64(m.HeapAlloc) / 1e6, goros: runtime.NumGoroutine(),
		p50: e.took.at(0.5), p99: e.took.at(0.99), worst: e.took.worst, alarms: len(e.rang),
		good: sum.Lines, bad: sum.Bad, lost: sum.Lost, took: took,
	}
	s.rss, s.files = ownRSS(t), ownFiles(t)
	e.took = spread{}
	return s
}

// endureTime is how long the test runs in bench time, and how long one stretch.
func endureTime(t *testing.T) (all, each time.Duration, whole bool) {
	text := os.Getenv("TETHERBELL_ENDURE")
	if text == "" {
		return 4 * time.Minute, 30 * time.Second, false
	}
	all, err := time.ParseDuration(text)
	require.NoError(t, err)
	return all, min(time.Hour, all/8), true
}

// TestEndure spins a sound craft up over and over, for TETHERBELL_ENDURE of
// bench time (24h takes minutes; some minutes of it in a usual run), at 1000
// axes lines a second beside the other streams, through the live path: splitter,
// decoder, desk, engine, journal and pictures, with the ticks of the host's
// clock. With TETHERBELL_ENDURE_RECORD=1 every second stretch is recorded.
//
// Asserted: no alarm without a cause: the silence while the pack is changed
// rings once, low, for the craft is disarmed, and nothing else does; no line bad or lost, over every
// wrap of clock and counter; the heap after a collection grows by less than 1 MB
// from the second stretch to the last; goroutines and descriptors are as at the
// start; a line takes no longer at the end than at the start.
func TestEndure(t *testing.T) {
	all, each, whole := endureTime(t)
	minutes := 20.0
	if !whole {
		minutes = 1.5
	}
	e := newEndured(t, 0, func(n int) simulator.Scenario { return spinUps(n, minutes) })
	record := os.Getenv("TETHERBELL_ENDURE_RECORD") != ""
	var spans []span
	t.Log(spanHead)
	e.run(1_000_000) // all is there that the first line brings
	began := time.Now()
	spans = append(spans, e.measure(t, began))
	for e.hostUS < all.Microseconds() {
		recorded := record && len(spans)%2 == 0
		if recorded {
			e.record(t)
		}
		began = time.Now()
		e.run(min(e.hostUS+each.Microseconds(), all.Microseconds()))
		if recorded {
			e.l.closeRecording()
			require.NoError(t, e.l.recErr)
			assert.Zero(t, e.l.rec.Status().Dropped)
			require.NoError(t, os.Remove(e.l.rec.Status().Path))
			e.l.rec = nil
		}
		spans = append(spans, e.measure(t, began))
		t.Log(spans[len(spans)-1])
	}
	checkRung(t, e.rang, silences(e.hostUS, func(n int) simulator.Scenario { return spinUps(n, minutes) }))
	checkSpans(t, spans, whole)
}

// A cause is what must ring, and when.
type cause struct {
	name     string // as of a rung
	from, to int64  // us of the host's clock
}

// silences are those between the chapters of a run.
func silences(until int64, chapter func(int) simulator.Scenario) (all []cause) {
	at := int64(0)
	for n := 0; ; n++ {
		at += int64(chapter(n).Seconds * 1e6)
		begins := hostUS(at)
		if begins >= until-400_000 {
			return all
		}
		// The last line may lie some milliseconds before it.
		all = append(all, cause{"stale-link low link", begins + 250_000, begins + 350_000})
		at += betweenUS
	}
}

// checkRung wants each cause to ring once, and nothing else to.
func checkRung(t *testing.T, rang []rung, causes []cause) {
	left := slices.Clone(causes)
	for _, r := range rang {
		k := slices.IndexFunc(left, func(c cause) bool { return c.name == r.name && c.from <= r.at && r.at <= c.to })
		if k < 0 {
			t.Errorf("rang without a cause at %.3f s: %s", float64(r.at)/1e6, r.text)
			continue
		}
		left = slices.Delete(left, k, k+1)
	}
	for _, c := range left {
		t.Errorf("did not ring between %.3f and %.3f s: %s", float64(c.from)/1e6, float64(c.to)/1e6, c.name)
	}
	t.Logf("%d alarms, %d causes", len(rang), len(causes))
}

// record starts a recording of what comes now.
func (e *endured) record(t *testing.T) {
	rec, err := startRecording(t.TempDir(), link.SessionHeader{Source: "endurance"}, craft.Craft{Hold: craft.Tether}, nil)
	require.NoError(t, err)
	e.l.rec, e.l.desk.rec = rec, rec
}

// checkSpans holds the last stretch to the first. What is measured within the
// first second of all is the state before; the first stretch still fills tables.
func checkSpans(t *testing.T, spans []span, whole bool) {
	require.Greater(t, len(spans), 3)
	start, first, last := spans[0], spans[1], spans[len(spans)-1]
	assert.LessOrEqual(t, last.goros, start.goros, "goroutines")
	assert.LessOrEqual(t, last.files, start.files, "descriptors")
	assert.Zero(t, last.bad)
	assert.Zero(t, last.lost)
	grown := growth(spans[2:], func(s span) float64 { return s.heap })
	t.Logf("heap grown by %.3f MB from the second stretch to the last, by a straight line", grown)
	assert.Less(t, grown, 1.0, "MB of heap")
	slack := 5 * time.Microsecond // others run beside it
	if whole {
		slack = time.Microsecond
	}
	assert.Less(t, last.p50, 2*first.p50+slack, "the median line of the last stretch")
	if whole {
		rss := growth(spans[2:], func(s span) float64 { return s.rss })
		t.Logf("resident grown by %.3f MB", rss)
		assert.Less(t, rss, 8.0, "MB resident")
		assert.Less(t, last.p99, 3*first.p99+time.Microsecond, "99 in 100 lines of the last stretch")
	}
}

// growth is the slope of a figure by least squares, times the way from the
// first stretch to the last.
func growth(spans []span, of func(span) float64) float64 {
	n := float64(len(spans))
	var sx, sy, sxx, sxy float64
	for i, s := range spans {
		x, y := float64(i), of(s)
		sx, sy, sxx, sxy = sx+x, sy+y, sxx+x*x, sxy+x*y
	}
	if len(spans) < 2 {
		return 0
	}
	return (n*sxy - sx*sy) / (n*sxx - sx*sx) * (n - 1)
}
