package detect

import (
	"fmt"

	"tetherbell/decode"
)

// staleSwapped: what matters comes from another port than before, and is not used yet;
// or it has just come to be. That is one happening.
const staleSwapped = staleBridge + decode.MaxBridges

const (
	// swapSeen is how long a bridge that talks must have sent none of a stream that
	// another sends, until cables seem swapped: longer than a pause that still is none.
	swapSeen = Second * 3 / 2
	// swapTalks: lines of a bridge that talks lie no further apart; it says hello once
	// a second.
	swapTalks = Second * 12 / 10
	// MovedShown is how long a bridge that is at another port, which is a moment, stays
	// up: long enough to be read.
	MovedShown = 2 * Second
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
	if d.swap.tags != 0 {
		d.swap.tags |= b.SetAside(d.swap.from, d.swap.to)
	}
	return Finding{
		Where: Link, Level: High, Value: seconds(d.swap.away), Limit: seconds(swapSeen), Case: staleSwapped,
	}, d.swap.tags != 0
}

// SetAside are the streams of a bridge, a bit each, that are as long away, or nearly,
// and come from another: where one is missed all are.
func (b *Bench) SetAside(from, to int) (tags uint32) {
	for tag := decode.Axes; tag <= decode.State; tag++ {
		s := &b.Streams[tag]
		if b.Bridges[from].Tags&(1<<tag) != 0 && s.Aside > 0 && s.AsideOf == to && b.Now-s.Aside <= swapTalks && b.Now-s.Last >= swapSeen/2 {
			tags |= 1 << tag
		}
	}
	return tags
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
	if b.Moved.From == b.Moved.To || b.Now-b.Moved.At > MovedShown {
		return Finding{}, false
	}
	level := Medium
	if b.ArmedOrUnknown() {
		level = High
	}
	return Finding{
		Where: Link, Level: level, Value: seconds(b.Moved.Silent), Limit: b.Limits.StaleSeconds, Case: staleSwapped,
	}, true
}

// Swapped is how words of swapped cables begin, and their cause.
const Swapped = "cables swapped"

// describeSwapped words what seems swapped, and is not used yet, or is now. The first
// action leads nobody to the craft: what it does is not known.
func (d *staleBridges) describeSwapped(b *Bench, f Finding, s *Story) {
	m := b.Moved
	if d.swap.tags != 0 {
		m = Move{From: d.swap.from, To: d.swap.to, Tags: d.swap.tags}
	}
	from, to, names := b.Bridges[m.From].Name, b.Bridges[m.To].Name, streamNames(m.Tags)
	s.Cause, s.Before = "the cables of two bridges were swapped", d.swap.tags == 0
	switch {
	case d.swap.tags != 0:
		s.Text = fmt.Sprintf("%s, it seems: %s come from %s now, not from %s for %.1f s, and are not used yet", Swapped, names, to, from, f.Value)
	case m.Seems:
		s.Text = fmt.Sprintf("%s, it seems: %s come from %s now, not from %s, and are used from there", Swapped, names, to, from)
	default:
		s.Text = fmt.Sprintf("%s, what %s carried is on %s now", Swapped, from, to)
		if names != "" {
			s.Text += ": " + names + ", used from there"
		}
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
