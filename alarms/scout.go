package alarms

import (
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A Scout runs one of an engine's heaviest detectors ahead of it, so that a
// recording is judged by several processors. It has a bench and a clock of its
// own, which the same input brings to the same places, and writes down what its
// detector found at each judgement; the engine reads that at its own same
// judgement, instead of asking it. So nothing depends on who is faster. Nothing
// is shared but the notes, which pass from one to the other. One goroutine owns
// it.
type Scout struct {
	course
	detector detect.Forerunner
	swings   swinger // the detector, where it is one; nil
	teller   detect.Teller
	watched  bool // the engine has a watcher
	notes    *Notes
	fresh    detect.Known
}

// Notes are what a scout found over some stretch of the input. They may be used
// again once the engine has read them.
type Notes struct {
	turns []turn
	found []detect.Finding
}

// A turn is one judgement.
type turn struct {
	at      int64         // engine time
	found   int           // how many findings
	teller  detect.Teller // nil: as before
	asked   bool          // missing is there
	missing string
	swings  [3]detect.OscillationNow
}

// NewScouted returns an engine and its scouts. All must be given the same input,
// the scouts first: what each notes of a stretch (Note) must be handed to the
// engine (Read) before the same stretch. Such an engine gives the events and the
// summary that New's would, to the bit, and shows a Watcher the same. Its
// Snapshot lacks trails, and Reach of what the scouts watch.
func NewScouted(c craft.Craft, o Options) (*Engine, []*Scout) {
	osc := detect.NewOscillation()
	scouts := []*Scout{newScout(c, o, osc), newScout(c, o, detect.NewLowMargin())}
	scouts[0].swings = osc
	in := make([]*standIn, len(scouts))
	for i, s := range scouts {
		in[i] = &standIn{scout: s, teller: s.detector, missing: s.detector.Missing(&s.bench)}
	}
	e := newEngine(c, o, in[0], in[0], in[1])
	e.scouted = in
	return e, scouts
}

func newScout(c craft.Craft, o Options, d detect.Forerunner) *Scout {
	s := &Scout{detector: d}
	s.course.start(c, o, []detect.Detector{d}, s.judge)
	return s
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

// judge asks the detector and writes down what it says.
func (s *Scout) judge() {
	n := s.notes
	had := len(n.found)
	n.found = s.detector.Judge(&s.bench, n.found)
	t := turn{at: s.bench.Now, found: len(n.found) - had}
	if told := s.detector.Telling(s.teller); told != s.teller {
		s.teller, t.teller = told, told
	}
	if t.asked = s.watched || s.covers(); t.asked {
		s.fresh.See(&s.bench)
		t.missing = s.fresh.Lack(s.detector, &s.bench)
	}
	if s.watched && s.swings != nil {
		for axis := range t.swings {
			t.swings[axis] = s.swings.Now(axis)
		}
	}
	n.turns = append(n.turns, t)
	s.judged()
}

// Read has an engine take what its scouts noted, one after the other. What it
// was handed before must have been used up.
func (e *Engine) Read(notes []Notes) {
	for i, s := range e.scouted {
		if s.left() {
			panic("alarms: an engine behind its scout's notes")
		}
		s.notes, s.turn, s.found = &notes[i], 0, 0
	}
}

// A standIn takes the place of a detector that a scout runs: it says what the
// scout noted.
type standIn struct {
	scout       *Scout // for its kind alone, and to tell it who looks on before it begins
	notes       *Notes
	turn, found int // how far they are read

	teller  detect.Teller
	missing string
	swings  [3]detect.OscillationNow
}

func (s *standIn) left() bool { return s.notes != nil && s.turn < len(s.notes.turns) }

func (s *standIn) Kind() detect.Kind { return s.scout.detector.Kind() }

func (s *standIn) Observe(*detect.Bench, *detect.Input) {}

func (s *standIn) Reset() {}

// Judge says what the scout's detector found at this very judgement. Input that
// the two were not given alike is a mistake of the program: it must not pass for
// a quiet recording.
func (s *standIn) Judge(b *detect.Bench, dst []detect.Finding) []detect.Finding {
	if !s.left() || s.notes.turns[s.turn].at != b.Now {
		panic("alarms: an engine apart from its scout")
	}
	t := &s.notes.turns[s.turn]
	s.turn++
	if t.teller != nil {
		s.teller = t.teller
	}
	if t.asked {
		s.missing = t.missing
	}
	s.swings = t.swings
	dst = append(dst, s.notes.found[s.found:s.found+t.found]...)
	s.found += t.found
	return dst
}

func (s *standIn) Describe(b *detect.Bench, f detect.Finding) detect.Story {
	return s.teller.Describe(b, f)
}

// Missing says what the scout's detector said when this was last to be asked.
func (s *standIn) Missing(*detect.Bench) string { return s.missing }

// Now is noted where somebody looks on.
func (s *standIn) Now(axis int) detect.OscillationNow { return s.swings[axis] }
