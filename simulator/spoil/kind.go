package spoil

import "strconv"

// A Kind is one way to spoil a line.
type Kind uint8

// The kinds. Each comment tells what a fault's value means.
const (
	FlippedBits  Kind = iota // chance that a byte has one bit turned over
	LostBytes                // chance that a byte is lost
	DoubledBytes             // chance that a byte comes twice
	DoubledLines             // chance that a line comes twice
	MergedLines              // chance that a line's end is lost
	HeldUp                   // milliseconds for which bytes are held up, again and again; they come in a heap
	WrongBaud                // the receiver's rate over the bridge's
	Restart                  // seconds for which the bridge is down, once
	Unplugged                // seconds for which the cable is out, once
	Flood                    // how many times as many lines as the bridge had to send
	Trickle                  // bytes a second that get through
	ClockDrift               // parts per million by which the bridge's clock is fast
	ClockStep                // milliseconds by which it steps forward, once
	KindCount                // how many there are
)

// An About tells of a kind what its users must know.
type About struct {
	Name    string
	Unit    string  // of the value
	Usual   float64 // the value where none is given
	Least   float64 // bounds of the value
	Most    float64
	Nothing float64 // the value at which nothing is spoilt, unless it is Busy
	Busy    bool    // it spoils at every value
	Once    bool    // it happens at one moment, onceAt where none is given
	What    string
}

// The bounds are those within which a fault still is what its name says.
var abouts = [KindCount]About{
	FlippedBits:  {Name: "flipped-bits", Unit: "chance a byte", Usual: 1e-4, Most: 1, What: "bits turn over"},
	LostBytes:    {Name: "lost-bytes", Unit: "chance a byte", Usual: 1e-4, Most: 1, What: "bytes are lost"},
	DoubledBytes: {Name: "doubled-bytes", Unit: "chance a byte", Usual: 1e-4, Most: 1, What: "bytes come twice"},
	DoubledLines: {Name: "doubled-lines", Unit: "chance a line", Usual: 0.01, Most: 1, What: "lines come twice"},
	MergedLines:  {Name: "merged-lines", Unit: "chance a line", Usual: 0.01, Most: 1, What: "line ends are lost"},
	HeldUp:       {Name: "held-up", Unit: "ms", Usual: 400, Most: 10_000, What: "bytes are held up and come in a heap"},
	WrongBaud:    {Name: "wrong-baud", Unit: "times the bridge's rate", Usual: 0.5, Least: 1.0 / 16, Most: 16, Nothing: 1, What: "heard at another rate"},
	Restart:      {Name: "restart", Unit: "s down", Usual: 0.5, Most: 60, Busy: true, Once: true, What: "the bridge restarts"},
	Unplugged:    {Name: "unplugged", Unit: "s", Usual: 2, Most: 600, Once: true, What: "the cable is out"},
	Flood:        {Name: "flood", Unit: "times its lines", Usual: 10, Least: 1, Most: 1000, Nothing: 1, What: "filler lines beyond what the line carries"},
	Trickle:      {Name: "trickle", Unit: "bytes/s", Usual: 1000, Least: 10, Most: 1e7, Busy: true, What: "bytes dribble, with pauses in the midst of lines"},
	ClockDrift:   {Name: "clock-drift", Unit: "ppm", Usual: 1000, Least: -100_000, Most: 100_000, What: "the bridge's clock is fast, or slow"},
	ClockStep:    {Name: "clock-step", Unit: "ms", Usual: 300, Least: -2_000_000, Most: 2_000_000, Once: true, What: "the bridge's clock steps forward, or back"},
}

// About tells of a kind.
func (k Kind) About() About { return abouts[k] }

// String returns the kind's name.
func (k Kind) String() string {
	if k >= KindCount {
		return "kind " + strconv.Itoa(int(k))
	}
	return abouts[k].Name
}

// KindNamed finds a kind by its name.
func KindNamed(name string) (Kind, bool) {
	for k := range abouts {
		if abouts[k].Name == name {
			return Kind(k), true
		}
	}
	return 0, false
}

// Never is an end that does not come.
const Never int64 = 1<<63 - 1

// onceAt is when a fault of one moment happens where nobody says: a monitor has
// then seen what the sound line is like.
const onceAt = 10_000_000 // us

// A Fault is one kind with its strength and its time.
type Fault struct {
	Kind     Kind
	Value    float64
	From, To int64 // microseconds since the start; To alone is no longer of it
}

// at reports whether the fault is there at a time.
func (f *Fault) at(t int64) bool { return t >= f.From && t < f.To }
