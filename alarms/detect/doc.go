// Package detect turns what the bench shows into findings: one condition, one
// file. Samples on the engine's clock come in through [Bench] and [Input];
// findings, and the words for a person, go out. It knows nothing of how alarms
// live (raised, latched, acknowledged), of screens, sound, ports or files.
//
// # Rising oscillation
//
// A rate loop whose gain is too high grows an oscillation out of noise. The
// detector listens to each axis' controller output and measured rate.
//
//  1. Time. Samples are put on an even grid by their own time stamps: each
//     grid frame is the mean, over its cell, of the straight lines between
//     samples (osc_grid.go). Jitter and lost lines are thus handled by the
//     stamps; the price is a droop of sinc(f/grid) sinc^2(f/stream) of the
//     amplitude, which is undone. Holes longer than a quarter of a second drop
//     everything. A pyramid of half-band filters gives slower grids for longer
//     windows.
//  2. Demand. What the pilot asks for is taken out: the answer of output and
//     rate to the demand is learned while the sticks move (Laguerre functions,
//     least squares; osc_demand.go) and subtracted. What the model may be wrong
//     by counts as doubt against the tone.
//  3. Tone. Windows of 0.2 to 3.2 s look side by side. The peak of a Hann
//     spectrum starts a least-squares fit of a growing sinusoid, which gives
//     frequency, amplitude and growth with their standard errors (package
//     tone).
//  4. Tests (osc_weigh.go). Growth must stand five standard errors over none,
//     explain three quarters of the power near it, stand out of the usual power
//     of its bin, rise through the window's quarters as an exponential does
//     (knocks, steps and beats do not), and swing in output and rate with a
//     steady phase; three looks in a row. Near the limit less is asked for. A
//     steady tone over the limit is heard whatever its growth.
//  5. Rotors (osc_lines.go). Where a rotor line or its fold lies, a small tone
//     must be past doubt, and must not move with the rotors. Without reported
//     speeds a tone over 15 Hz must not move with the outputs.
//  6. Priority. High within two seconds of the limit or over it, else medium;
//     in the second and a half after lift-off, landing or a jump of thrust not
//     more than medium, since healthy craft rock on their feet then.
//
// A stream shows oscillations up to a quarter of its pace; what lies above is
// said to be not watched.
//
// # Low margin
//
// A loop that is stable, but not by much, rings on whatever noise there is, and
// the ringing's width tells its damping. The detector (margin*.go) looks at the
// newest 500 cycles of each octave from 2 to 60 Hz, 10 to 30 s.
//
//  1. Candidate. A mean spectrum of short segments shows what stands over its
//     neighbourhood.
//  2. Fit. The complex envelope about it is a damped rotation driven by white
//     noise, plus a white floor. A Kalman filter gives the likelihood, holes and
//     all, and what the envelope's own window does is part of the model: maximum
//     likelihood then gives frequency, damping ratio and power, the curvature
//     there the standard error.
//  3. Tests. Damping under 0.05 with 95 % confidence, 2 % of the limit of
//     oscillation in rms, and nothing else to explain it: no growth, no demand
//     that moves with it, no steady amplitude (a line, a limit cycle; ringing has
//     a Rayleigh envelope), no bursts, several looks in a row.
//  4. Rotors. Where a line or its fold lies, the envelope is turned back by the
//     rotor's own wandering: a line comes to rest by that, ringing loses its
//     memory. Where speeds are not reported or too steady, the envelope must
//     fluctuate as ringing does, and not move with that of another axis.
package detect
