package cable

import "strconv"

// A Kind is one fault of the line.
type Kind uint8

// The kinds.
const (
	FlippedBits  Kind = iota // bits turned over
	LostBytes                // a byte is missing
	DoubledBytes             // a byte came twice
	DoubledLines             // a line came twice
	MergedLines              // a line's end is missing
	HeldUp                   // lines came late, in a heap
	WrongBaud                // what comes is no text: another rate
	Restart                  // the bridge began anew
	Unplugged                // nothing came, while the bridge went on
	Flood                    // far more lines than before, or than the line carries
	Trickle                  // far less than before, and late
	ClockDrift               // the bridge's clock runs off the host's
	ClockStep                // the bridge's clock jumped
	Swapped                  // another bridge than before is at the port
	Miswritten               // the bridge writes its lines wrongly
	Unclear                  // bad lines of no clear kind
	KindCount                // how many there are
)

var kindNames = [KindCount]string{
	"flipped bits", "lost bytes", "doubled bytes", "doubled lines", "merged lines", "held-up lines", "wrong baud",
	"bridge restarts", "unplugged", "flood", "trickle", "clock drift", "clock steps", "cables swapped", "bridge writes wrongly", "bad lines of no clear kind",
}

// first is what to do first.
var first = [KindCount]string{
	FlippedBits:  "look for noise on the cable: shorten it, tie the grounds, lead it away from motor leads",
	LostBytes:    "lower the baud or the stream rates: a buffer on the way overflows",
	DoubledBytes: "look at the bridge's send routine and the adapter's driver",
	DoubledLines: "look whether the bridge sends lines twice",
	MergedLines:  "look whether the bridge ends every line, also when its buffer is full",
	HeldUp:       "take the adapter off the hub, and end what keeps this machine busy: warnings come late",
	WrongBaud:    "set the monitor's --baud to the bridge's",
	Restart:      "look at the bridge's supply",
	Unplugged:    "fasten the plug at both ends",
	Flood:        "lower the stream rates of the bridge",
	Trickle:      "look what keeps the bridge from sending; do not trust that warnings come in time",
	ClockDrift:   "trust no rate and frequency beyond that; look at the bridge's oscillator",
	ClockStep:    "look what sets the bridge's clock",
	Swapped:      "look at both cables before you arm again",
	Unclear:      "look at cable, ground and baud",
}

// String returns the kind in words.
func (k Kind) String() string {
	if k >= KindCount {
		return "kind " + strconv.Itoa(int(k))
	}
	return kindNames[k]
}

// A Sight is a fault that was seen.
type Sight struct {
	Kind        Kind
	Count       uint64 // bits, bytes, lines, heaps, moments or stretches, as Text tells
	First, Last int64  // engine microseconds
	Text        string // a sentence with figures
	Action      string // what to do first
	Again       bool   // it comes again after a quiet spell
}
