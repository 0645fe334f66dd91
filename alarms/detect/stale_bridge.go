package detect

import (
	"fmt"
	"strings"

	"tetherbell/decode"
)

// staleBridge and those after it: one of several bridges is silent while another
// talks; each is a happening of its own.
const staleBridge = staleStream + staleTurns

// staleBridges keeps what each of several bridges did before.
type staleBridges struct {
	swap    swap                     // as last looked at
	silent  [decode.MaxBridges]int64 // as at the last judgement
	resumed [decode.MaxBridges]int64 // engine time at which lines came again after a pause
	paused  [decode.MaxBridges]int64 // the same after one in which it did not talk
	quiet   int64                    // how long all were silent, as was told at the last judgement; 0: it was not
	again   int64                    // engine time at which the first came again after a silence of all that rang
	told    uint8                    // the happening of a bridge that was told last; 0: none
	since   int64                    // engine time of the first judgement
	quick   [decode.TagCount]float64 // period of each stream, as it last had one, by whatever bridge it comes; 0 never
	paced   [decode.TagCount]int64   // engine time at which it last had
	begun   bool
}

// togetherMost: bridges whose last lines lie no further apart fell silent together;
// the period of a stream of 20 a second (common practice, no source).
const togetherMost = Second / 20

// mutePatience is how long a bridge that was named may say nothing from the start
// on: three of its hellos.
const mutePatience = 3 * Second

// look notes where a bridge's lines came again.
func (d *staleBridges) look(b *Bench) {
	if !d.begun {
		d.begun, d.since = true, b.Now
	}
	if d.quiet > 0 && b.Silent < d.quiet {
		d.again = b.Now - b.Silent
	}
	for i := range b.Bridges {
		now := b.Bridges[i].Silent
		if d.silent[i] > pauseOfAll && now < d.silent[i] {
			d.resumed[i] = b.Now - now
		}
		if d.silent[i] > swapTalks && now < d.silent[i] {
			d.paused[i] = b.Now - now
		}
		d.silent[i] = now
	}
	for tag := decode.Axes; tag <= decode.State; tag++ {
		if s := &b.Streams[tag]; s.Steady {
			d.quick[tag], d.paced[tag] = s.Period, b.Now
		}
	}
}

// pause tells of the bridge that a stream comes from: how long it has been
// silent, and when it last came again.
func (d *staleBridges) pause(b *Bench, tag decode.Tag) (silent, resumed int64) {
	for i := range b.Bridges {
		if b.Bridges[i].Tags&(1<<tag) != 0 {
			return b.Bridges[i].Silent, d.resumed[i]
		}
	}
	return 0, 0
}

// find finds the bridge that is silent while others talk: the most urgent, then
// the longest. One that was never heard has begun nothing. Bridges that fell
// silent together are all of them, and told so; and after a silence of all, which
// rings already, those that come a little later than the first are given the time
// to. What is found stays found.
func (d *staleBridges) find(b *Bench, limit float64) (worst Finding, found bool) {
	least := b.Silent
	if d.between(b, limit) {
		least = 0
	}
	for i := range b.Bridges {
		br := &b.Bridges[i]
		most := d.patience(b, i, limit)
		if !br.Heard || br.Silent < int64(most*float64(Second)) {
			continue
		}
		f := Finding{
			Where: Link, Level: bridgeLevel(b, br), Value: seconds(br.Silent), Limit: most,
			Case: staleBridge + uint8(i),
		}
		if f.Case != d.told && (br.Silent-least < togetherMost || d.again > 0 && b.Now-d.again < pauseOfAll) {
			continue
		}
		if !found || f.Level > worst.Level || f.Level == worst.Level && f.Value > worst.Value {
			worst, found = f, true
		}
	}
	return worst, found
}

// between reports whether a bridge that talks seldom is between two of its lines: it
// has not fallen silent, however long that is.
func (d *staleBridges) between(b *Bench, limit float64) bool {
	for i := range b.Bridges {
		br := &b.Bridges[i]
		if most := d.patience(b, i, limit); br.Heard && most > limit && br.Silent+togetherMost < int64(most*float64(Second)) {
			return true
		}
	}
	return false
}

// tells notes what is told.
func (d *staleBridges) tells(b *Bench, f Finding, found bool) {
	d.told, d.quiet = 0, 0
	switch {
	case !found:
	case f.Case >= staleBridge && f.Case < staleSwapped:
		d.told = f.Case
	case f.Case == staleSilence:
		d.quiet = b.Silent
	}
}

// patience is how long a bridge may be silent, in seconds: as long as the bench,
// where it has a stream quick enough to tell, else as long as its quickest. One that
// has restarted, or is at another port, is as quick as before until it has had the time
// to show otherwise.
func (d *staleBridges) patience(b *Bench, i int, limit float64) float64 {
	br := &b.Bridges[i]
	quick, steady := quickestOf(b, br)
	if !steady {
		if quick = d.was(b, br); quick == 0 {
			return seconds(unlearned)
		}
	}
	return max(limit, (stalePeriods+staleSlack)*quick/float64(Second))
}

// was is the shortest period that the streams of a bridge had a while ago; 0: none had.
func (d *staleBridges) was(b *Bench, br *Bridge) (quick float64) {
	for tag := decode.Axes; tag <= decode.State; tag++ {
		q := d.quick[tag]
		if br.Tags&(1<<tag) != 0 && q > 0 && b.Now-br.Silent-d.paced[tag] < unlearned && (quick == 0 || q < quick) {
			quick = q
		}
	}
	return quick
}

// quickestOf returns the shortest period of the steady streams of a bridge; steady
// is false where it has none.
func quickestOf(b *Bench, br *Bridge) (quick float64, steady bool) {
	for tag := decode.Axes; tag <= decode.State; tag++ {
		s := &b.Streams[tag]
		if br.Tags&(1<<tag) != 0 && s.Steady && (!steady || s.Period < quick) {
			quick, steady = s.Period, true
		}
	}
	return quick, steady
}

// bridgeLevel: what it carries says how blind the alarms are without it.
func bridgeLevel(b *Bench, br *Bridge) Priority {
	if !b.ArmedOrUnknown() {
		return Low
	}
	return carries(br.Tags)
}

// carries says how blind the alarms are without the streams of these tags.
func carries(tags uint32) Priority {
	if tags&vital != 0 {
		return High
	}
	return Medium
}

// RestartLevel is how urgent the restart of a bridge is, while the craft is armed,
// with the streams of these tags; none where nothing is taken from it.
func RestartLevel(tags uint32) Priority {
	if tags == 0 {
		return Low
	}
	return carries(tags)
}

// mute finds a bridge that was named and has never said a good line: nobody knows
// what is missed without it. What has begun and stays away is told before it.
func (d *staleBridges) mute(b *Bench) (Finding, bool) {
	if b.Now-d.since < mutePatience {
		return Finding{}, false
	}
	level := Low
	if b.ArmedOrUnknown() {
		level = Medium
	}
	for i := range b.Bridges {
		if br := &b.Bridges[i]; br.Named && !br.Heard {
			return Finding{
				Where: Link, Level: level, Value: seconds(b.Now - d.since), Limit: seconds(mutePatience),
				Case: staleBridge + uint8(i),
			}, true
		}
	}
	return Finding{}, false
}

// describeMute words that.
func describeMute(br *Bridge, f Finding, s *Story) {
	s.Cause, s.Ails.Bridge = "the bridge is off, or its port or baud is another", br.Name
	s.Text = fmt.Sprintf("nothing was ever heard from %s, for %.0f s: nobody knows what it carries", br.Name, f.Value)
	if br.Link.Bad > 0 {
		s.Text = fmt.Sprintf("no good line was ever heard from %s, for %.0f s, and %d bad ones: nobody knows what it carries", br.Name, f.Value, br.Link.Bad)
	}
	s.More = append(s.More, Fact{"bridge", br.Name})
}

func describeBridge(b *Bench, f Finding, s *Story) {
	br := &b.Bridges[f.Case-staleBridge]
	if !br.Heard {
		describeMute(br, f, s)
		return
	}
	s.Cause, s.Ails.Bridge = "its cable, the bridge or its supply", br.Name
	s.Text = fmt.Sprintf("no good line from %s for %.1f s, while others talk", br.Name, f.Value)
	if gone := streamNames(br.Tags); gone != "" {
		s.Text += ": " + gone + " stay away"
		s.More = append(s.More, Fact{"streams", gone})
	}
	s.More = append(s.More, Fact{"bridge", br.Name})
}

// nameRestarted says which of several bridges it was.
func nameRestarted(b *Bench, s *Story) {
	if b.Bridges == nil {
		return
	}
	name := b.Bridges[b.RestartBridge].Name
	s.Ails.Bridge = name
	s.Text = "bridge restarted while the craft was armed, on " + name + ": "
	switch names := streamNames(b.RestartTags); {
	case b.RestartTags == 0:
		s.Text += "nothing that is watched comes from it"
	case names == "":
		s.Text += "no stream comes from it"
	default:
		s.Text += "what is made of " + names + " starts anew"
	}
	s.More = append(s.More, Fact{"bridge", name})
}

// streamNames names the streams among some tags, a bit each.
func streamNames(tags uint32) string {
	var names []string
	for tag := decode.Axes; tag <= decode.State; tag++ {
		if tags&(1<<tag) != 0 {
			names = append(names, tag.String())
		}
	}
	return strings.Join(names, ", ")
}

// carrier names which of several bridges a stream comes from; "" where there is one.
func (b *Bench) carrier(tag decode.Tag) string {
	for i := range b.Bridges {
		if b.Bridges[i].Tags&(1<<tag) != 0 {
			return b.Bridges[i].Name
		}
	}
	return ""
}
