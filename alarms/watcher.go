package alarms

import "tetherbell/alarms/detect"

// A Watcher looks on as the engine judges. Look is called at the end of each
// judgement, on the engine's own grid and from its goroutine: what it concludes
// depends on the engine's input alone, so a replay concludes the same. It may
// keep nothing of what it is handed and must not call the engine.
type Watcher interface {
	Look(l *Look)
}

// A Look is what a Watcher sees of one judgement. It is valid during the call.
type Look struct {
	Bench *detect.Bench // to be read, not changed
	Up    []Up          // the alarms that are up

	engine *Engine
	known  detect.Known // scratch
}

// An Up is an alarm that is up.
type Up struct {
	Kind     detect.Kind
	Where    detect.Where
	Priority detect.Priority // now
	Since    int64           // engine time of the raise
	Text     string          // what a person was told last
	Action   string          // and to do first
}

// SetWatcher has w look on from the next judgement on; nil ends it. An
// engine with scouts is given one before its first line.
func (e *Engine) SetWatcher(w Watcher) {
	e.watcher = w
	e.look = Look{Bench: &e.bench, engine: e}
	for _, s := range e.scouted {
		s.scout.watched = w != nil
	}
	if w != nil {
		e.look.Up = make([]Up, 0, maxSlots)
	}
}

// watch lets the watcher look.
func (e *Engine) watch() {
	if e.watcher == nil {
		return
	}
	e.look.Up = e.look.Up[:0]
	for i := range e.life.slots {
		if s := &e.life.slots[i]; s.used && s.active {
			e.look.Up = append(e.look.Up, Up{s.kind, s.where, s.priority, s.since, s.story.Text, s.story.Action})
		}
	}
	e.watcher.Look(&e.look)
}

// Missing says why an alarm is not watched now, "" when it is. It may allocate.
func (l *Look) Missing(k detect.Kind) string {
	for _, d := range l.engine.detectors {
		if d.Kind() == k {
			l.known.See(l.Bench)
			return l.known.Lack(d, l.Bench)
		}
	}
	return "no such alarm"
}

// Swing is the peak of an axis' narrow-band part now and its limit; ok is false
// while the axis is not watched for oscillations.
func (l *Look) Swing(axis int) (amplitude, limit float64, ok bool) {
	v := l.engine.axisView(axis)
	return v.Amplitude, v.Limit, v.Watched
}

// Answer tells when an axis was last shown to answer its stick the right way.
func (l *Look) Answer(axis int) detect.Answer {
	for _, d := range l.engine.detectors {
		if a, ok := d.(interface{ Answer(axis int) detect.Answer }); ok {
			return a.Answer(axis)
		}
	}
	return detect.Answer{Demand: -1, Motors: -1}
}
