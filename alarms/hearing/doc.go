// Package hearing measures how early, how surely and how falsely a rising
// oscillation is heard: by the engine, and by three published detectors on the
// same signals. Its generator is its own and knows nothing of any detector:
// each axis is a closed rate loop whose gain is set so that one pole pair grows
// exactly as asked, so noise, sticks, knocks and rotor lines all pass through
// the loop, and the truth (the amplitude of that pole pair in the controller
// output) is a projection of the loop's state, not a guess.
//
// All of the benches are invented for the measurement.
package hearing
