// Package sound makes alarms heard. In comes the priority that should be
// heard now, with a number that grows with every new alarm; out go bursts of
// pulses through the system's audio, or strokes of the terminal's bell where
// there is no audio, and a line that says which of the two it is. It knows
// nothing of samples, detectors or screens, so it works without a screen too.
//
// A priority has one pattern (pattern.go), synthesised once into samples
// (synth.go). The [Player] decides when a burst begins (sequence.go) and hands
// it to a voice, from which the audio device pulls whenever it wants samples
// (voice.go). A device that stops pulling is given up, the bell takes over,
// and the device is tried again every few seconds.
//
// Which audio: on Linux and the other Unix systems a PulseAudio server, which
// PipeWire offers too; on Windows and macOS the system's own output. All of it
// builds without a C compiler.
package sound
