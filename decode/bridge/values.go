package bridge

import (
	"fmt"
	"math"
	"time"

	"tetherbell/decode"
)

// noneBits is a quiet NaN (IEEE 754) that no arithmetic makes by itself.
const noneBits = 0x7FF8_0000_B01D_FACE

// None is a number that was not measured: it goes out as an empty field, and
// the host calls the value unknown. Any other number that is not finite, or
// lies outside the protocol's range, goes out as one too and is counted.
func None() float64 { return math.Float64frombits(noneBits) }

// isNone tells None from a NaN that came of somebody's arithmetic.
func isNone(v float64) bool { return math.Float64bits(v) == noneBits }

// A Flag is yes, no, or (its zero value) not known.
type Flag uint8

// The flags.
const (
	NotKnown Flag = iota
	No
	Yes
)

// FlagOf returns Yes or No.
func FlagOf(b bool) Flag {
	if b {
		return Yes
	}
	return No
}

// Craft is what stands on the bench; 0 and "" where the bridge does not know.
type Craft struct {
	Name        string
	Layout      string // quad-x, quad-plus, hex-x, octo-x, tri, custom
	Motors      int
	MagnetPoles int // of one motor, not pole pairs
	Blades      int
	PropellerMM float64 // diameter
	MassG       float64 // ready to take off
	Cells       int     // of the pack, in series
}

// Axes holds roll, pitch, yaw of ONE control step.
type Axes struct {
	Rate     [3]float64 // measured, deg/s
	Demand   [3]float64 // deg/s
	Control  [3]float64 // output of the rate controller, -1..1
	Throttle float64    // collective, 0..1
}

// State is what the craft does and what the pilot asks.
type State struct {
	Armed, Stopped, Ground          Flag
	StickThrottle                   float64 // 0..1
	StickRoll, StickPitch, StickYaw float64 // -1..1
	ControlOK                       Flag
}

// put sets the numeric field i where v was measured, in the field's steps.
func (w *Writer) put(i int, v float64) {
	if isNone(v) {
		return
	}
	w.sample.Put(i, limits[w.sample.Tag][i].round(v))
}

func (w *Writer) putFlag(i int, f Flag) {
	switch f {
	case NotKnown:
	case No:
		w.sample.Put(i, 0)
	default:
		w.sample.Put(i, 1)
	}
}

// numbers sends a line that holds nothing but numbers.
func (w *Writer) numbers(tag decode.Tag, at time.Duration, values ...float64) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.numbersLocked(tag, at, values)
}

func (w *Writer) numbersLocked(tag decode.Tag, at time.Duration, values []float64) error {
	repeated := w.repeatLocked()
	w.beginLocked(tag, at)
	for i, v := range values {
		w.put(i, v)
	}
	return first(w.sendLocked(), repeated)
}

// first returns the first error: a method tells of its own line before it tells
// of what was repeated beside it.
func first(own, repeated error) error {
	if own != nil {
		return own
	}
	return repeated
}

// Axes sends rates, demands, rate-controller outputs and throttle. 50/s is the
// least, 200/s a good aim.
func (w *Writer) Axes(at time.Duration, a *Axes) error {
	return w.numbers(decode.Axes, at, a.Rate[0], a.Rate[1], a.Rate[2], a.Demand[0], a.Demand[1], a.Demand[2],
		a.Control[0], a.Control[1], a.Control[2], a.Throttle)
}

// Out sends what each motor is told, 0..1, m1 first.
func (w *Writer) Out(at time.Duration, motors []float64) error {
	return w.motors(decode.Out, at, motors)
}

// ERPM sends the electrical speed of each motor in turns a minute, m1 first.
func (w *Writer) ERPM(at time.Duration, motors []float64) error {
	return w.motors(decode.ERPM, at, motors)
}

// Temp sends the temperature of each motor in degrees Celsius, m1 first.
func (w *Writer) Temp(at time.Duration, motors []float64) error {
	return w.motors(decode.Temp, at, motors)
}

func (w *Writer) motors(tag decode.Tag, at time.Duration, values []float64) error {
	if len(values) > decode.MaxMotors {
		return fmt.Errorf("send %s of %d motors: %w", tag, len(values), ErrRefused)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.numbersLocked(tag, at, values)
}

// Accel sends the specific force, m/s^2: x forward, y right, z down; at rest 0,
// 0, -9.81.
func (w *Writer) Accel(at time.Duration, x, y, z float64) error {
	return w.numbers(decode.Accel, at, x, y, z)
}

// Load sends the lift on the stand in newtons, tared at rest, up is positive.
func (w *Writer) Load(at time.Duration, newtons float64) error {
	return w.numbers(decode.Load, at, newtons)
}

// Pack sends the voltage of the whole pack and the current out of it.
func (w *Writer) Pack(at time.Duration, volts, amps float64) error {
	return w.numbers(decode.Pack, at, volts, amps)
}

// Air sends pascal and degrees Celsius.
func (w *Writer) Air(at time.Duration, pascal, degrees float64) error {
	return w.numbers(decode.Air, at, pascal, degrees)
}

// State sends what the craft does: at a steady pace, and at once when it
// changes.
func (w *Writer) State(at time.Duration, s *State) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	repeated := w.repeatLocked()
	w.beginLocked(decode.State, at)
	w.putFlag(decode.Armed, s.Armed)
	w.putFlag(decode.Stopped, s.Stopped)
	w.putFlag(decode.Ground, s.Ground)
	w.put(decode.StickThrottle, s.StickThrottle)
	w.put(decode.StickRoll, s.StickRoll)
	w.put(decode.StickPitch, s.StickPitch)
	w.put(decode.StickYaw, s.StickYaw)
	w.putFlag(decode.ControlOK, s.ControlOK)
	return first(w.sendLocked(), repeated)
}
