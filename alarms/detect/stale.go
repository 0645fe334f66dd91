package detect

import (
	"fmt"
	"strings"

	"tetherbell/decode"
)

// The happenings of stale-link.
const (
	staleSilence uint8 = iota // no good line at all
	staleRestart              // the bridge started anew
	staleStream               // one stream stays away; each further one is another happening
)

// staleForget: a stream that comes and goes within this time is one happening
// (common practice, no source).
const staleForget = 5 * Second

// staleJoin: streams that stay away within this time of the first are of one
// happening, whose words grow. They fell silent together, and each is missed by
// its own pace: five periods of the slowest of the quick ones, ten a second, and
// as much again (common practice, no source).
const staleJoin = 1 * Second

// staleTurns is how many happenings of streams are told apart.
const staleTurns = 200

const (
	// stalePeriods a steady stream may stay away before it is stale (common
	// practice, no source).
	stalePeriods = 5
	// staleSlack, in periods, is left to the jitter of the line that would end
	// the wait. Five lines in a row are then missed, not four: at 5 % loss a
	// stream of ten a second would else ring in vain every five hours (common
	// practice, no source).
	staleSlack = 0.2
	// pauseOfAll: a hole of all streams longer than this is a pause of the link,
	// not of one stream; a third of the shortest time a stream may stay away.
	pauseOfAll = Second / 10
	// pausePeriods: where every stream is slow, holes are the rule. A pause is
	// longer than this many periods of the quickest one (common practice, no
	// source: one line may be lost).
	pausePeriods = 2.5
	// restartShown is how long a restart, which is a moment, stays up.
	restartShown = 1 * Second
)

// staleLink tells when no good line comes, when one steady stream stays away,
// and when the bridge restarted under an armed craft.
type staleLink struct {
	away    decode.Tag             // the stream that the last finding was about
	gone    uint32                 // all that stay away, a bit a tag
	seen    [decode.TagCount]int64 // when each was last found away, -1 never or long ago
	turn    uint8                  // of the happenings: one more for each that joins them
	last    int64                  // engine time of the last sample
	resumed int64                  // engine time at which lines came again after a pause
	bridges staleBridges           // where there are several
	joined  int64                  // when the first of this happening's streams was found away
	rings   Finding                // the last judgement's; without a level none
	shown   int64                  // when the restart was that was told last; -1 none
}

// NewStaleLink returns the detector of stale-link.
func NewStaleLink() Detector {
	d := &staleLink{joined: -staleJoin, shown: -1}
	for tag := range d.seen {
		d.seen[tag] = -staleForget
	}
	return d
}

func (*staleLink) Kind() Kind              { return StaleLink }
func (*staleLink) Missing(b *Bench) string { return "" }
func (*staleLink) Reset()                  {}

// Observe notes where lines came again: no stream is blamed for a pause of all.
func (d *staleLink) Observe(b *Bench, _ *Input) {
	if b.Now-d.last > pauseOfAll && float64(b.Now-d.last) > pausePeriods*quickest(b) {
		d.resumed = b.Now
	}
	d.last = b.Now
}

// quickest returns the shortest period of the steady streams, 0 with none.
func quickest(b *Bench) float64 {
	least := 0.0
	for tag := decode.Axes; tag <= decode.State; tag++ {
		if s := &b.Streams[tag]; s.Steady && (least == 0 || s.Period < least) {
			least = s.Period
		}
	}
	return least
}

// Judge reports one finding at most: silence explains every stream.
func (d *staleLink) Judge(b *Bench, dst []Finding) []Finding {
	had := len(dst)
	dst = d.judge(b, dst)
	if d.rings = (Finding{}); len(dst) > had {
		if d.rings = dst[had]; d.rings.Case == staleRestart {
			d.shown = b.RestartAt
		}
	}
	return dst
}

// judge weighs all that is amiss: the highest is told. Where two are as high, what
// explains the other is: silence of all its bridges, swapped cables what stays away,
// a bridge its streams, and a restart all but silence, unless the other was being
// told already and goes on.
func (d *staleLink) judge(b *Bench, dst []Finding) []Finding {
	limit := b.Limits.StaleSeconds
	d.bridges.look(b)
	f, found := d.stream(b, limit)
	of, away := d.bridges.find(b, limit)
	if away && (!found || of.Level >= f.Level) {
		f, found = of, true
	}
	if !found {
		f, found = d.bridges.mute(b)
	}
	if of, swapped := d.bridges.swapped(b); swapped && (!found || of.Level >= f.Level) {
		f, found = of, true
	}
	if of, moved := d.bridges.moved(b); moved && d.bridges.swap.tags == 0 && (!found || of.Level >= f.Level) {
		f, found = of, true
	}
	if all, silent := d.silence(b, limit); silent && !(away && d.bridges.between(b, limit)) {
		f, found = all, true
	}
	if r, again := d.restart(b, limit); again {
		told := d.rings.Level != None && d.rings.Case == f.Case || f.Case == staleSilence
		if !found || r.Level > f.Level || r.Level == f.Level && !told && b.Now-b.RestartAt <= restartShown {
			f, found = r, true
		}
	}
	d.bridges.tells(b, f, found)
	if found {
		dst = append(dst, f)
	}
	return dst
}

// silence is that of all.
func (d *staleLink) silence(b *Bench, limit float64) (Finding, bool) {
	if float64(b.Silent) < limit*float64(Second) {
		return Finding{}, false
	}
	level := Low
	if b.ArmedOrUnknown() {
		level = High
	}
	return Finding{Where: Link, Level: level, Value: seconds(b.Silent), Limit: limit, Case: staleSilence}, true
}

// restart is one under an armed craft, which is a moment. It stays up until what is
// awaited after it has come or is told itself. Once something else was told after it
// it is no news again.
func (d *staleLink) restart(b *Bench, limit float64) (Finding, bool) {
	since := b.Now - b.RestartAt
	told := d.rings.Level != None && d.rings.Case == staleRestart
	switch {
	case b.RestartAt < 0, !b.RestartArmed, since > unlearned+restartShown:
		return Finding{}, false
	case b.RestartAt == d.shown && !told, since > restartShown && !(told && b.awaits(b.RestartTags)):
		return Finding{}, false
	}
	return Finding{Where: Link, Level: RestartLevel(b.RestartTags), Value: seconds(b.RestartSilent), Limit: limit, Case: staleRestart}, true
}

// comesElsewhere reports whether a stream that matters has come from another bridge
// since the restart, and not from this one.
func (b *Bench) comesElsewhere() bool {
	for tag := decode.Axes; tag <= decode.State; tag++ {
		s := &b.Streams[tag]
		if b.RestartTags&(1<<tag) != 0 && Vital(tag) && s.Awaited && s.Aside > b.RestartAt && s.AsideOf != b.RestartBridge {
			return true
		}
	}
	return false
}

// awaits reports whether a stream of these tags, a bit each, is missed since a
// restart.
func (b *Bench) awaits(tags uint32) bool {
	for tag := decode.Axes; tag <= decode.State; tag++ {
		if tags&(1<<tag) != 0 && b.Streams[tag].Awaited {
			return true
		}
	}
	return false
}

// stream finds the stream that stays away: the most urgent, then the longest.
func (d *staleLink) stream(b *Bench, limit float64) (Finding, bool) {
	var worst Finding
	found, gone := false, uint32(0)
	for tag := decode.Axes; tag <= decode.State; tag++ {
		s := &b.Streams[tag]
		if !s.Steady && !(Vital(tag) && s.gone(b.Now-b.Silent)) {
			continue
		}
		// While nothing comes, no single stream is to blame.
		silent, resumed := d.bridges.pause(b, tag)
		away := float64(b.Now - max(b.Silent, silent) - max(s.Last, d.resumed, resumed))
		most := max(stalePeriods*s.Period, limit*float64(Second))
		if !s.Steady {
			most = float64(unlearned)
		}
		if away < most || away < (stalePeriods+staleSlack)*s.Period {
			continue
		}
		gone |= 1 << tag
		f := Finding{Where: Link, Level: streamLevel(b, tag), Value: away / float64(Second), Limit: most / float64(Second)}
		if !found || f.Level > worst.Level || f.Level == worst.Level && f.Value > worst.Value {
			worst, d.away, found = f, tag, true
		}
	}
	joins := false
	for tag := range d.seen {
		if gone&(1<<tag) == 0 {
			continue
		}
		joins = joins || b.Now-d.seen[tag] >= staleForget
		d.seen[tag] = b.Now
	}
	if joins && b.Now-d.joined >= staleJoin {
		d.turn, d.joined = (d.turn+1)%staleTurns, b.Now
	}
	d.gone = gone
	worst.Case = staleStream + d.turn
	return worst, found
}

// Vital tells of the streams that the alarms that matter live on: where one of
// them came only a few times, too few to have a pace, or does not come again after
// a restart, its last word is no more true for that.
func Vital(tag decode.Tag) bool { return vital&(1<<tag) != 0 }

const vital = 1<<decode.State | 1<<decode.Axes | 1<<decode.Out

// streamLevel: without state, axes or out the alarms that matter are blind.
func streamLevel(b *Bench, tag decode.Tag) Priority {
	switch {
	case !b.ArmedOrUnknown(), b.Boots():
		return Low
	case Vital(tag):
		return High
	}
	return Medium
}

// lookAtBridge is what to do where nobody knows more.
const lookAtBridge = "look at the bridge and its cable"

func (d *staleLink) Describe(b *Bench, f Finding) Story {
	s := Story{Unit: "s", Action: "cut throttle: the monitor is blind"}
	if f.Level < High {
		s.Action = lookAtBridge
	}
	if f.Case == staleSwapped {
		d.bridges.describeSwapped(b, f, &s) // no fault of the line explains that
		return s
	}
	s.Ails.What = StaysAway
	if f.Case >= staleBridge {
		describeBridge(b, f, &s)
		return s
	}
	switch f.Case {
	case staleSilence:
		s.Cause = "cable, bridge or its supply"
		s.Text = fmt.Sprintf("no good line for %.1f s: the bench is not being watched", f.Value)
	case staleRestart:
		s.Cause, s.Ails.What, s.Before = "supply of the bridge", Anew, true
		s.Text = "the bridge restarted while the craft was armed: all windows start anew"
		nameRestarted(b, &s)
		if b.comesElsewhere() {
			s.Text = strings.Replace(s.Text, "bridge restarted", "bridge restarted or cables swapped", 1)
			s.Cause = "its supply, or the cables of two bridges were swapped"
		}
	default:
		s.Cause, s.Ails.Bridge = "its sensor or the bridge", b.carrier(d.away)
		s.Text = fmt.Sprintf("stream %s stays away for %.1f s", d.away, f.Value)
		switch st := &b.Streams[d.away]; {
		case st.Awaited:
			s.Text += ", since the bridge restarted, though it came before"
			if f.Level < High {
				s.Action += "; start the watch anew if it is meant to send no more of it"
			}
		case st.Steady:
			s.Text += fmt.Sprintf(", though it came %.0f times a second", b.Streams[d.away].Rate())
		}
		s.More = append(s.More, Fact{"stream", d.away.String()}, Fact{"rate_hz", b.Streams[d.away].Rate()})
		if others := d.others(); others != "" {
			s.Text += "; so do " + others
		}
	}
	return s
}

// others names the further streams that stay away.
func (d *staleLink) others() string { return streamNames(d.gone &^ (1 << d.away)) }

func seconds(us int64) float64 { return float64(us) / float64(Second) }
