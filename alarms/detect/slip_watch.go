package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

const (
	// maxWatched bounds the settings that are compared in a stream: what a
	// bridge sends must not grow without end.
	maxWatched = 256
	// quietSettings: settings are compared once none has changed for so long. A
	// list that is written to the craft comes line by line, and P without its I
	// is no slip (common practice, no source: bridges send what changed at once).
	quietSettings = 1 * Second
	// settledSettings: a change that is in order is what the next one is compared
	// with after so long. Bridges tell all settings again every 10 s (PROTOCOL.md):
	// until then one whose line was lost may still belong to it.
	settledSettings = 12 * Second
	// streamSlips are the flags that ring. The others are for a list that is
	// compared before it is written: zero is how a gain is taken out for a test,
	// I over P is moved on purpose while tuning, and the step from armed idle to
	// flight has an alarm of its own.
	streamSlips = SlipTenfold | SlipPercent | SlipFar | SlipSign | SlipUnequal | SlipAlone
)

// slipWatch compares what the stream tells of the settings with what it told
// before. What is odd stays so until it is put right, or until the craft has
// been armed with it and disarmed again: then it is what this craft runs with.
type slipWatch struct {
	names     craft.Settings
	named     bool
	index     map[string]int
	all       []SettingChange // New: told last; Old: before the change
	surplus   bool            // there are more than are compared
	stirred   bool            // something changed since the last comparison
	fresh     bool            // something changed since the values were accepted
	changedAt int64           // engine time of the newest change
	found     Slip            // what the last comparison found, of streamSlips
	foundAt   int64
	worst     int    // index of the setting to tell
	which     uint8  // counts what was found
	digest    uint64 // of what was found
}

func newSlipWatch() slipWatch {
	return slipWatch{index: make(map[string]int, maxWatched), all: make([]SettingChange, 0, maxWatched)}
}

// observe takes one set line and returns what its setting means.
func (w *slipWatch) observe(b *Bench, in *Input) craft.Meaning {
	if !w.named {
		w.names, w.named = b.Craft.Settings.WithDefaults(), true
	}
	v, ok := in.S.Get(decode.SetValue)
	i, known := w.index[string(in.S.Word)]
	if !known {
		if len(w.all) >= maxWatched {
			w.surplus = true
			return craft.Meaning{Axis: -1}
		}
		i = w.add(string(in.S.Word))
	}
	c := &w.all[i]
	switch {
	case !ok: // not measured: the next value is compared with the last one
		c.HasNew = false
	case !c.HasOld:
		c.Old, c.New, c.HasOld, c.HasNew = v, v, true, true
	default:
		if !sameValue(c.New, v) {
			w.stirred, w.fresh, w.changedAt = true, true, max(in.At, b.Now)
		}
		c.New, c.HasNew = v, true
	}
	return c.Meaning
}

// add makes room for a setting that was not heard of before.
func (w *slipWatch) add(name string) int {
	i := len(w.all)
	w.all = append(w.all, SettingChange{Name: name, Meaning: w.names.MeaningOf(name)})
	w.index[name] = i
	pairSetting(w.all, i)
	return i
}

// judge compares once the settings are quiet.
func (w *slipWatch) judge(b *Bench) {
	if w.stirred && b.Now-w.changedAt >= quietSettings {
		w.stirred = false
		w.compare(b)
	}
	flown := w.found != 0 && b.Armed == No && b.ArmedAt > w.foundAt
	settled := w.found == 0 && w.fresh && !w.stirred && b.Now-w.changedAt >= settledSettings
	if flown || settled {
		w.accept()
	}
}

// compare judges all settings against what they were.
func (w *slipWatch) compare(b *Bench) {
	JudgeSettings(w.all, b.Limits.IdleGapOutput)
	was := w.digest
	w.found, w.digest, w.worst = 0, 14695981039346656037, -1 // FNV-1a, 64 bits
	most := -1.0
	for i := range w.all {
		c := &w.all[i]
		c.Slips &= streamSlips
		if c.Meaning.IdleReady && over(c.Old, dangerousIdle) && !over(c.New, dangerousIdle) {
			c.Slips = 0 // a dangerous idle that is put right is no slip
		}
		if c.Slips == 0 {
			continue
		}
		w.found |= c.Slips
		w.digest = (w.digest ^ uint64(i)<<16 ^ uint64(c.Slips)) * 1099511628211
		if far := farness(c); far > most {
			w.worst, most = i, far
		}
	}
	if w.found == 0 {
		w.digest = 0
		return
	}
	if w.digest != was {
		w.which = w.which%maxCase + 1
		w.foundAt = b.Now
	}
}

// maxCase bounds the cases of slips; 0 is the idle and noteCase a word of the
// craft file against the bridge.
const (
	maxCase  = 200
	noteCase = 255
)

// farness ranks settings by how far they moved.
func farness(c *SettingChange) float64 {
	if !c.Both() || c.Old == 0 || c.New == 0 {
		return 0
	}
	return math.Abs(math.Log(math.Abs(c.New)) - math.Log(math.Abs(c.Old))) // the ratio may be no finite number
}

// accept takes the settings as they are now.
func (w *slipWatch) accept() {
	w.found, w.digest, w.fresh = 0, 0, false
	for i := range w.all {
		c := &w.all[i]
		c.Slips = 0
		if c.HasNew {
			c.Old = c.New
		}
	}
}

// finding tells of the setting that moved furthest.
func (w *slipWatch) finding() (Finding, bool) {
	if w.found == 0 {
		return Finding{}, false
	}
	c := &w.all[w.worst]
	r, ok := c.Ratio()
	if !ok && c.Both() && c.Old != 0 { // a number must be finite; this one is far over every limit
		r = math.Copysign(math.MaxFloat64, c.New/c.Old)
	}
	limit := 1.0
	switch {
	case c.Slips&SlipTenfold != 0:
		limit = tenfoldLeast
	case c.Slips&SlipPercent != 0:
		limit = percentLeast
	case c.Slips&SlipFar != 0:
		limit = tenfoldMost
	}
	if math.Abs(r) < 1 {
		limit = 1 / limit
	}
	return Finding{Where: Craft, Level: Low, Value: r, Limit: limit, Case: w.which}, true
}

// story tells a person of it.
func (w *slipWatch) story() Story {
	if w.found == 0 {
		return Story{}
	}
	c := &w.all[w.worst]
	first := c.Slips.Each()[0]
	text, action := c.Tell(first, w.all)
	s := Story{
		Unit: "1", Text: text, Cause: slipCauses[first], Action: "before you go on: " + action,
		More: []Fact{{"setting", c.Name}, {"old", c.Old}, {"new", c.New}, {"flags", c.Slips.String()}},
	}
	if also := w.also(w.worst); also != "" {
		s.More = append(s.More, Fact{"also", also})
	}
	return s
}

// slipCauses are likely causes in few words.
var slipCauses = map[Slip]string{
	SlipTenfold: "decimal point slipped", SlipPercent: "percent taken for a fraction", SlipFar: "a wrong number or unit",
	SlipSign: "a wrong sign", SlipUnequal: "one of the two forgotten", SlipAlone: "one gain typed wrong",
}

// also names what else is odd, but for the setting at index but; -1 stands for
// the armed idle.
func (w *slipWatch) also(but int) string {
	text, more := "", 0
	for i := range w.all {
		c := &w.all[i]
		switch {
		case c.Slips == 0 || i == but || but < 0 && c.Meaning.IdleReady || w.found == 0:
		case len(text) > 120: // a line of a screen and a half
			more++
		default:
			if text != "" {
				text += ", "
			}
			text += c.Name + " " + c.Slips.String()
		}
	}
	if more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}
