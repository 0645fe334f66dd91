// Package dashboard is the screen a person glances at beside spinning
// propellers.
//
// In come frames: a snapshot of the alarm engine, the plain facts the engine
// does not know (port, recording, sound, replay) and the tail of the journal.
// Out go cells on a terminal and the acts of the person: acknowledge, pause
// the sound, mark, steer a replay, move the sticks of a simulated craft.
//
// It knows nothing of ports, lines, detectors or files; it judges nothing and
// it never makes anybody wait. The newest frame wins, older ones are skipped.
package dashboard

import (
	"strings"
	"time"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
	"tetherbell/dashboard/sound"
)

// ActKind says what the person asked for.
type ActKind uint8

// The acts. The comment names the fields of Act that each uses.
const (
	Acknowledge  ActKind = iota // Alarm, Where: one alarm that was on the screen
	PauseSound                  // Seconds; 0 ends a pause
	Mark                        // Text
	ReplayPause                 // pauses, or goes on
	ReplayStep                  // one step forward
	ReplayJump                  // Seconds, negative for back
	ReplayFaster                //
	ReplaySlower                //
	ReplaySight                 // Seconds: over 0 to the next alarm or mark, under 0 to the one before
	ReplayLoop                  // sets the start of a loop, its end, or leaves it
	MoveHand                    // Hand
	CardAct                     // Step, and Text names the step
	ToggleTick                  // the growing tick, off or on again
	DrillStop                   // the trainee would press stop now
	DrillNext                   // on to the next recording of the drill
)

// An Act is something the person did; the caller carries it out.
type Act struct {
	Kind    ActKind
	Alarm   detect.Kind
	Where   detect.Where
	Seconds float64
	Text    string
	Hand    Hand
	Step    runcard.Act
}

// Status is what the snapshot does not know, as plain values.
type Status struct {
	Source  string // where the lines come from
	Baud    int    // 0 when not known
	Port    string // "open", "lost: trying again in 1.2 s (4th try)", "input ended"
	Lost    bool   // the port is away and is tried again
	Ended   bool   // no line will ever come again
	Blind   bool   // it ended while the craft was armed, and nobody has taken note
	Leaving string // why the watch is about to end, though nobody at the bench asked for it; empty: it goes on
	Hint    string // one line: what to do next; may be empty

	Bridges []BridgePort // of Snapshot.Bridges, in their order; nil in a replay

	Recording     string // file name; empty when nothing is recorded
	RecordedBytes int64
	RecordMissing uint64 // lines that are not in the recording
	RecordError   string // last error of the disk while it lasts
	QueueDropped  uint64 // lines that the monitor itself could not take

	Sound string      // what makes the sound, or why there is none
	Heard sound.State // whether an alarm would be heard
	Tick  string      // the growing tick: "on" or "off"; empty where there is none

	// What the screen has seen by itself, by RunWatched: the desk that makes the
	// frames may be the one that stands still.
	EngineStill  time.Duration // for how long nothing has been judged; 0: it goes
	EngineBroken bool          // and never will be again
	SoundStill   bool
	Beacon       string // what the beacon's line says, and why; empty: there is none
	BeaconFallen bool   // not that all is well
	BeaconError  string // why the beacon's line does not say what it should; empty: it does, or there is none

	Replay                        bool
	ReplayAt, ReplayLength, Speed float64 // seconds, seconds, 1 = its own pace
	Paused                        bool
	JudgedFrom                    float64   // engine seconds; 0: from the beginning
	Loop                          []float64 // start and end of a stretch that is gone round, s; the start alone while it has no end; nil: none

	Sights    []Sight // faults of the line that were seen
	BadCauses string  // bad lines by cause, "" where there are none: "299 out of range, 2 bad checksum"

	Hands *Hands // of a trainee at a simulated craft; nil: there is none
	Drill *Drill // a training with recordings; nil: there is none
}

// A Sight is a fault of the line, by its traces.
type Sight struct {
	Name         string
	Count        uint64
	First, Last  int64  // engine microseconds
	Text, Action string // a sentence with figures, and what to do first
}

// A BridgePort tells how the port of one of several bridges is doing.
type BridgePort struct {
	State string // "open", "LOST 3 s"
	Lost  bool
}

// An Entry is one line of the journal.
type Entry struct {
	T        int64 // engine microseconds
	Priority detect.Priority
	Text     string
}

// FromEvent words an event for the journal.
func FromEvent(e *alarms.Event) Entry {
	var b strings.Builder
	b.WriteString(changeName(e.Change))
	b.WriteByte(' ')
	b.WriteString(kindName(e.Kind))
	b.WriteByte(' ')
	b.WriteString(e.Where.String())
	if e.First {
		b.WriteString(" (first)")
	}
	if e.Story.Text != "" && (e.Change == alarms.Raised || e.Change == alarms.Worsened) {
		b.WriteString(": ")
		b.WriteString(e.Story.Text)
	}
	return Entry{T: e.T, Priority: e.Priority, Text: b.String()}
}

// A Frame is one picture's worth of facts. Nobody changes a frame, nor what
// it points to, once it was handed over: a new picture is a new frame. While
// lines may still come, a caller hands over a new frame at least twice a
// second; the screen says so when it does not.
type Frame struct {
	Snap    *alarms.Snapshot
	Status  Status
	Journal []Entry       // tail of the journal, oldest first
	Card    *runcard.View // the steps of a guided run; nil: there is none
}
