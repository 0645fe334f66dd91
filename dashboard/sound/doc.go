// Package sound makes alarms heard. In comes the priority that should be
// heard now, with a number that grows with every new alarm; out go bursts of
// pulses through the system's audio, or strokes of the terminal's bell where
// there is no audio, and a [State] that says which of the two it is. It knows
// nothing of samples, detectors or screens, so it works without a screen too.
//
// A priority has one pattern (pattern.go), synthesised once into samples
// (synth.go). The [Player] decides when a burst begins (sequence.go) and hands
// it to a voice, from which the audio device pulls whenever it wants samples
// (voice.go). A device that stops pulling is given up, the bell takes over,
// and the device is tried again every few seconds.
//
// Propellers mask a tone that lies on their lines. Each priority has a few
// pitches of its own (pitch.go); told the rotors' speeds, the player takes for
// each burst the one that stands out best from a model of their noise, and
// keeps it while the alarm repeats unless another gains much (masking.go).
//
// Under the alarms, softer and by audio alone: a tick that grows with an
// oscillation, a life sign while data come (under.go), and a chime for steps
// of a procedure (chime.go). They pause under a burst; a chime is not played
// beside an alarm at all. Words come from a speech program of the system
// (program.go, speech.go), after the tones and never in their place, until
// every alarm was named (naming.go).
//
// Which audio: on Linux and the other Unix systems a PulseAudio server, which
// PipeWire offers too; on Windows and macOS the system's own output. All of it
// builds without a C compiler.
package sound
