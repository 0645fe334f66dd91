package decode

import (
	"strconv"

	"tetherbell/decode/craft"
)

// Version is the protocol version this package reads and writes.
const Version = 1

// Kind says how a field is written.
type Kind uint8

// The kinds of field.
const (
	Number Kind = iota // decimal number
	Whole              // whole number
	Flag               // 0 or 1
	Word               // lower-case letters, digits, "_" and "-"
	Text               // printable ASCII but "," and "*"
	Rest               // text to the end of the line, commas included
)

// A Field describes one field of a line: the one place that decoding,
// encoding, column names and PROTOCOL.md are made from.
type Field struct {
	Name     string   // column name; a field per motor gets _1, _2 ... behind it
	Unit     string   // "1" for a share, "" where there is nothing to measure in
	Kind     Kind     // how it is written
	Min, Max float64  // both included; Min == Max == 0 on a Number: no bounds
	Even     bool     // odd numbers are out of range
	OrZero   bool     // 0 may stand there too: not known
	Words    []string // the words allowed; nil for any
	PerMotor bool     // stands once for each motor, m1 first
	Slot     int      // index in Sample.Num (of m1); -1 for words and texts
	About    string   // what it is, for people
}

type format struct {
	name   string
	rate   string // how often a bridge sends it, for people
	about  string
	fields []Field
}

// maxWhole is the largest boot number.
const maxWhole = 1<<32 - 1

// formats is the field table of protocol version 1. The ranges of propeller,
// mass, demanded rates and air temperature are wider than any bench needs:
// they catch a slipped unit, nothing else. A bridge that does not know mass or
// propeller may write 0, which costs no line. A setting may have any value.
var formats = [TagCount]format{
	Hello: {"hello", "at start, then 1/s", "the bridge says who it is", []Field{
		{Name: "protocol", Kind: Whole, Min: Version, Max: Version, Slot: HelloVersion, About: "protocol version"},
		{Name: "bridge", Kind: Text, About: "name of the bridge"},
		{Name: "boot", Kind: Whole, Max: maxWhole, Slot: HelloBoot, About: "boot number, another one after every start"},
	}},
	Craft: {"craft", "at start, then every 10 s", "the bridge says what is on the bench", []Field{
		{Name: "name", Kind: Text, About: "name of the craft"},
		{Name: "layout", Kind: Word, Words: craft.Layouts, About: "how the motors are placed"},
		{Name: "motors", Kind: Whole, Min: 1, Max: MaxMotors, Slot: CraftMotors, About: "number of motors"},
		{Name: "magnet_poles", Kind: Whole, Min: craft.MinPoles, Max: craft.MaxPoles, Even: true, Slot: CraftPoles, About: "magnet poles of a motor (not pole pairs)"},
		{Name: "blades", Kind: Whole, Min: craft.MinBlades, Max: craft.MaxBlades, Slot: CraftBlades, About: "blades of a propeller"},
		{Name: "propeller_mm", Unit: "mm", Kind: Number, Min: craft.MinDiameterMM, Max: craft.MaxDiameterMM, OrZero: true, Slot: CraftDiameter, About: "propeller diameter; 0 says not known"},
		{Name: "mass_g", Unit: "g", Kind: Number, Min: craft.MinMassG, Max: craft.MaxMassG, OrZero: true, Slot: CraftMass, About: "take-off mass; 0 says not known"},
		{Name: "cells", Kind: Whole, Min: 1, Max: craft.MaxCells, Slot: CraftCells, About: "cells of the pack in series"},
	}},
	Axes: {"axes", "50..2000/s", "rates, demands and rate-controller outputs", []Field{
		{Name: "rate_roll", Unit: "deg/s", Kind: Number, Min: -4000, Max: 4000, Slot: RateRoll, About: "measured body rate about x, right wing down +"},
		{Name: "rate_pitch", Unit: "deg/s", Kind: Number, Min: -4000, Max: 4000, Slot: RatePitch, About: "measured body rate about y, nose up +"},
		{Name: "rate_yaw", Unit: "deg/s", Kind: Number, Min: -4000, Max: 4000, Slot: RateYaw, About: "measured body rate about z, clockwise seen from above +"},
		{Name: "demand_roll", Unit: "deg/s", Kind: Number, Min: -20_000, Max: 20_000, Slot: DemandRoll, About: "demanded rate"},
		{Name: "demand_pitch", Unit: "deg/s", Kind: Number, Min: -20_000, Max: 20_000, Slot: DemandPitch, About: "demanded rate"},
		{Name: "demand_yaw", Unit: "deg/s", Kind: Number, Min: -20_000, Max: 20_000, Slot: DemandYaw, About: "demanded rate"},
		{Name: "control_roll", Unit: "1", Kind: Number, Min: -1, Max: 1, Slot: ControlRoll, About: "output of the rate controller"},
		{Name: "control_pitch", Unit: "1", Kind: Number, Min: -1, Max: 1, Slot: ControlPitch, About: "output of the rate controller"},
		{Name: "control_yaw", Unit: "1", Kind: Number, Min: -1, Max: 1, Slot: ControlYaw, About: "output of the rate controller"},
		{Name: "throttle", Unit: "1", Kind: Number, Max: 1, Slot: Throttle, About: "collective throttle that the mixer is given"},
	}},
	Out: {"out", "25..1000/s", "what each motor is told", []Field{
		{Name: "out", Unit: "1", Kind: Number, Max: 1, PerMotor: true, About: "output to the motor, 0 stands, 1 full"},
	}},
	ERPM: {"erpm", "10..200/s", "electrical speed of each motor", []Field{
		{Name: "erpm", Unit: "rev/min", Kind: Number, Max: 1_000_000, PerMotor: true, About: "electrical speed: shaft speed times pole pairs"},
	}},
	Accel: {"accel", "50..2000/s", "specific force", []Field{
		{Name: "force_x", Unit: "m/s^2", Kind: Number, Min: -400, Max: 400, Slot: ForceX, About: "specific force, forward +"},
		{Name: "force_y", Unit: "m/s^2", Kind: Number, Min: -400, Max: 400, Slot: ForceY, About: "specific force, right +"},
		{Name: "force_z", Unit: "m/s^2", Kind: Number, Min: -400, Max: 400, Slot: ForceZ, About: "specific force, down +; -9.81 at rest"},
	}},
	Load: {"load", "10..100/s", "the stand's load cells", []Field{
		{Name: "load_n", Unit: "N", Kind: Number, Min: -2000, Max: 2000, Slot: LoadN, About: "sum of the cells, tared at rest, lift +"},
	}},
	Temp: {"temp", "1..20/s", "motor temperatures", []Field{
		{Name: "temp", Unit: "degC", Kind: Number, Min: -40, Max: 250, PerMotor: true, About: "temperature of the motor"},
	}},
	Pack: {"pack", "5..50/s", "the battery pack", []Field{
		{Name: "volts", Unit: "V", Kind: Number, Max: 80, Slot: Volts, About: "voltage of the whole pack"},
		{Name: "amps", Unit: "A", Kind: Number, Min: -50, Max: 1000, Slot: Amps, About: "current out of the pack, charging is negative"},
	}},
	Air: {"air", "10..50/s", "the air about the craft", []Field{
		{Name: "pascal", Unit: "Pa", Kind: Number, Min: 30_000, Max: 120_000, Slot: Pascal, About: "static pressure"},
		{Name: "air_c", Unit: "degC", Kind: Number, Min: -100, Max: 200, Slot: AirC, About: "temperature of the air or of the pressure sensor"},
	}},
	State: {"state", "10..50/s", "what the craft is doing and what the pilot asks", []Field{
		{Name: "armed", Kind: Flag, Max: 1, Slot: Armed, About: "motors may turn"},
		{Name: "stopped", Kind: Flag, Max: 1, Slot: Stopped, About: "the stop switch is asserted"},
		{Name: "ground", Kind: Flag, Max: 1, Slot: Ground, About: "the craft believes that it is on the ground"},
		{Name: "stick_throttle", Unit: "1", Kind: Number, Max: 1, Slot: StickThrottle, About: "throttle stick, 0 is low"},
		{Name: "stick_roll", Unit: "1", Kind: Number, Min: -1, Max: 1, Slot: StickRoll, About: "roll stick, right +"},
		{Name: "stick_pitch", Unit: "1", Kind: Number, Min: -1, Max: 1, Slot: StickPitch, About: "pitch stick, nose up +"},
		{Name: "stick_yaw", Unit: "1", Kind: Number, Min: -1, Max: 1, Slot: StickYaw, About: "yaw stick, clockwise +"},
		{Name: "control_ok", Kind: Flag, Max: 1, Slot: ControlOK, About: "the control link is good"},
	}},
	Set: {"set", "at start, on change and every 10 s", "one setting of the craft", []Field{
		{Name: "setting", Kind: Word, About: "name of the setting"},
		{Name: "value", Kind: Number, Slot: SetValue, About: "its value"},
	}},
	Note: {"note", "as needed", "a word from the bridge", []Field{
		{Name: "text", Kind: Rest, About: "text to the end of the line"},
	}},
}

// String returns the tag as lines carry it, "unknown" for Unknown.
func (t Tag) String() string {
	if t == Unknown || t >= TagCount {
		return "unknown"
	}
	return formats[t].name
}

// TagNamed finds a tag by the name that lines carry.
func TagNamed(name string) (Tag, bool) {
	for t := Unknown + 1; t < TagCount; t++ {
		if formats[t].name == name {
			return t, true
		}
	}
	return Unknown, false
}

// Fields returns the fields of a tag in the line's order, a field per motor
// written out for every motor. The caller owns the slice.
func Fields(t Tag) []Field {
	if t >= TagCount {
		return nil
	}
	var out []Field
	for _, f := range formats[t].fields {
		if f.Kind >= Word {
			f.Slot = -1
		}
		if !f.PerMotor {
			out = append(out, f)
			continue
		}
		for m := range MaxMotors {
			g := f
			g.Name += "_" + strconv.Itoa(m+1)
			g.Slot = f.Slot + m
			out = append(out, g)
		}
	}
	return out
}

// FieldNamed finds a field by its name, whose number it may have behind it where
// each motor has one. No two tags have fields of one name.
func FieldNamed(name string) (Field, bool) {
	for t := Unknown + 1; t < TagCount; t++ {
		for _, f := range formats[t].fields {
			if f.Name == name || f.PerMotor && len(name) == len(f.Name)+2 && name[:len(f.Name)+1] == f.Name+"_" {
				return f, true
			}
		}
	}
	return Field{}, false
}

// Columns returns the names of a tag's fields in the line's order, motors
// numbered from 1. Unknown has none.
func Columns(t Tag) []string {
	fields := Fields(t)
	names := make([]string, len(fields))
	for i, f := range fields {
		names[i] = f.Name
	}
	return names
}

// A step is a field as the decoder walks it: what it needs and no more.
type step struct {
	min, max float64
	kind     Kind
	slot     uint8
	even     bool
	orZero   bool
	point    uint8 // the least place of a point that shortRun takes, see points
	name     string
	words    []string
}

// A plan is a tag as the decoder walks it.
type plan struct {
	key   uint64 // the tag's letters, see tagKey
	steps []step
}

var plans = makePlans()

func makePlans() (p [TagCount]plan) {
	for t := Unknown + 1; t < TagCount; t++ {
		p[t].key = tagKey([]byte(formats[t].name))
		for _, f := range Fields(t) {
			s := step{min: f.Min, max: f.Max, kind: f.Kind, even: f.Even, orZero: f.OrZero, name: f.Name, words: f.Words}
			if f.Slot >= 0 {
				s.slot = uint8(f.Slot)
			}
			if f.Unbounded() {
				s.min, s.max = -maxNumber, maxNumber
			}
			switch {
			case f.Even:
				s.point = neverPoint
			case f.Kind != Number:
				s.point = noPoint
			}
			p[t].steps = append(p[t].steps, s)
		}
	}
	return p
}

// maxTag is the most letters of a tag.
const maxTag = 8

// tagKey packs the letters of a tag into one number, the first one in the
// lowest byte.
func tagKey(b []byte) (key uint64) {
	for i, c := range b {
		key |= uint64(c) << (8 * i)
	}
	return key
}

// Tags are found by a product of their key, whose top bits differ from tag to
// tag: the first factor of a series that does so is taken at start.
const tagBits = 5

var tagFactor, tagTable = makeTags()

func makeTags() (factor uint64, table [1 << tagBits]Tag) {
next:
	for factor = 1; ; factor = factor*6364136223846793005 + 1442695040888963407 { // any full series
		table = [1 << tagBits]Tag{}
		for t := Unknown + 1; t < TagCount; t++ {
			at := &table[plans[t].key*factor>>(64-tagBits)]
			if *at != Unknown {
				continue next
			}
			*at = t
		}
		return factor, table
	}
}

// tagOf finds a tag by its key; Unknown is none of this version.
func tagOf(key uint64) Tag {
	t := tagTable[key*tagFactor>>(64-tagBits)]
	if plans[t].key != key {
		return Unknown
	}
	return t
}

// Unbounded reports whether any number may stand in the field.
func (f Field) Unbounded() bool { return f.Kind == Number && f.Min == 0 && f.Max == 0 }
