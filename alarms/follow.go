package alarms

import (
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A Follower keeps a bench up to date as an engine does, and judges nothing:
// fed with the same lines and ticks, its time, its knowledge of the craft and
// its counts are the engine's. One goroutine owns it.
type Follower struct{ course }

// NewFollower returns a follower for a craft as its file tells.
func NewFollower(c craft.Craft, o Options) *Follower {
	f := new(Follower)
	f.course.start(c, o, nil, func() {})
	return f
}

// Sample takes one good line, of any tag; size is its length on the wire with
// its line end, in bytes. It returns the line's engine time, and whether the
// bridge has begun anew with it.
func (f *Follower) Sample(s *decode.Sample, size int) (at int64, restart bool) {
	return f.observe(s, size)
}

// Bad takes one rejected line of size bytes.
func (f *Follower) Bad(size int) { f.bad(size) }

// Tick takes the host's clock, milliseconds since any fixed start.
func (f *Follower) Tick(hostMS int64) { f.tick(hostMS) }

// Bench is what is known of the bench. It is to be read, not changed.
func (f *Follower) Bench() *detect.Bench { return &f.bench }

// LastGood is the engine time of the last good line.
func (f *Follower) LastGood() int64 { return f.lastGood }

// Restarts counts how often the bridge began anew.
func (f *Follower) Restarts() int { return f.restarts }

// Disagree tells where craft file and bridge differ, a sentence each.
func (f *Follower) Disagree() []string { return disagreements(&f.bench) }

// A tally keeps the link's totals. Lines missing from the sequence were lost,
// less the bad ones that came in their place.
type tally struct {
	badRun  uint64 // bad lines since the last good one
	inFault bool
}

func (t *tally) good(l *detect.LinkCounts, missing, size int) {
	l.Good++
	l.Bytes += uint64(size)
	if gap := uint64(missing); gap > t.badRun {
		l.Lost += gap - t.badRun
		if !t.inFault {
			l.Faults++
		}
	}
	t.badRun, t.inFault = 0, false
}

func (t *tally) bad(l *detect.LinkCounts, size int) {
	l.Bad++
	l.Bytes += uint64(size)
	if !t.inFault {
		l.Faults++
	}
	t.badRun++
	t.inFault = true
}
