// Package detect turns what the bench shows into findings: one condition, one
// file. Samples on the engine's clock come in through [Bench] and [Input];
// findings, and the words for a person, go out. It knows nothing of how alarms
// live (raised, latched, acknowledged), of screens, sound, ports or files.
//
// # Rising oscillation
//
// A rate loop whose gain is too high grows an oscillation out of noise. The
// detector listens to each axis' controller output and measured rate. Package
// alarms/hearing measures what it reaches; its README holds the figures.
//
//  1. Time (osc_grid.go). Samples are put on an even grid by their own time
//     stamps: each grid frame is the mean, over its cell, of the straight lines
//     between samples. Jitter and lost lines are thus handled by the stamps.
//     The price is a droop of sinc(f/grid) sinc^2(f/stream) of the amplitude,
//     which is undone: 5 % at ten lines a cycle, 27 % at four, where noise is
//     lifted with the tone. Holes longer than 0.3 s drop everything; where
//     shorter ones keep windows from filling, that part of the band is said to
//     be not watched. A pyramid of half-band filters gives slower grids for
//     longer windows.
//  2. Demand (osc_demand.go). What the pilot asks for is taken out: the answer
//     of output and rate to the demand is learned while the sticks move
//     (Laguerre functions, least squares) and subtracted. What the model may be
//     wrong by counts as doubt against the tone. Nothing is learned while an
//     oscillation is seen, which would be taken for an answer, or while the
//     stick rests. A window over which the stick rested, and the second before,
//     is judged as it is: in a mode that holds an attitude the demand is the
//     craft's own feedback, and an attitude loop that swings up would explain
//     itself away (osc_hand.go). Where the stick is not measured every demand
//     counts as the pilot's.
//  3. Tone (osc_window.go, osc_band.go). Windows of 0.14 to 3.2 s, a factor of
//     root two apart, look side by side, each in bands an octave wide, eight
//     times a window and ten times a second at least. The peak of a Hann
//     spectrum starts a least-squares fit of a growing sinusoid, which gives
//     frequency, amplitude and growth with their standard errors (package
//     tone; they lie within 6 % of the Cramer-Rao bound in variance).
//  4. Noise (learnBase). The usual power of every bin is learned from arming on,
//     with a memory of 15 s. It rises by a fifth a second at most, in power: a
//     tone that grows by 0.1 a second in amplitude or more leaves it behind,
//     even one that was there from the first second. It is the second witness
//     of the noise about a tone, and tells what is new.
//  5. Evidence (osc_evidence.go, osc_weigh.go), below.
//  6. Outlook (osc_forecast.go, tone.Grower). Noise that drives a loop near its
//     margin makes swells that a fit takes for growth. So the growth is asked for
//     again from the newest cycles, as a state that noise drives and that is
//     seen with noise, both unknown: a Kalman likelihood summed over a grid. It
//     must be ten times likelier that the tone grows than that it would die
//     away. The same sum gives the time to the limit with its 90 % interval.
//  7. Rotors (osc_lines.go). Where a rotor line or its fold lies, a small tone
//     must be past doubt, and must not move with the rotors. Without reported
//     speeds a tone over 15 Hz must not move with the outputs.
//  8. Priority. High within two seconds of the limit, by the middle of the
//     forecast, or over it, else medium; under 40 % of the limit it must be a
//     hundred times likelier that it grows. In the second and a half after lift-off,
//     landing or a jump of thrust not more than medium, since healthy craft rock
//     on their feet then, unless it was high before, or swings at more than 10 Hz
//     and twice the limit. What no longer grows and lies under half the limit is
//     low.
//  9. Slow streams. From four lines a cycle to two, and for what folds there, a
//     window of its own sees the level alone: over the limit it rings, with the
//     word that the frequency may be a fold (newFastWindow).
//
// # Where the thresholds come from
//
// From the false alarms that are allowed. Growth over its standard error, z, is
// the likelihood-ratio statistic of growth against none. Looks that follow each
// other without overlap add their log-likelihood ratios, z^2/2 each, in Page's
// cumulative sum (E. S. Page, Biometrika 41, 1954, 100-115; from memory), and a
// sum must reach the logarithm of the number of independent looks in 500 armed
// hours: three axes, 24 bands, one look a window, 2.5e8 looks, so 19.3, or six
// standard errors in one look. Where the tone's power stands r times over the
// usual, noise alone does that in exp(-r) of the looks, which counts towards the
// sum, up to r = 7; five standard errors (12.5) are asked for whatever r.
//
// From noise of equal power in the cells about a tone. One of n cells holds the
// share s of their power or more by chance in n (1-s)^(n-1) of the looks, s over
// one half (R. A. Fisher, Proc. Royal Society A 125, 1929, 54-59; from memory).
// Six resolution cells to each side are eight independent ones of a Hann
// window: 0.75 happens in 5e-4 of the looks, 0.85 in 1e-5, and 0.65, which is
// enough near the limit, in 5e-3.
//
// From the shape of an exponential. Its logarithm rises by a third of the whole
// in the last of three steps between the window's quarters; a beat of two
// rotors, |sin|, by less than a fifth; a knock falls. The bar is 0.25, less one
// and a half errors.
//
// From the phase between output and rate in the four quarters. Four random
// phases have a resultant of 0.85 or more once in twenty (Rayleigh's test,
// exp(-n R^2)); a tone that is in both has over 0.95.
//
// From the limit and the time that is left. Under 4 % of the limit no growth of
// a rate loop is a danger within a second. From 40 % on a growth of 5 a second
// leaves 0.18 s: three and a half standard errors are enough; from 70 % on
// 0.07 s: two and a half, in one look. A new tone at half of the limit that does
// not fall rings in two looks, whatever its growth; one that was there all along,
// and so counts as usual, rings from 40 % on when it grows by five of the
// standard errors that the noise beside it makes.
//
// From the test's own reach. Growth beyond half a cycle's worth a cycle is
// nothing cyclic but a knock, and tip-over's; near the limit up to a cycle's
// worth is believed where it is spread over the window, as of a loop that a
// stick kicks on its way up. A window holds three cycles at
// least, the stream four lines a cycle: what lies above is said to be not
// watched.
//
// # Low margin
//
// A stable loop near its margin rings on noise (margin_*.go). That is a verdict
// on the gains, not growth, and rings low. Octave by octave the strongest peak of
// an averaged spectrum is a candidate; its complex envelope over the newest 500
// cycles, 10 to 30 s, is a damped rotation that white noise drives, plus a white
// floor. A Kalman filter gives its likelihood, holes and all, and the greatest
// likelihood the damping ratio with its standard error. It must be under 0.05 at
// 95 % on one side (Wilks' ratio), stand there over a floor without resonance,
// neither rise nor go by, not be asked for by the demand, and not be a rotor's
// line: that has a steady envelope where ringing has a Rayleigh one, follows the
// reported speed, and shakes several axes in one rhythm. What has no damping at
// all is a limit cycle and not told here.
//
// # What nobody can hear early
//
// A growth of 5 a second at 2 Hz, or of 10 at 5 Hz, passes from 0.02 to 0.10
// within a cycle: no estimate of growth has time for that. It rings once three
// cycles have been over the limit, and tip-over watches such craft. Sticks and
// drift move the amplitude as well: with growth and amplitude known exactly, one
// second before the limit, the forecast would be within a quarter in about 95 of
// 100 disturbed runs. A second steady tone of a third of the limit or more, up to
// some 8 Hz away in the same axis, may hide a growing one until it is over the
// limit. A loop at nine tenths of the gain that would make it oscillate swells so
// far out of the noise as the throttle rises that it may ring: it is near enough
// to swing for good.
package detect
