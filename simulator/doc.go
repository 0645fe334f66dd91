// Package simulator is the stand-in for a craft on its bench and the bridge
// beside it: a scenario and a seed come in, the lines of the bridge protocol
// go out, at an even simulated pace that the caller may follow or outrun.
//
// Nothing is drawn: rotors follow their outputs with a lag, the air they move
// pushes a rigid body that stands on soft pads under a slack tether (or on a
// stand, or free), a rate controller with a delay reads a noisy gyro and
// answers, and what it answers is what the lines carry. Gains that are too high
// make it shake for the same reason as on a real bench, and lower ones cure it.
//
// One millisecond is one tick of the controller and two steps of craft and
// rotors, in this order: happen.go (what the person does), control.go with
// notch.go (gyro and sticks to outputs, through the mixer of layout.go), motor.go
// with propeller.go and air.go (outputs to thrust, torque, current, heat),
// pack.go, body.go with attitude.go (forces to motion, with pads, lines and
// ground), sense.go with vibration.go (motion to sensors), bridge.go with
// measure.go (sensors to lines). watch.go tells tests the truth.
//
// It knows nothing of ports, clocks of the host, windows or alarms.
//
// # The same seed, the same bytes
//
// The clock counts whole microseconds, chance comes from seeded generators,
// one for each use, and no map is walked. Floating-point results do not
// depend on the processor: see exact.go.
//
// # Scenarios
//
// A scenario is a TOML text; scenarios/README.md describes it. List and Load
// give the built-in ones, Parse reads others.
package simulator
