package detect

import (
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// Second is one second of engine time, which is counted in microseconds.
const Second int64 = 1_000_000

// Tri is a flag that may be unknown.
type Tri uint8

// The values of a Tri.
const (
	Unknown Tri = iota
	No
	Yes
)

// An Input is one good sample with its place on the engine's clock.
type Input struct {
	S *decode.Sample
	// At is when the sample was taken, engine microseconds. Streams lag each
	// other: At may lie up to 50 ms before Bench.Now.
	At int64
}

// A Reading is a measured value, or the lack of one.
type Reading struct {
	V  float64
	OK bool  // measured in the last line of its tag
	At int64 // engine time of that line
}

// A Stream tells how one tag arrives.
type Stream struct {
	Count  uint64
	Last   int64   // engine time of the last sample
	Period float64 // smoothed time between samples as sent (lost lines allowed for), microseconds; 0 until known
	Steady bool    // enough samples seen at an even pace to miss one
	// Awaited says that none has come since its bridge restarted, though they came
	// before; Last is then the time from which on they are missed.
	Awaited bool
	// Aside is the engine time of the newest line of its tag that was set aside, for
	// it came from another bridge than the stream: AsideOf, from 0. 0: none was.
	Aside   int64
	AsideOf int
}

// Rate returns the stream's pace in samples a second, 0 until known.
func (s *Stream) Rate() float64 {
	if s.Period <= 0 {
		return 0
	}
	return float64(Second) / s.Period
}

// Bench is what is known of the bench at this moment. The engine keeps it up
// to date; detectors read it.
type Bench struct {
	Now    int64 // engine microseconds since the first good line
	Craft  craft.Craft
	Limits craft.Limits // with defaults filled in

	Armed, Stopped, Ground, ControlOK Tri
	ArmedAt, DisarmedAt, StoppedAt    int64 // engine time of the last change to it; -1 never
	EverArmed                         bool
	LastArmed                         Tri // last value that was known

	Stick  [4]Reading // throttle 0..1, roll, pitch, yaw -1..1
	Rate   [3]Reading // deg/s
	Demand [3]Reading // deg/s
	Ctrl   [3]Reading // rate-controller output, -1..1
	Thr    Reading    // collective throttle 0..1

	Motors int // in use: from the craft, else the most seen in out or erpm
	Out    [decode.MaxMotors]Reading
	RPM    [decode.MaxMotors]Reading // mechanical, rev/min; OK only when the pole count is known
	ERPM   [decode.MaxMotors]Reading // electrical, as reported
	Temp   [decode.MaxMotors]Reading
	Load   Reading
	Volts  Reading
	Amps   Reading
	Force  [3]Reading // specific force, m/s^2
	Pascal Reading    // air pressure
	AirC   Reading    // air temperature, deg C

	IdleReady, IdleLeast Reading // from the craft file, else from set lines

	// Disagree is where craft file and bridge both speak and differ; it is made
	// anew when that changes. DisagreeSeq counts how often it did.
	Disagree    []Disagreement
	DisagreeSeq int

	// Doubt says of each kind of line why its values are not to be believed, ""
	// where nothing speaks against them. Asks is what a line gives reason to ask a
	// person, "" for nothing.
	Doubt [decode.TagCount]string
	Asks  string
	// Rest is what the load cells show with all rotors standing, newtons, where that
	// is in doubt; 0 where it is not, or not known.
	Rest float64
	// Another says that the bridge tells of another craft than before, "" as long as
	// it has not; Anothers counts how often it did.
	Another  string
	Anothers int

	Streams [decode.TagCount]Stream
	// Misnamed says of each kind of line that lines of another tag come, which is not
	// known and one letter off: most likely it is meant. "": none do.
	Misnamed [decode.TagCount]string

	// Silent is how long no good line has come, by the host's clock (by the
	// bridge's where a recording has no other); 0 while lines flow.
	Silent int64
	// RestartAt is the engine time of the bridge's last restart, -1 never;
	// RestartSilent how long the link had been silent before it.
	RestartAt, RestartSilent int64
	// RestartArmed says that the craft was armed when last known before the
	// restart: the first line after it may say otherwise.
	RestartArmed bool
	Link         LinkCounts
	Baud         int // of the port, 0 when not known

	OutAt, RPMAt int64 // engine time of the last out and erpm line, -1 never

	// Bridges are those that are heard together; nil where there is one. What
	// stands above counts for all of them: Silent is that of the whole bench, Link
	// the sum. RestartBridge is the one that restarted last.
	Bridges       []Bridge
	RestartBridge int
	RestartTags   uint32 // kinds of line that began anew with it, a bit each; 0: nothing was taken of it
	Moved         Move   // the last one
}

// A Move is that of a bridge from one port to another, known by its clock, or of
// streams alone.
type Move struct {
	At       int64  // engine time of its first line there
	From, To int    // the ports, their places among Bridges; the same: none
	Tags     uint32 // kinds of line that are taken from it, a bit each
	Silent   int64  // how long it had not been heard
	Seems    bool   // no clock says so: those streams come from another port now
}

// Supplies reports whether anything is taken from the bridge: it may send nothing
// but what comes from another already.
func (b *Bridge) Supplies() bool { return b.Tags&^(1<<decode.Unknown|1<<decode.Hello) != 0 }

// A Bridge is one of several on a bench.
type Bridge struct {
	Name   string
	Named  bool   // a person named its port, and what it sends is watched from the beginning: it is waited for
	Heard  bool   // a good line came
	Tags   uint32 // kinds of line that are taken from it, a bit each
	Silent int64  // as that of the bench
	Link   LinkCounts
	Baud   int // of its port, 0 when not known
}

// LinkCounts are running totals of what the wire brought.
type LinkCounts struct {
	Good, Bad, Lost uint64
	Bytes           uint64 // good and bad lines, with their line ends
	Faults          uint64 // runs of bad or lost lines: a burst counts once
	// Own are those of them that say nothing of the line: the monitor itself
	// stood still then, or they are a silence that stale-link has told of.
	Own OwnCounts
}

// OwnCounts are the faults that are not the line's.
type OwnCounts struct{ Bad, Lost, Faults uint64 }

// net leaves out what is not the line's fault.
func (l LinkCounts) net() LinkCounts {
	l.Bad -= l.Own.Bad
	l.Lost -= l.Own.Lost
	l.Faults -= l.Own.Faults
	return l
}

// Held reports whether the craft is tied down: everything but hold = "free".
func (b *Bench) Held() bool { return b.Craft.Hold != craft.Free }

// HeldOrGrounded reports whether the craft must not move or lift.
func (b *Bench) HeldOrGrounded() bool { return b.Held() || b.Ground == Yes }

// ArmedOrUnknown reports whether the craft must be taken as armed.
func (b *Bench) ArmedOrUnknown() bool { return b.Armed != No }

// WeightN returns the craft's weight in newtons, 0 when its mass is unknown.
func (b *Bench) WeightN() float64 { return b.Craft.MassG / 1000 * 9.80665 }

// Coast is the time in which rotors come to rest, microseconds.
func (b *Bench) Coast() int64 { return int64(b.Limits.CoastSeconds * float64(Second)) }

// MeanOut returns the mean of the measured motor outputs.
func (b *Bench) MeanOut() (float64, bool) { return b.meanOf(b.Motors) }

// mostOut is the mean output with the motors that lines carry beyond the craft's
// count, where they raise it: a craft file may be of another craft.
func (b *Bench) mostOut() (float64, bool) {
	v, ok := b.MeanOut()
	if all, more := b.meanOf(decode.MaxMotors); more {
		return max(v, all), true
	}
	return v, ok
}

// Shown is how many motors a person is shown: those of the craft, and what lines
// carry beyond them.
func (b *Bench) Shown() int {
	for i := decode.MaxMotors; i > b.Motors; i-- {
		if b.Out[i-1].OK || b.ERPM[i-1].OK {
			return i
		}
	}
	return b.Motors
}

func (b *Bench) meanOf(motors int) (float64, bool) {
	sum, n := 0.0, 0
	for i := range motors {
		if b.Out[i].OK {
			sum += b.Out[i].V
			n++
		}
	}
	if n == 0 {
		return 0, false
	}
	return sum / float64(n), true
}
