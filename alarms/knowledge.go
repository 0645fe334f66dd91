package alarms

import (
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// knowledge keeps the bench up to date with what the lines tell.
type knowledge struct {
	file   craft.Craft // as the craft file says: it wins over the bridge
	pace   [decode.TagCount]pace
	heard  craft.Craft   // as the bridge says
	told   bool          // a craft line was read
	said   decode.Sample // its numbers
	bridge string
	boot   int64
	doubts detect.Doubts
	fit    fit
	odd    oddTags
}

func newKnowledge(c craft.Craft, b *detect.Bench) knowledge {
	*b = detect.Bench{
		Craft: c, Baud: b.Baud, ArmedAt: -1, DisarmedAt: -1, StoppedAt: -1,
		RestartAt: -1, OutAt: -1, RPMAt: -1,
	}
	k := knowledge{file: c, boot: -1}
	k.settle(b)
	if c.IdleReady > 0 {
		b.IdleReady = detect.Reading{V: c.IdleReady, OK: true}
	}
	if c.IdleLeast > 0 {
		b.IdleLeast = detect.Reading{V: c.IdleLeast, OK: true}
	}
	return k
}

// awaitPause: a bridge that was silent for as long has paused, and what is awaited
// of it has the time again from there on; between shorter ones it talks, as one that
// says hello alone.
const awaitPause = 3 * detect.Second

// doubts takes the armed state for unknown where it has not come again for long
// after a restart: it is not the craft of before for sure, nor as it was.
func doubts(b *detect.Bench) {
	s := &b.Streams[decode.State]
	if !s.Awaited || b.Boots() {
		return
	}
	silent := b.Silent
	for i := range b.Bridges {
		if br := &b.Bridges[i]; br.Tags&(1<<decode.State) != 0 {
			silent = max(silent, br.Silent)
		}
	}
	if s.Late(b.Now - silent) {
		b.Armed = detect.Unknown
	}
}

// paused takes a long silence of these tags' bridge for no time in which what is
// awaited of it could have come.
func paused(b *detect.Bench, tags uint32, silent int64) {
	if silent < awaitPause {
		return
	}
	for tag := range decode.TagCount {
		if s := &b.Streams[tag]; tags&(1<<tag) != 0 && s.Awaited {
			s.Last = min(s.Last+silent, b.Now)
		}
	}
}

// settle works out what follows from the craft.
func (k *knowledge) settle(b *detect.Bench) {
	if b.Craft.Hold == "" {
		b.Craft.Hold = craft.Tether
	}
	b.Limits = b.Craft.Limits.WithDefaults(b.Craft.DiameterMM)
	if b.Craft.Motors > 0 {
		b.Motors = b.Craft.Motors
	}
}

// learn takes one sample, taken at engine time at.
func (k *knowledge) learn(b *detect.Bench, s *decode.Sample, at int64) {
	if regular(s.Tag) {
		k.pace[s.Tag].take(&b.Streams[s.Tag], at)
	} else {
		b.Streams[s.Tag].Count++
		b.Streams[s.Tag].Last = at
	}
	switch s.Tag {
	case decode.Unknown:
		k.odd.take(b, s, at)
	case decode.Axes:
		for i := range 3 {
			b.Rate[i] = reading(s, decode.RateRoll+i, at)
			b.Demand[i] = reading(s, decode.DemandRoll+i, at)
			b.Ctrl[i] = reading(s, decode.ControlRoll+i, at)
		}
		b.Thr = reading(s, decode.Throttle, at)
	case decode.Out:
		b.OutAt = at
		k.motors(b, s)
		k.fit.carries(s, at)
		for i := range b.Out {
			b.Out[i] = reading(s, i, at)
		}
	case decode.ERPM:
		b.RPMAt = at
		k.motors(b, s)
		k.fit.carries(s, at)
		for i := range b.ERPM {
			b.ERPM[i] = reading(s, i, at)
			b.RPM[i] = mechanical(b.ERPM[i], b.Craft.Poles)
		}
	case decode.Load:
		b.Load = reading(s, decode.LoadN, at)
	case decode.Temp:
		for i := range b.Temp {
			b.Temp[i] = reading(s, i, at)
		}
	case decode.Pack:
		b.Volts, b.Amps = reading(s, decode.Volts, at), reading(s, decode.Amps, at)
	case decode.Accel:
		for i := range b.Force {
			b.Force[i] = reading(s, decode.ForceX+i, at)
		}
	case decode.Air:
		b.Pascal, b.AirC = reading(s, decode.Pascal, at), reading(s, decode.AirC, at)
	case decode.State:
		k.state(b, s, at)
	case decode.Craft:
		k.craft(b, s)
	case decode.Set:
		k.set(b, s, at)
	case decode.Hello:
		if string(s.Text) != k.bridge {
			k.bridge = string(s.Text)
		}
		if v, ok := s.Get(decode.HelloBoot); ok {
			k.boot = int64(v)
		}
	}
	if s.Tag == decode.Out || s.Tag == decode.ERPM || s.Tag == decode.Craft {
		k.fits(b, at)
	}
	k.doubts.See(b, s.Tag, at)
}

func reading(s *decode.Sample, i int, at int64) detect.Reading {
	v, ok := s.Get(i)
	return detect.Reading{V: v, OK: ok, At: at}
}

// mechanical turns electrical into shaft speed: one electrical turn for each
// pair of magnet poles. Without the pole count there is no speed.
func mechanical(r detect.Reading, poles int) detect.Reading {
	if poles < 2 {
		return detect.Reading{At: r.At}
	}
	r.V /= float64(poles) / 2
	return r
}

// motors counts the motors that lines speak of, where no craft does.
func (k *knowledge) motors(b *detect.Bench, s *decode.Sample) {
	if b.Craft.Motors > 0 {
		return
	}
	for i := decode.MaxMotors; i > b.Motors; i-- {
		if s.Has&(1<<uint(i-1)) != 0 {
			b.Motors = i
			return
		}
	}
}

func tri(s *decode.Sample, i int) detect.Tri {
	v, ok := s.Get(i)
	switch {
	case !ok:
		return detect.Unknown
	case v != 0:
		return detect.Yes
	}
	return detect.No
}

func (k *knowledge) state(b *detect.Bench, s *decode.Sample, at int64) {
	was, stopped := b.LastArmed, b.Stopped
	b.Armed, b.Stopped = tri(s, decode.Armed), tri(s, decode.Stopped)
	b.Ground, b.ControlOK = tri(s, decode.Ground), tri(s, decode.ControlOK)
	for i := range b.Stick {
		b.Stick[i] = reading(s, decode.StickThrottle+i, at)
	}
	if b.Stopped == detect.Yes && stopped != detect.Yes {
		b.StoppedAt = at
	}
	switch b.Armed {
	case detect.Yes:
		if was != detect.Yes {
			b.ArmedAt = at
		}
		b.EverArmed = true
	case detect.No:
		if was != detect.No {
			b.DisarmedAt = at
		}
	default:
		return
	}
	b.LastArmed = b.Armed
}

// craft takes what the bridge says of the craft. It is said again and again:
// only what is new costs anything.
func (k *knowledge) craft(b *detect.Bench, s *decode.Sample) {
	if k.told && s.Num == k.said.Num && s.Has == k.said.Has &&
		string(s.Text) == k.heard.Name && string(s.Word) == k.heard.Layout {
		return
	}
	k.told, k.said = true, decode.Sample{Num: s.Num, Has: s.Has}
	limits := b.Craft.Limits // the file's and those of set lines
	c := decode.CraftOf(s)
	b.Craft = k.file.Fill(c)
	b.Craft.Limits = limits
	b.Craft.Choose()
	k.settle(b)
	k.hears(b, c)
}

// set takes a setting. The craft file wins where it speaks; a limit outside
// what a limit can be is not believed.
func (k *knowledge) set(b *detect.Bench, s *decode.Sample, at int64) {
	v, ok := s.Get(decode.SetValue)
	r := detect.Reading{V: v, OK: ok, At: at}
	switch string(s.Word) {
	case "idle_ready":
		k.hearsSetting(b, &k.heard.IdleReady, v)
		if k.file.IdleReady == 0 {
			b.IdleReady = r
		}
	case "idle_least":
		k.hearsSetting(b, &k.heard.IdleLeast, v)
		if k.file.IdleLeast == 0 {
			b.IdleLeast = r
		}
	case "limit_oscillation":
		k.hearsSetting(b, &k.heard.Limits.Oscillation, v)
		// An empty value takes back what was set: the default holds again.
		if k.file.Limits.Oscillation == 0 && (!ok || v > 0 && v <= 1) {
			b.Craft.Limits.Oscillation = v
			k.settle(b)
		}
	}
}

// forgetStreams drops what a restart of the bridge makes worthless of the streams
// of these tags, a bit each: paces and the last values. What the craft said of itself
// and its state stay. The streams that matter most are awaited, one that was missed
// already from then on. silent is how long the bridge had said nothing: that is no
// time in which one of its streams could have come.
func (k *knowledge) forgetStreams(b *detect.Bench, tags uint32, silent int64) {
	k.doubts.Restart(tags)
	k.fit.restart(tags)
	for tag := range decode.TagCount {
		if tags&(1<<tag) == 0 {
			continue
		}
		fresh, was := detect.Stream{}, &b.Streams[tag]
		if detect.Vital(tag) && (was.Awaited || was.Count > 0) {
			fresh.Awaited, fresh.Last = true, b.Now
			switch {
			case was.Awaited && silent < awaitPause:
				fresh.Last = was.Last
			case was.Awaited, was.Missed(b.Now - silent):
				fresh.Last = min(was.Last+silent, b.Now)
			}
		}
		k.pace[tag], *was = pace{}, fresh
		switch tag {
		case decode.Out:
			b.OutAt = -1
		case decode.ERPM:
			b.RPMAt = -1
		case decode.State:
			continue
		}
		b.Forget(tag)
	}
}
