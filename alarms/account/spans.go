package account

import "tetherbell/alarms/detect"

const (
	// longQuiet is the shortest silence that is told: that which rings while armed.
	longQuiet = 300_000
	// maxSpans bounds each list; what comes after is joined to the last.
	maxSpans = 1000
)

// An opening is a stretch of time that has begun, and those before it.
type opening struct {
	from int64 // -1 none is open
	all  []Span
}

// set opens a stretch or closes it.
func (o *opening) set(on bool, at int64) {
	switch {
	case on && o.from < 0:
		o.from = at
	case !on && o.from >= 0:
		o.add(o.from, at)
		o.from = -1
	}
}

func (o *opening) add(from, to int64) {
	to = max(to, from)
	if n := len(o.all); n >= maxSpans {
		o.all[n-1].To = seconds(to)
		return
	}
	o.all = append(o.all, Span{seconds(from), seconds(to)})
}

// until lists all, the open one up to now.
func (o *opening) until(now int64) []Span {
	out := append([]Span{}, o.all...)
	if o.from >= 0 {
		out = append(out, Span{seconds(o.from), seconds(max(now, o.from))})
	}
	return out
}

// spans are the stretches in which the craft was armed, stopped, unheard.
type spans struct {
	armed, stopped opening
	silent         opening
	longest        int64
	count          int
}

// take notes what a state line says; what it does not say goes on.
func (s *spans) take(b *detect.Bench, at int64) {
	if b.Armed != detect.Unknown {
		s.armed.set(b.Armed == detect.Yes, at)
	}
	if b.Stopped != detect.Unknown {
		s.stopped.set(b.Stopped == detect.Yes, at)
	}
}

// quiet notes the time between two good lines.
func (s *spans) quiet(from, to int64) {
	d := to - from
	s.longest = max(s.longest, d)
	if d >= longQuiet {
		s.silent.add(from, to)
		s.count++
	}
}
