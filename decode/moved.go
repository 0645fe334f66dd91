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
)

// A run is a bridge's clock since it began.
type run struct {
	begun     bool
	since, at int64  // of the host's clock: when it began, and its newest line
	newest    uint32 // the bridge's
	off       uint32 // host's time less the bridge's, of the line that was quickest, modulo 2^32
	booted    bool   // its boot number is known
	boot      uint32
}

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
	r.off += uint32(min(late, (now-r.at)/movedDrift))
	r.at = now
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
	goesOn := r.begun && !r.jumps(o.now, s.Time)
	boot, says := s.Get(HelloBoot)
	says = says && s.Tag == Hello
	if goesOn && !(says && r.booted && r.boot != uint32(boot)) {
		r.line(o.now, s.Time)
		r.hello(says, boot)
		return
	}
	found, some := uint8(0), 0
	for i := range o.runs {
		x := &o.runs[i]
		if uint8(i) == n || !x.begun || !r.begun || r.at-x.since < movedSettled {
			continue
		}
		if goesOn && !(x.booted && x.boot == uint32(boot)) {
			continue // clocks are alike: what tells is the boot number
		}
		if late := x.late(o.now, s.Time); late >= -movedNear && late <= movedNear {
			found, some = uint8(i), some+1
		}
	}
	if some != 1 && goesOn {
		r.line(o.now, s.Time)
		r.hello(says, boot)
		return
	}
	if some != 1 { // nobody's, or nobody knows whose
		*r = run{begun: true, since: o.now, at: o.now, newest: s.Time, off: uint32(o.now) - s.Time}
		r.hello(says, boot)
		return
	}
	o.at[o.where(found)], o.at[port] = n, found
	o.runs[found].line(o.now, s.Time)
	o.runs[found].hello(says, boot)
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
