package alarms

import (
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A Scout runs the heaviest of an engine's detectors ahead of it, so that a
// recording is judged by two processors. It has a bench and a clock of its own,
// which the same input brings to the same places, and writes down what its
// detectors found at each judgement; the engine reads that at its own same
// judgement, instead of asking them. So it decides nothing by who is faster.
// Nothing is shared but the notes, which pass from one to the other. One
// goroutine owns it.
type Scout struct {
	course
	tellers []detect.Teller
	watched bool // the engine has a watcher
	notes   *Notes
}

// Notes are what a scout found over some stretch of the input. They may be used
// again once the engine has read them.
type Notes struct {
	turns []turn
	found []detect.Finding
}

// A turn is one judgement of one detector.
type turn struct {
	at      int64         // engine time
	found   int           // how many findings
	teller  detect.Teller // nil: as before
	asked   bool          // missing is there
	missing string
	swings  [3]detect.OscillationNow
}

// NewPair returns an engine and its scout. Both must be given the same input,
// the scout first: what it notes of a stretch (Note) must be handed to the
// engine (Read) before the same stretch. Such an engine gives the events and the
// summary that New's would, to the bit, and shows a Watcher the same. Its
// Snapshot lacks trails, and Reach of what the scout watches.
func NewPair(c craft.Craft, o Options) (*Engine, *Scout) {
	osc, margin := detect.NewOscillation(), detect.NewLowMargin()
	s := &Scout{tellers: make([]detect.Teller, 2)}
	s.course.start(c, o, []detect.Detector{osc, margin}, s.judge)
	read := &notesRead{scout: s}
	in := [2]*standIn{{kind: osc.Kind(), notes: read}, {kind: margin.Kind(), notes: read}}
	for i, d := range s.detectors {
		in[i].missing = d.Missing(&s.bench)
		in[i].teller = d
	}
	e := newEngine(c, o, in[0], in[0], in[1])
	e.scouted = read
	return e, s
}

// Note has the scout write into n from now on, which is emptied.
func (s *Scout) Note(n *Notes) {
	n.turns, n.found = n.turns[:0], n.found[:0]
	s.notes = n
}

// Sample, Bad, Tick and Finish are those of Engine.
func (s *Scout) Sample(x *decode.Sample, size int) {
	s.observe(x, size)
	s.due()
}

// Bad takes one rejected line of size bytes.
func (s *Scout) Bad(size int) { s.bad(size) }

// Tick takes the host's clock.
func (s *Scout) Tick(hostMS int64) {
	if s.tick(hostMS) {
		s.due()
	}
}

// Finish says that the input has ended.
func (s *Scout) Finish() {
	if s.clock.started {
		s.nextCover = s.bench.Now // the engine looks at what is not watched once more
		s.judge()
	}
}

// judge asks the detectors and writes down what they say.
func (s *Scout) judge() {
	n := s.notes
	for i, d := range s.detectors {
		s.found = d.Judge(&s.bench, s.found[:0])
		t := turn{at: s.bench.Now, found: len(s.found)}
		n.found = append(n.found, s.found...)
		if f, ok := d.(detect.Forerunner); ok {
			if told := f.Telling(s.tellers[i]); told != s.tellers[i] {
				s.tellers[i], t.teller = told, told
			}
		}
		if t.asked = s.watched || s.covers(); t.asked {
			t.missing = d.Missing(&s.bench)
		}
		if o, ok := d.(swinger); ok && s.watched {
			for axis := range t.swings {
				t.swings[axis] = o.Now(axis)
			}
		}
		n.turns = append(n.turns, t)
	}
	s.judged()
}

// Read has the engine of a pair take what its scout noted. What it was handed
// before must have been used up.
func (e *Engine) Read(n *Notes) {
	if e.scouted.left() {
		panic("alarms: an engine behind its scout's notes")
	}
	e.scouted.n, e.scouted.turn, e.scouted.found = n, 0, 0
}

// notesRead is how far an engine has read its scout's notes.
type notesRead struct {
	scout       *Scout
	n           *Notes
	turn, found int
}

func (r *notesRead) left() bool { return r.n != nil && r.turn < len(r.n.turns) }

// A standIn takes the place of a detector that a scout runs: it says what the
// scout noted.
type standIn struct {
	kind    detect.Kind
	notes   *notesRead
	teller  detect.Teller
	missing string
	swings  [3]detect.OscillationNow
}

func (s *standIn) Kind() detect.Kind { return s.kind }

func (s *standIn) Observe(*detect.Bench, *detect.Input) {}

func (s *standIn) Reset() {}

// Judge says what the scout's detector found at this very judgement. Input that
// the two were not given alike is a mistake of the program: it must not pass for
// a quiet recording.
func (s *standIn) Judge(b *detect.Bench, dst []detect.Finding) []detect.Finding {
	r := s.notes
	if !r.left() || r.n.turns[r.turn].at != b.Now {
		panic("alarms: an engine apart from its scout")
	}
	t := &r.n.turns[r.turn]
	r.turn++
	if t.teller != nil {
		s.teller = t.teller
	}
	if t.asked {
		s.missing = t.missing
	}
	s.swings = t.swings
	dst = append(dst, r.n.found[r.found:r.found+t.found]...)
	r.found += t.found
	return dst
}

func (s *standIn) Describe(b *detect.Bench, f detect.Finding) detect.Story {
	return s.teller.Describe(b, f)
}

// Missing says what the scout's detector said when this was last to be asked.
func (s *standIn) Missing(*detect.Bench) string { return s.missing }

// Now is noted where somebody looks on.
func (s *standIn) Now(axis int) detect.OscillationNow { return s.swings[axis] }
