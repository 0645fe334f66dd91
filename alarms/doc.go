// Package alarms is the engine: samples and ticks of the host's clock go in,
// alarm events and snapshots come out. It knows nothing of ports, files,
// screens or sound, starts no goroutine and never reads a clock: what it says
// depends on its inputs and their order alone, so that a recording replayed
// says what was said on the day.
//
// # Time
//
// Engine time counts microseconds from the first good line. It follows the
// bridge's clock; where the bridge is silent it goes on with the host's,
// which enters by [Engine.Tick] only. The arrival of a line is no input. The
// host time of a line is therefore known to within one tick, and silence is
// counted from the first tick after the last good line: it is proven, never
// presumed. Engine time never goes back and runs on over a restart of the
// bridge.
//
// # Judging
//
// Every sample brings the bench (what is known now) up to date and is shown
// to each detector. Detectors judge on a grid of 10 ms of engine time, or at
// the first sample or tick after it. Their findings feed the life of the
// alarms: raised, worsened, eased, cleared, acknowledged.
package alarms
