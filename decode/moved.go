package decode

// Times by which a bridge is told at another port, microseconds.
const (
	// movedLeap is how far the clock at a port must have gone off its own, and
	// movedNear how near it must lie to the one that was heard elsewhere: what an
	// adapter kept while its port was closed comes late (common practice, no source).
	// Clocks that differ by less cannot be told from each other.
	movedLeap = 1_000_000
	movedNear = 500_000
	// movedSettled is how much longer than this port's bridge another must have been
	// heard for its clock to be known again. One that has begun anew since its last
	// line counts from nought: its clock lies behind that of the other by as much.
	movedSettled = 1_000_000
	// movedDrift is the part by which two clocks may run off each other; far more
	// than any quartz (common practice, no source).
	movedDrift = 1000
	// movedGone is how long a bridge that comes by another port must not have been heard
	// at its own: by hand no plug is elsewhere sooner. One whose pieces come seldom is
	// given movedPaces of them. Until then who comes here may be one that began anew,
	// with a clock that is like by chance (common practice, no source).
	movedGone  = 250_000
	movedPaces = 4
	// movedBack: a bridge is not back where it was sooner, unless it never was
	// elsewhere; hello, which says so too, comes once a second.
	movedBack = 1_500_000
	// movedStands: what is late for longer was not held up on its way. Its clock stood,
	// or it began anew while nobody heard it.
	movedStands = 10_000_000
)

// A run is a bridge's clock since it began.
type run struct {
	begun     bool
	since, at int64  // of the host's clock: when it began, and its newest line
	newest    uint32 // the bridge's
	off       uint32 // host's time less the bridge's, of the line that was quickest, modulo 2^32
	booted    bool   // its boot number is known
	boot      uint32
	behind    int64 // since when its lines are late by more than movedLeap; 0: they are not
	pace      int64 // the time between two pieces of its lines, smoothed
	came      uint8 // the port at which it was before; 0: none
	moved     int64 // when that changed
	held      int64 // since when its lines are another's, it seems, who may talk at its own port still; 0: they are not
	claims    uint8 // who that is
}

// runFrom is the clock of one that begins with a line.
func runFrom(now int64, t uint32) run {
	return run{begun: true, since: now, at: now, newest: t, off: uint32(now) - t}
}

// patience is how long a bridge must not have been heard to have left its port.
func (r *run) patience() int64 { return min(max(movedGone, movedPaces*r.pace), talkGap) }

// late is how much later than the quickest a line came; below 0 it was quicker.
func (r *run) late(now int64, t uint32) int64 { return int64(int32(uint32(now) - t - r.off)) }

// jumps reports whether a line is not of this clock: it leapt, or went back. Lines
// that are held up on their way come late, and go on.
func (r *run) jumps(now int64, t uint32) bool {
	late := r.late(now, t)
	return late < -movedLeap || late > movedLeap && int32(t-r.newest) < -maxLag
}

// line takes a line of this clock.
func (r *run) line(now int64, t uint32) {
	late := r.late(now, t)
	switch {
	case late <= movedLeap:
		r.behind = 0
	case r.behind == 0:
		r.behind = now
	case now-r.behind >= movedStands:
		r.since, r.off, r.newest, r.behind, late = now, uint32(now)-t, t, 0, 0
	}
	gap := now - r.at
	r.off += uint32(min(late, gap/movedDrift))
	if gap > 0 {
		r.pace += (min(gap, talkGap) - r.pace) / 8
	}
	r.at, r.held = now, 0
	if int32(t-r.newest) > 0 {
		r.newest = t
	}
}

// recognise tells by its clock, and where clocks are alike by its boot number, which
// bridge a line of a port is of. One that was at another port has changed places with
// the one that was here.
func (o *Owners) recognise(port uint8, s *Sample) {
	n := o.who(port)
	r := &o.runs[n]
	boot, says := s.Get(HelloBoot)
	says = says && s.Tag == Hello
	goesOn := r.begun && !r.jumps(o.now, s.Time)
	found := n
	switch {
	case !goesOn:
		found = o.elsewhere(n, s.Time, says, uint32(boot))
	case says && r.booted && r.boot != uint32(boot):
		found = o.booted(n, s.Time, uint32(boot))
	}
	switch x := &o.runs[found]; {
	case found == n && goesOn:
	case found == n: // nobody's, or nobody knows whose
		*r = runFrom(o.now, s.Time)
	case x.came == port && o.now-x.moved < movedBack:
		o.change(port, n, found) // it never was elsewhere: who is there has begun anew
		r.begun, r.booted = goesOn, false
	case goesOn || o.left(n, found):
		o.change(port, n, found)
	case r.held == 0 || r.claims != found:
		r.held, r.claims, s.Held = o.now, found, true
		return
	case x.at <= r.held:
		s.Held = true
		return
	default: // it talks on where it was
		*r = runFrom(o.now, s.Time)
		found = n
	}
	o.runs[found].line(o.now, s.Time)
	o.runs[found].hello(says, boot)
}

// elsewhere is the one bridge whose clock a line is of, which does not go on that of
// bridge n; n where there is none, or several. Before one that talks at its port comes
// one that does not.
func (o *Owners) elsewhere(n uint8, t uint32, says bool, boot uint32) uint8 {
	gone, here := n, n
	some, talk := 0, 0
	for i := range o.runs {
		x := &o.runs[i]
		if !o.maybe(n, uint8(i), t) || says && x.booted && x.boot != boot {
			continue
		}
		if o.now-x.at >= x.patience() {
			gone, some = uint8(i), some+1
		} else {
			here, talk = uint8(i), talk+1
		}
	}
	switch {
	case some == 1:
		return gone
	case some == 0 && talk == 1:
		return here
	}
	return n
}

// booted is the one bridge with a boot number whose clock is like that of bridge n.
func (o *Owners) booted(n uint8, t uint32, boot uint32) uint8 {
	found, some := n, 0
	for i := range o.runs {
		if x := &o.runs[i]; o.maybe(n, uint8(i), t) && x.booted && x.boot == boot {
			found, some = uint8(i), some+1
		}
	}
	if some != 1 {
		return n
	}
	return found
}

// maybe reports whether a line, thought to be of bridge n, may be of another by its clock.
func (o *Owners) maybe(n, other uint8, t uint32) bool {
	r, x := &o.runs[n], &o.runs[other]
	if other == n || !x.begun || !r.begun || r.at-x.since < movedSettled {
		return false
	}
	late := x.late(o.now, t)
	return late >= -movedNear && late <= movedNear
}

// left reports whether a bridge is no more at its port, where it has not been heard for
// long enough, or who comes there now is bridge n.
func (o *Owners) left(n, other uint8) bool {
	x := &o.runs[other]
	return o.now-x.at >= x.patience() || x.held != 0 && x.claims == n
}

// change has bridge found at a port, and bridge n where that one was.
func (o *Owners) change(port, n, found uint8) {
	was := uint8(o.where(found))
	o.at[was], o.at[port] = n, found
	o.runs[found].came, o.runs[found].moved = was, o.now
	o.runs[n].held = 0
}

// hello notes the boot number where a line says it.
func (r *run) hello(says bool, boot float64) {
	if says {
		r.booted, r.boot = true, uint32(boot)
	}
}

// who is the bridge at a port.
func (o *Owners) who(port uint8) uint8 {
	if n := o.at[port]; n != 0 {
		return n
	}
	return port
}

// where is the port of a bridge.
func (o *Owners) where(n uint8) int {
	for port := range o.at {
		if port > 0 && o.who(uint8(port)) == n {
			return port
		}
	}
	return int(n)
}
