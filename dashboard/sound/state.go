package sound

import "time"

// A Way is what the tones of alarms are heard through.
type Way uint8

const (
	// Unknown: the audio is being opened for the first time, and the
	// terminal's bell, if there is one, stands in. It ends when Settled does.
	Unknown Way = iota
	// Audio: a device plays and, as far as it can tell, is heard.
	Audio
	// BellOnly: the terminal's bell is all there is. Whether the terminal
	// makes a sound of it, nobody can tell.
	BellOnly
	// Silent: nothing can be heard.
	Silent
)

var wayNames = [...]string{"unknown", "audio", "bell only", "silent"}

// String returns the way in a word or two.
func (w Way) String() string { return wayNames[w] }

// A State says whether alarms are heard now. It is what Status words.
type State struct {
	Way     Way
	Through string // the device's name when Way is Audio, "PulseAudio server"; else empty
	// Why is the reason in a few words when Way is not Audio, "sound server
	// closed the connection"; else empty. It may change while Way does not.
	Why    string
	Chosen bool // the person wants it so: the bell alone, or no sound
	// Lost is true where audio was heard before and is heard no more: what
	// somebody relied on has gone.
	Lost bool
	// Since is when Way or Through became so; it bears a monotonic clock.
	Since time.Time
}

// State says through what the player is heard, since when, and if it is not
// audio why not. It never waits. A dead device shows within 0.6 s, one that
// was muted or lost its output within a second or two.
func (p *Player) State() State { return *p.state.Load() }

// say brings what State and Status say up to date.
func (p *Player) say(now time.Time) {
	s := p.judge(now)
	old := p.state.Load()
	if s.Since = now; old != nil && old.Way == s.Way && old.Through == s.Through {
		s.Since = old.Since
	}
	// The words first: who reads the state and then them has words that are at
	// least as new.
	line := p.line(&s)
	if old := p.status.Load(); old == nil || *old != line {
		p.status.Store(&line)
	}
	if old == nil || *old != s {
		p.state.Store(&s)
	}
}

// judge says what is heard, without the time.
func (p *Player) judge(now time.Time) State {
	s := State{Why: p.problem, Chosen: p.opts.Mode != Auto}
	if p.opts.Mode == Off {
		s.Way = Silent
		return s
	}
	if d := p.device; d != nil {
		unheard := d.unheard()
		switch {
		case !d.flows():
			s.Why = "waiting for the " + d.name
		case unheard == "":
			p.relied = true
			return State{Way: Audio, Through: d.name}
		default:
			s.Why = d.name + " " + unheard
		}
	}
	s.Lost = p.relied
	switch {
	case p.bell.strike == nil:
		s.Way = Silent
		if s.Chosen {
			s.Why = errNoBell.Error()
		}
	case p.bell.stuck(now):
		s.Way, s.Why = Silent, errBellStuck.Error()
	default:
		s.Way = BellOnly
	}
	if p.opts.Mode == Auto && !p.known && !p.bell.stuck(now) {
		s.Way = Unknown
	}
	return s
}

// These begin the status of a player: that nobody can hear it, that a device
// plays, that the terminal's bell stands in.
const (
	Unheard = "no sound: "
	Heard   = "audio: "
	Rung    = "terminal bell ("
)

// line words a state, and what of speech.
func (p *Player) line(s *State) string {
	var line string
	switch {
	case p.opts.Mode == Off:
		return "off"
	case s.Way == Audio:
		line = Heard + s.Through
	case s.Way == Silent, p.bell.strike == nil:
		return Unheard + s.Why // where tones are not heard, words are no comfort
	default:
		line = Rung + s.Why + ")"
	}
	if p.speaker != nil {
		line += p.speaker.line()
	}
	return line
}
