package detect

import (
	"fmt"

	"tetherbell/decode"
)

// The happenings of swapped cables.
const (
	staleSwapped = staleBridge + decode.MaxBridges // what matters comes from another bridge than before, and is not used
	staleMoved   = staleSwapped + 1                // a bridge is at another port, and its lines are used there
)

const (
	// swapSeen is how long a bridge that talks must have sent none of a stream that
	// another sends, until cables seem swapped: longer than a pause that still is none.
	swapSeen = Second * 3 / 2
	// swapTalks: lines of a bridge that talks lie no further apart; it says hello once
	// a second.
	swapTalks = Second * 12 / 10
	// movedShown is how long a bridge that is at another port, which is a moment, stays
	// up: long enough to be read.
	movedShown = 2 * Second
)

// swapped finds vital streams whose lines are set aside while the bridge that they
// are taken from talks and sends none of them, as where two cables were swapped. That
// the craft was disarmed is not known any more then: it is high whatever it said.
func (d *staleBridges) swapped(b *Bench) (Finding, bool) {
	d.swap = swap{}
	for i := range b.Bridges {
		br := &b.Bridges[i]
		if br.Silent > swapTalks {
			continue
		}
		for tag := decode.Axes; tag <= decode.State; tag++ {
			s := &b.Streams[tag]
			if br.Tags&(1<<tag) == 0 || !Vital(tag) || s.Aside == 0 || s.AsideOf == i {
				continue
			}
			if away := b.Now - max(s.Last, d.paused[i]); away >= swapSeen && b.Now-s.Aside <= swapTalks {
				d.swap.from, d.swap.to, d.swap.away = i, s.AsideOf, max(d.swap.away, away)
				d.swap.tags |= 1 << tag
			}
		}
	}
	return Finding{
		Where: Link, Level: High, Value: seconds(d.swap.away), Limit: seconds(swapSeen), Case: staleSwapped,
	}, d.swap.tags != 0
}

// A swap is what seems swapped: the streams, a bit each, which bridge they came from,
// and which sends them now.
type swap struct {
	tags     uint32
	from, to int
	away     int64
}

// moved finds a bridge that is at another port than before.
func (d *staleBridges) moved(b *Bench) (Finding, bool) {
	if b.Moved.From == b.Moved.To || b.Now-b.Moved.At > movedShown {
		return Finding{}, false
	}
	level := Medium
	if b.ArmedOrUnknown() {
		level = High
	}
	return Finding{
		Where: Link, Level: level, Value: seconds(b.Now - b.Moved.At), Limit: 0, Case: staleMoved,
	}, true
}

// Swapped is how words of swapped cables begin, and their cause.
const Swapped = "cables swapped"

// describeSwapped words what seems swapped, and is not used yet. The first action
// leads nobody to the craft: what it does is not known.
func (d *staleBridges) describeSwapped(b *Bench, f Finding, s *Story) {
	from, to := b.Bridges[d.swap.from].Name, b.Bridges[d.swap.to].Name
	names := streamNames(d.swap.tags)
	s.Cause = "the cables of two bridges were swapped"
	s.Text = fmt.Sprintf("%s, it seems: %s come from %s now, not from %s for %.1f s, and are not used yet", Swapped, names, to, from, f.Value)
	s.Action = swappedAction(b)
	s.More = append(s.More, Fact{"streams", names}, Fact{"bridge", to})
}

// describeMoved words which bridge is where. Its lines are used.
func describeMoved(b *Bench, s *Story) {
	m := &b.Moved
	from, to, names := b.Bridges[m.From].Name, b.Bridges[m.To].Name, streamNames(m.Tags)
	s.Cause = "the cables of two bridges were swapped"
	s.Text = fmt.Sprintf("%s, what %s carried is on %s now", Swapped, from, to)
	if names != "" {
		s.Text += ": " + names + ", used from there"
	}
	s.Action = swappedAction(b)
	s.More = append(s.More, Fact{"streams", names}, Fact{"bridge", to})
}

// swappedAction: whoever swaps cables stands at the bench.
func swappedAction(b *Bench) string {
	if b.LastArmed == No {
		return "do not arm; look at both cables"
	}
	return "cut throttle and disarm; look at both cables"
}
