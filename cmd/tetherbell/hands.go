package main

import (
	"cmp"
	"slices"
	"sync"
	"sync/atomic"

	"tetherbell/dashboard"
	"tetherbell/simulator"
)

// handsSeconds is how long a bench waits for its trainee: as long as a
// scenario may last.
const handsSeconds = 3600

// persons are the things in a scenario that its person does. A trainee takes
// that place; all else still happens.
var persons = map[string]bool{
	"arm": true, "disarm": true, "stop": true, "release": true,
	"throttle": true, "roll": true, "pitch": true, "yaw": true,
}

// How keys move the sticks; times are the simulated craft's. A terminal tells
// of no key that is let go, so a nudge ends by itself, and a key that is held
// comes again and again, about thirty times a second after the first quarter
// to half second (common practice, no source).
const (
	throttleSteps = 50      // from zero to full
	stepOver      = 0.05    // s that the stick takes for a step
	stepGapUS     = 80_000  // upward steps come no closer: a key that is held takes four seconds to full
	nudge         = 0.06    // of full stick: 12 deg/s in most scenarios
	nudgeOver     = 0.05    // s, there and back
	nudgeUS       = 350_000 // until it springs back
	switchGapUS   = 700_000 // a switch key that is held, or hit in haste, does not turn back what it did
	sayUS         = 4_000_000
	movesHeld     = 32 // far more than a person presses while the bench computes one slice
)

// A trainee is a person at a simulated bench: keys on one side, the lines of
// the craft on the other.
type trainee struct {
	bench *simulator.Bench

	mu    sync.Mutex
	moves []dashboard.Hand // pressed, and not yet done

	seen atomic.Pointer[dashboard.Hands]

	// The rest belongs to whoever calls Next.
	doing  []dashboard.Hand // scratch
	now    int64            // us
	steps  int              // where the throttle goes
	raised int64            // when it last went up
	back   [3]int64         // when roll, pitch and yaw spring back; 0: centred
	armKey int64            // when the key was last pressed
	stop   int64            // the same
	say    string
	saidAt int64
}

// newTrainee puts a person at a bench whose throttle stick stands somewhere.
func newTrainee(b *simulator.Bench, stick float64) *trainee {
	t := &trainee{bench: b, raised: -stepGapUS, armKey: -switchGapUS, stop: -switchGapUS}
	if stick > 0 {
		t.throttle(int(stick*throttleSteps+0.5), 0)
	}
	t.show()
	return t
}

// stickAtArming is how high the throttle stick stands when a scenario's person
// arms: a trainee finds it there.
func stickAtArming(events []simulator.Event) float64 {
	at, most := 0.0, 0.0
	for _, e := range slices.SortedStableFunc(slices.Values(events), func(a, b simulator.Event) int { return cmp.Compare(a.At, b.At) }) {
		switch e.Do {
		case "throttle":
			at = e.To
		case "arm":
			most = max(most, at)
		}
	}
	return most
}

// move takes a key from any goroutine. It waits for nobody; what finds no
// room is dropped, but never a stop.
func (t *trainee) move(h dashboard.Hand) {
	t.mu.Lock()
	defer t.mu.Unlock()
	switch {
	case len(t.moves) < movesHeld:
		t.moves = append(t.moves, h)
	case h == dashboard.HandStop:
		t.moves[movesHeld-1] = h
	}
}

// hands tells where the hand is, to any goroutine.
func (t *trainee) hands() *dashboard.Hands { return t.seen.Load() }

// Next lets the hand act and gives the lines of the next few milliseconds.
func (t *trainee) Next(dst []byte) (out []byte, untilUS int64, done bool) {
	t.mu.Lock()
	t.doing = append(t.doing[:0], t.moves...)
	t.moves = t.moves[:0]
	t.mu.Unlock()
	for _, h := range t.doing {
		t.do(h)
	}
	for k, at := range t.back {
		if at > 0 && t.now >= at {
			t.back[k] = 0
			t.stick(k, 0)
		}
	}
	if t.now >= t.saidAt+sayUS {
		t.say = ""
	}
	out, t.now, done = t.bench.Next(dst)
	t.show()
	return out, t.now, done
}

// do carries out one move.
func (t *trainee) do(h dashboard.Hand) {
	t.say = ""
	switch h {
	case dashboard.HandStop:
		t.pressStop()
	case dashboard.HandArm:
		t.pressArm()
	case dashboard.ThrottleUp:
		if t.now-t.raised >= stepGapUS {
			t.raised = t.now
			t.throttle(min(t.steps+1, throttleSteps), stepOver)
		}
	case dashboard.ThrottleDown:
		t.throttle(max(t.steps-1, 0), stepOver)
	case dashboard.ThrottleZero:
		t.throttle(0, stepOver)
	default:
		way := int(h - dashboard.RollLeft) // roll, pitch, yaw; the negative of each pair first
		to := nudge
		if way%2 == 0 {
			to = -nudge
		}
		t.stick(way/2, to)
		t.back[way/2] = t.now + nudgeUS
	}
}

// pressStop presses the stop switch at once, with the stick at zero as a hand
// leaves it. It is let go only by a calm key at a disarmed craft: hammering at
// the key in fright must never start a motor again.
func (t *trainee) pressStop() {
	calm := t.now-t.stop >= switchGapUS
	t.stop = t.now
	switch s := t.bench.Truth(); {
	case s.Stopped && s.Armed:
		t.refuse("STOP stays: disarm first, with r")
	case s.Stopped && !calm:
	case s.Stopped:
		t.act(simulator.Event{Do: "release"})
	default:
		t.act(simulator.Event{Do: "stop"})
		t.throttle(0, 0)
	}
}

// pressArm disarms at once. It arms whatever the stick says, as a craft may:
// to look at the stick first is the trainee's to learn.
func (t *trainee) pressArm() {
	calm := t.now-t.armKey >= switchGapUS
	t.armKey = t.now
	switch s := t.bench.Truth(); {
	case s.Armed:
		t.act(simulator.Event{Do: "disarm"})
	case s.Stopped:
		t.refuse("STOP is pressed: Space lets it go")
	case calm:
		t.act(simulator.Event{Do: "arm"})
	}
}

func (t *trainee) throttle(steps int, over float64) {
	t.steps = steps
	t.act(simulator.Event{Do: "throttle", To: float64(steps) / throttleSteps, Over: over})
}

func (t *trainee) stick(k int, to float64) {
	t.act(simulator.Event{Do: [3]string{"roll", "pitch", "yaw"}[k], To: to, Over: nudgeOver})
}

func (t *trainee) act(e simulator.Event) {
	if err := t.bench.Act(e); err != nil {
		t.refuse(err.Error())
	}
}

func (t *trainee) refuse(why string) { t.say, t.saidAt = why, t.now }

// show lets others see where the hand is.
func (t *trainee) show() {
	at, truth := t.bench.Sticks(), t.bench.Truth()
	h := dashboard.Hands{Throttle: at[0], Roll: at[1], Pitch: at[2], Yaw: at[3],
		Armed: truth.Armed, Stopped: truth.Stopped, Say: t.say}
	if last := t.seen.Load(); last == nil || *last != h {
		t.seen.Store(&h)
	}
}
