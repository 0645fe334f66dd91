package decode

// Bounds of the bridge's clock, in microseconds. The contract with the bridge
// sets lag and leap; the two terms of slack are ours: a host's clock that is
// read late or runs a little off must not turn a true silence into a restart.
const (
	maxLag    = 50_000     // streams may lag each other by so much
	maxLeap   = 10_000_000 // a longer leap must be borne out by the host's clock
	leapSlack = 1_000_000  // the host may have seen so much less than nine tenths of it
)

// A Step tells how a line follows the lines before it.
type Step struct {
	// DT is how far the line lies after the newest line so far, in
	// microseconds. It is negative for a line that lags, and 0 for the first
	// line and at a restart.
	DT int64
	// Gap is how many lines are missing before it. Bad lines are among them.
	Gap int
	// Restart says that the bridge began anew: nothing before may be joined
	// with what follows.
	Restart bool
	// FirstLine says that there was no line before.
	FirstLine bool
	// Hole says that lines are missing from the input before it, see Misses.
	Hole bool
}

// A Stream follows seq, time and boot number over the good lines of a bridge.
// The zero value is ready to use. It counts in integers alone.
type Stream struct {
	begun    bool
	seq      uint16 // of the last line
	newest   uint32 // the latest time seen
	boot     uint32
	bootSeen bool
	hole     bool // lines are missing from the input before the next one
}

// Misses says that lines are missing from the input here that had come: the next one
// lies where its own time says, however far that is, and none was lost before it.
func (k *Stream) Misses() { k.hole = true }

// Next takes a good line, unknown tags included, and tells how it follows the
// last. hostUS is the host's time since the last good line, -1 when not known.
//
// A restart is seen in these ways: time steps back by over 50 ms (a difference
// of 2^31 us or more is a step back), time leaps by over 10 s while the host
// saw less than nine tenths of the leap less a second, or hello brings another
// boot number; and where the bridge is another than before at its port. A restart that
// showed in the time is not told again when the hello with its new boot number follows.
// A line that is held tells nothing: the next one does.
func (k *Stream) Next(s *Sample, hostUS int64) Step {
	if s.Held && k.begun {
		return Step{}
	}
	hole := k.hole
	k.hole = false
	if !k.begun {
		k.begun = true
		k.seq, k.newest = s.Seq, s.Time
		k.newBoot(s)
		return Step{FirstLine: true}
	}
	// Differences modulo 2^16 and 2^32: a wrap needs no care.
	ahead := s.Seq - k.seq
	k.seq = s.Seq
	dt := int64(int32(s.Time - k.newest))

	jumped := s.Moved != 0 || dt < -maxLag || dt > maxLeap && !hole && hostUS < dt*9/10-leapSlack
	if jumped {
		k.bootSeen = false
	}
	if k.newBoot(s) || jumped {
		k.newest = s.Time
		return Step{Restart: true}
	}
	if dt > 0 {
		k.newest = s.Time
	}
	step := Step{DT: dt, Hole: hole}
	if ahead > 1 && ahead < 1<<15 && !hole {
		step.Gap = int(ahead) - 1
	}
	return step
}

// Boot returns the boot number of the last hello that belongs to the bridge's
// present run.
func (k *Stream) Boot() (uint32, bool) { return k.boot, k.bootSeen }

// Newest is the bridge's time of the newest line so far.
func (k *Stream) Newest() uint32 { return k.newest }

// newBoot notes the boot number of a hello and reports whether another one was
// known before.
func (k *Stream) newBoot(s *Sample) bool {
	if s.Tag != Hello {
		return false
	}
	v, ok := s.Get(HelloBoot)
	if !ok {
		return false
	}
	other := k.bootSeen && k.boot != uint32(v)
	k.boot, k.bootSeen = uint32(v), true
	return other
}
