package cable

import "tetherbell/decode"

const (
	paceStep = 1_000_000 // us of engine time that are taken together
	// paceLearn seconds tell what a line usually brings, and paceLasts in a row
	// must differ.
	paceLearn = 4
	paceLasts = 2
	// floodBy and trickleBy times the usual pace are a flood and a trickle
	// (common practice, no source).
	floodBy   = 3.0
	trickleBy = 0.5
	// fullFrom is the share of the baud's capacity from which the line is full;
	// over fullTo it does not run at that baud at all.
	fullFrom, fullTo = 0.90, 1.10
	bitsPerByte      = 10 // 8N1
)

// A pace is what the line brings in a second.
type pace struct {
	begun   bool
	from    int64
	bytes   int
	lines   int
	idle    int // of them, those of tags that nobody knows, and notes
	lost    int
	bad     int
	taken   int     // seconds that the usual pace was learned from
	usual   float64 // bytes a second
	high    int     // seconds in a row
	low     int
	trickle bool
}

// line takes a good line.
func (p *pace) line(tag decode.Tag, size, gap int) {
	p.bytes += size
	p.lines++
	p.lost += gap
	if tag == decode.Unknown || tag == decode.Note {
		p.idle++
	}
}

// due reports whether a second has passed.
func (p *pace) due(now int64) bool {
	if !p.begun {
		p.begun, p.from = now > 0, now
		return false
	}
	return now-p.from >= paceStep
}

// begin begins another second, of which nothing is known yet.
func (p *pace) begin(now int64) {
	p.from, p.bytes, p.lines, p.lost, p.idle, p.bad = now, 0, 0, 0, 0, 0
	p.high, p.low, p.trickle = 0, 0, false
}

// judgePace looks at the second that has passed.
func (w *Watch) judgePace() {
	p := &w.pace
	rate := float64(p.bytes) * 1e6 / float64(w.now-p.from)
	lines, lost, idle := p.lines, p.lost, p.idle
	silent := p.lines+p.bad == 0
	p.from, p.bytes, p.lines, p.lost, p.idle, p.bad = w.now, 0, 0, 0, 0, 0
	load := 0.0
	if w.baud > 0 {
		load = rate * bitsPerByte / float64(w.baud)
	}
	knows := p.taken >= paceLearn
	burdened := 2*idle > lines || 20*lost > lines
	high := load > fullFrom && load < fullTo || knows && rate > floodBy*p.usual && burdened
	low := knows && !silent && rate < trickleBy*p.usual && lost > lines && (w.clock.open || p.trickle || w.clock.slow())
	p.high, p.low = lasting(p.high, high), lasting(p.low, low)
	p.trickle = low
	switch {
	case p.high >= paceLasts:
		k := w.see(Flood)
		k.figure = max(k.figure, rate)
	case p.low >= paceLasts:
		k := w.see(Trickle)
		if k.count == 1 || rate < k.figure {
			k.figure = rate
		}
	case high || low || silent:
	case !knows || rate > trickleBy*p.usual:
		p.taken++
		p.usual += (rate - p.usual) / float64(min(p.taken, 10))
	}
}

func lasting(n int, is bool) int {
	if is {
		return n + 1
	}
	return 0
}
