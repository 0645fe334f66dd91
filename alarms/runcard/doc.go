// Package runcard is the guided run: a card of steps for a spin-up, and the
// judge of how far it has got.
//
// In comes a card (TOML, see Parse) and what the engine's bench shows at each of
// its judgements; out go the steps with their state, what was measured and
// when, and news of each change. What only a person can see is ticked by one.
// What telemetry shows is passed by evidence alone, so that nobody has to touch
// a key while the craft is armed. What was told counts while it is fresh, and in
// several lines (see fresh.go). A tick is taken only while nothing is known to
// turn, and, where it says that hands were at the craft, while nothing tells that it
// may start (see hands.go). Where a bench lacks what a step needs, the step says so,
// lets the next one begin, and waits for a person's tick after disarming: nothing
// passes in silence, nothing stands in the way of an armed craft. A step that fails
// holds the card until it is done again or left out.
//
// A Run is an alarms.Watcher: it looks on the engine's own grid and reads no
// clock, so what it concludes depends on lines, ticks of the host's clock and
// acts of the person alone. A recording holds all three:
//
//   - the card itself, as text, in the header (no file is opened in a replay);
//   - each act as a mark of a fixed grammar: "card tick ID", "card no ID", "card
//     skip ID", "card again ID". A replay feeds them back;
//   - what came of it, as marks for people to read: "card begin NAME", "card
//     passed ID: what was measured", "card failed ID: why; what to do", "card
//     by-eye ID: what is missing", "card note: ..." and "card end: CARD PASSED:
//     ...". A replay works these out anew and takes them for nothing.
//
// It knows nothing of screens, sounds, files or ports.
package runcard
