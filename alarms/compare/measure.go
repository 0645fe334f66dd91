package compare

import "math"

// Places of the measures in a block.
const (
	controlAll = iota
	controlRoll
	controlPitch
	controlYaw
	rateAll
	rateRoll
	ratePitch
	rateYaw
	vibration
	balance
	heat
	efficiency
	current
	cellVolts
	measureCount
)

// A sense says which way a measure gets better.
type sense int8

const (
	lessIsBetter sense = -1
	noSense      sense = 0 // told, and no part of a verdict
	moreIsBetter sense = +1
)

// A measure is one thing that two sessions are compared by.
type measure struct {
	key   string // as programs read it
	name  string // as a person does
	unit  string
	sense sense
	// log: compared by the ratio, as its logarithm, which makes the spread of
	// a root mean square the same at every level. Else by the difference.
	log bool
	// tiny is the least value of a logarithm: half of the last digit that the
	// lines carry, or so.
	tiny float64
	// least is the smallest difference that matters: of the logarithm, else in
	// the measure's unit.
	least float64
	// floor is what a value must change by besides, in its unit, for a ratio to
	// matter: twice next to nothing is next to nothing.
	floor float64
	// runs is the standard deviation from one run to the next of the same craft,
	// at the same settings, beyond what the blocks of one run show: of the
	// logarithm, else in the measure's unit. From the simulator, see doc.go.
	runs float64
	// level: the measure goes at most by this power of the throttle, so that a
	// difference in throttle between two stages may explain so much of theirs.
	level float64
	idle  bool // compared at armed idle too
	aged  bool // depends on how long the throttle has stood: only the same stretch of it is compared
	// rises: its values are rises from one block to the next, in which what
	// one gains by noise the next one loses.
	rises bool
	needs string
}

// measures lists them all. Smallest differences that matter are common
// practice with no source: a tenth is what a careful step of a gain makes.
var measures = [measureCount]measure{
	controlAll:   control("control", "oscillation in controller output", 0.05),
	controlRoll:  control("control_roll", "oscillation in roll output", 0.07),
	controlPitch: control("control_pitch", "oscillation in pitch output", 0.07),
	controlYaw:   control("control_yaw", "oscillation in yaw output", 0.16),
	rateAll:      rate("rate", "shaking of the craft", 0.09),
	rateRoll:     rate("rate_roll", "shaking in roll", 0.1),
	ratePitch:    rate("rate_pitch", "shaking in pitch", 0.1),
	rateYaw:      rate("rate_yaw", "shaking in yaw", 0.17),
	vibration:    {key: "vibration", name: "vibration", unit: "m/s^2", sense: lessIsBetter, log: true, tiny: 0.01, least: math.Log(1.1), floor: 0.05, runs: 0.05, level: 2, idle: true, needs: "accel"},
	balance:      {key: "balance", name: "outputs apart", unit: "1", sense: lessIsBetter, least: 0.03, runs: 0.016, level: 1, aged: true, needs: "out"},
	heat:         {key: "heat", name: "warming of the hottest motor", unit: "degC/s", sense: lessIsBetter, least: 0.1, runs: 0.05, level: 2, aged: true, rises: true, needs: "temp"},
	efficiency:   {key: "efficiency", name: "lift for the power", unit: "N/W", sense: moreIsBetter, log: true, tiny: 1e-4, least: math.Log(1.1), floor: 0.002, runs: 0.02, level: 1, needs: "load and pack"},
	current:      {key: "current", name: "current", unit: "A", sense: noSense, log: true, tiny: 0.01, least: math.Log(1.1), floor: 0.1, runs: 0.02, level: 3, needs: "pack"},
	cellVolts:    {key: "cell_volts", name: "volts a cell under load", unit: "V", sense: noSense, log: true, tiny: 0.1, least: math.Log(1.02), floor: 0.05, runs: 0.01, level: 0.2, needs: "pack"},
}

// control is the oscillation in a controller output.
func control(key, name string, runs float64) measure {
	return measure{key: key, name: name, unit: "1", sense: lessIsBetter, log: true, tiny: 0.00003,
		least: math.Log(1.1), floor: 0.0003, runs: runs, level: 2, idle: true, needs: "axes"}
}

// rate is the same in a body rate.
func rate(key, name string, runs float64) measure {
	return measure{key: key, name: name, unit: "deg/s", sense: lessIsBetter, log: true, tiny: 0.03,
		least: math.Log(1.1), floor: 0.1, runs: runs, level: 2, idle: true, needs: "axes"}
}

// onScale brings a value to the scale on which it is compared.
func (m *measure) onScale(v float64) float64 {
	if m.log {
		return math.Log(max(v, m.tiny))
	}
	return v
}

// offScale brings it back.
func (m *measure) offScale(v float64) float64 {
	if m.log {
		return math.Exp(v)
	}
	return v
}
