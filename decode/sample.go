package decode

// Tag says which kind of line a sample came from.
type Tag uint8

// The tags of protocol version 1. Unknown stands for a well-formed line of a
// later version: it is counted and recorded, and nothing else.
const (
	Unknown Tag = iota
	Hello
	Craft
	Axes
	Out
	ERPM
	Accel
	Load
	Temp
	Pack
	Air
	State
	Set
	Note
	TagCount // how many there are, Unknown included
)

// MaxMotors is the most motors a craft of this protocol has.
const MaxMotors = 8

// Slots of Sample.Num for each tag, in the order of the line's numeric
// fields. Units and ranges stand in the field table (format.go).
const (
	// hello
	HelloVersion = 0
	HelloBoot    = 1
	// craft
	CraftMotors   = 0
	CraftPoles    = 1
	CraftBlades   = 2
	CraftDiameter = 3 // mm
	CraftMass     = 4 // g
	CraftCells    = 5
	// axes: rates and demands in deg/s, controller outputs -1..1
	RateRoll     = 0
	RatePitch    = 1
	RateYaw      = 2
	DemandRoll   = 3
	DemandPitch  = 4
	DemandYaw    = 5
	ControlRoll  = 6
	ControlPitch = 7
	ControlYaw   = 8
	Throttle     = 9
	// accel, m/s^2
	ForceX = 0
	ForceY = 1
	ForceZ = 2
	// load, N
	LoadN = 0
	// pack
	Volts = 0
	Amps  = 1
	// air
	Pascal = 0
	AirC   = 1
	// state
	Armed         = 0
	Stopped       = 1
	Ground        = 2
	StickThrottle = 3
	StickRoll     = 4
	StickPitch    = 5
	StickYaw      = 6
	ControlOK     = 7
	// set
	SetValue = 0
)

// MaxNum is the largest number of numeric fields a tag has.
const MaxNum = 10

// A Sample is one good line. It is a plain value with no pointer of its own
// but Text and Word, which lie in the bytes that were decoded: copy them to
// keep them beyond the next line.
type Sample struct {
	Tag  Tag
	Seq  uint16
	Time uint32 // the bridge's clock, microseconds modulo 2^32

	// Num holds the numeric fields in the line's order, in the line's units;
	// bit i of Has says that field i was measured. A field that was not is 0.
	Num [MaxNum]float64
	Has uint16

	Text []byte // hello: bridge name; craft: craft name; note: its text
	Word []byte // craft: layout; set: the setting's name; of an unknown tag: that tag

	// Of several bridges, see Owners: Aside is the tag that it had before it was set
	// aside for another bridge's, and Passed says that its tag came from elsewhere until
	// it; Seems that its bridges do not say so by their clocks. Moved is the port, from 1,
	// at which its bridge was until it, 0 where it was at this one, and Carries what is
	// taken from that bridge, a bit for each tag. Held says that it may be of another
	// bridge than those before it, or of one that began anew, which the next lines tell.
	Aside   Tag
	Passed  bool
	Seems   bool
	Held    bool
	Moved   uint8
	Carries uint32
}

// Get returns numeric field i and whether it was measured.
func (s *Sample) Get(i int) (float64, bool) {
	return s.Num[i], s.Has&(1<<uint(i)) != 0
}

// Put sets numeric field i as measured.
func (s *Sample) Put(i int, v float64) {
	s.Num[i] = v
	s.Has |= 1 << uint(i)
}
