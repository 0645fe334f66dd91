package detect

import (
	"strings"

	"tetherbell/decode"
)

// Known is a bench without what lines told that no longer come: their last value
// says nothing of now.
type Known struct {
	Bench
	// Stopped are the streams that have, a bit a tag.
	Stopped uint32
	one     Bench             // scratch
	texts   map[uint32]string // of streams that have stopped together, as worded once
}

// See takes the bench as it is now.
func (k *Known) See(b *Bench) {
	k.Bench, k.Stopped = *b, 0
	for tag := decode.Axes; tag <= decode.State; tag++ {
		if b.Streams[tag].gone(k.Now) {
			k.Stopped |= 1 << tag
			k.Forget(tag)
		}
	}
}

// Forget drops the values of one tag.
func (b *Bench) Forget(tag decode.Tag) {
	switch tag {
	case decode.Axes:
		b.Rate, b.Demand, b.Ctrl, b.Thr = [3]Reading{}, [3]Reading{}, [3]Reading{}, Reading{}
	case decode.Out:
		b.Out = [decode.MaxMotors]Reading{}
	case decode.ERPM:
		b.ERPM, b.RPM = [decode.MaxMotors]Reading{}, [decode.MaxMotors]Reading{}
	case decode.Accel:
		b.Force = [3]Reading{}
	case decode.Load:
		b.Load = Reading{}
	case decode.Temp:
		b.Temp = [decode.MaxMotors]Reading{}
	case decode.Pack:
		b.Volts, b.Amps = Reading{}, Reading{}
	case decode.Air:
		b.Pascal, b.AirC = Reading{}, Reading{}
	case decode.State:
		b.Armed, b.Stopped, b.Ground, b.ControlOK = Unknown, Unknown, Unknown, Unknown
		b.Stick = [4]Reading{}
	}
}

// Lack says why a detector is not watching now, "" when it is. b is the bench
// that was seen last.
func (k *Known) Lack(d Detector, b *Bench) string {
	why := d.Missing(&k.Bench)
	if why == "" || k.Stopped == 0 || d.Missing(b) != "" {
		return why
	}
	tags := k.needs(d, b)
	text, ok := k.texts[tags]
	if !ok {
		if k.texts == nil {
			k.texts = map[uint32]string{}
		}
		text = stopped(tags)
		k.texts[tags] = text
	}
	return text
}

// Frozen reports whether a detector lives on nothing but what streams said that
// have stopped.
func (k *Known) Frozen(d Detector, b *Bench) bool {
	return k.Stopped != 0 && d.Missing(&k.Bench) != "" && d.Missing(b) == ""
}

// needs finds which of the streams that have stopped a detector cannot do
// without: each alone, else all of them.
func (k *Known) needs(d Detector, b *Bench) uint32 {
	var alone uint32
	for tag := decode.Axes; tag <= decode.State; tag++ {
		if k.Stopped&(1<<tag) == 0 {
			continue
		}
		k.one = *b
		if k.one.Forget(tag); d.Missing(&k.one) != "" {
			alone |= 1 << tag
		}
	}
	if alone == 0 {
		return k.Stopped
	}
	return alone
}

// stoppedOne words it of each stream.
var stoppedOne = func() (all [decode.TagCount]string) {
	for tag := range all {
		all[tag] = "the " + decode.Tag(tag).String() + " stream has stopped"
	}
	return all
}()

// stopped words which streams have.
func stopped(tags uint32) string {
	var names []string
	for tag := decode.Axes; tag <= decode.State; tag++ {
		if tags == 1<<tag {
			return stoppedOne[tag]
		}
		if tags&(1<<tag) != 0 {
			names = append(names, tag.String())
		}
	}
	return "the streams " + strings.Join(names, ", ") + " have stopped"
}

// without words the lack of a value that lines of a tag hold: none where no such
// line ever came, empty where they come without it.
func (b *Bench) without(tag decode.Tag, none, empty string) string {
	switch s := &b.Streams[tag]; {
	case s.Count == 0:
		return b.never(tag, none)
	case s.gone(b.Now):
		return stoppedOne[tag]
	}
	return empty
}

// never words that no line of a tag ever came: what comes under a wrong name is
// why, and who raised a rate or looked for a sensor would look in vain.
func (b *Bench) never(tag decode.Tag, none string) string {
	if why := b.Misnamed[tag]; why != "" && b.Streams[tag].Count == 0 {
		return why
	}
	return none
}

// filling ends what is said of a detector whose windows fill: it does after each
// arming, and that is no loss.
const filling = "its windows are filling"

// Settling reports whether a lack is no more than windows that fill.
func Settling(why string) bool { return strings.HasSuffix(why, filling) }

// Why an alarm waits for what bridge or craft file says of the craft.
const (
	noMass  = "mass of the craft not known"
	noCells = "number of cells not known"
	noIdle  = "idle_ready not known"
)

// Untold reports whether a lack is no more than that nobody has said yet what craft
// it is, or how it is set.
func Untold(why string) bool { return why == noMass || why == noCells || why == noIdle }

// noOutputs and noSpeeds say why there are none.
func noOutputs(b *Bench) string {
	return b.without(decode.Out, "no motor outputs", "out lines come, but the outputs in them are empty")
}

func noSpeeds(b *Bench) string {
	return b.without(decode.ERPM, "no rotor speeds", "erpm lines come, but the speeds in them are empty")
}

// noArmed and noStick say why a field of the state is not known.
func noArmed(b *Bench) string {
	return b.without(decode.State, "armed state not known", "state lines come, but whether it is armed is empty in them")
}

func noStick(b *Bench) string {
	return b.without(decode.State, "stick throttle not known", "state lines come, but the throttle stick in them is empty")
}
