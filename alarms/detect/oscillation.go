package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
)

const (
	// soon: within this time of the limit an oscillation is high.
	soon = 2.0
	// settle is how long a craft may rock on its feet after lift-off, landing
	// or a jump of thrust: real healthy ones do so at 3 to 9 Hz for a second or
	// two. What is found in that time is not more than medium, unless it was
	// high before, or swings plainly over the limit and quicker than feet rock.
	settle  = 3 * Second / 2
	rockHz  = 10.0
	plainly = 2.0 // times the limit
	// mostSettle bounds it where the craft hops on and on.
	mostSettle = 3 * Second
	// thrustJump of mean output (or throttle) within jumpTime starts it.
	thrustJump = 0.15
	jumpTime   = 3 * Second / 10
)

// held is what an axis' alarm knows beyond one look.
type held struct {
	limit  float64
	up     bool
	first  float64 // amplitude at the raise
	hz     float64
	seen   int64   // engine time at which growth or level was last seen
	highAt int64   // the same of what was high, 0 never
	value  float64 // that was found last
	told   float64 // the same when it last grew, or stood over the limit
	story  oscTone
	byGrow bool
	fold   float64 // lines a second of a stream that may fold it, 0 it does not
	ahead  forecast
}

// Oscillation is the detector of rising-oscillation.
type Oscillation struct {
	axes  [3]oscAxis
	lines rotorLines
	past  thrustPast

	settleFrom, settleTo int64
	ground               Tri
	thrust               float64 // slow follower of the thrust
	thrustAt             int64
	armed                Tri

	heard, resumed int64 // when axes came last, and when they came again after a silence
}

// NewOscillation returns the detector of rising-oscillation.
func NewOscillation() *Oscillation {
	return &Oscillation{
		lines:      rotorLines{newSpeeds(linePast, lineEvery)},
		settleFrom: -mostSettle, settleTo: -mostSettle,
	}
}

// Kind is RisingOscillation.
func (*Oscillation) Kind() Kind { return RisingOscillation }

// Reset drops all windows.
func (o *Oscillation) Reset() {
	for i := range o.axes {
		o.axes[i].clear()
		o.axes[i].hold.up = false
	}
}

// Observe takes one sample.
func (o *Oscillation) Observe(b *Bench, in *Input) {
	switch in.S.Tag {
	case decode.State:
		o.state(b)
		for i := range o.axes {
			o.axes[i].hand.take(b.Stick[1+i], b.Now)
		}
	case decode.Out:
		if m, ok := b.MeanOut(); ok {
			o.jump(b, m)
		}
	case decode.ERPM:
		o.lines.set(b)
	case decode.Axes:
		if b.Now-o.heard > Second {
			o.resumed = b.Now
		}
		o.heard = b.Now
		if b.OutAt < 0 && b.Thr.OK {
			o.jump(b, b.Thr.V)
		}
		if b.Armed == No {
			return
		}
		for i := range o.axes {
			a := &o.axes[i]
			a.take(b, i, in)
			a.hold.limit = a.source.limit(b)
			if !a.due {
				continue
			}
			a.look(b.Now, leastAmplitude*a.hold.limit, &o.lines, &o.past)
		}
	}
}

// state follows arming and the ground.
func (o *Oscillation) state(b *Bench) {
	if b.Armed != o.armed {
		if b.Armed == No || o.armed == No {
			o.Reset()
			for i := range o.axes {
				o.axes[i].since = b.Now
			}
		}
		o.armed = b.Armed
	}
	if b.Ground != o.ground && b.Ground != Unknown {
		if o.ground != Unknown {
			o.unsettle(b.Now)
		}
		o.ground = b.Ground
	}
}

// jump follows the thrust: a sudden rise shakes the craft on its feet.
func (o *Oscillation) jump(b *Bench, v float64) {
	if math.Abs(v-o.thrust) > thrustJump {
		o.unsettle(b.Now)
	}
	o.past.set(b.Now, v)
	dt := float64(b.Now - o.thrustAt)
	o.thrust += (v - o.thrust) * min(dt/float64(jumpTime), 1)
	o.thrustAt = b.Now
}

func (o *Oscillation) unsettle(now int64) {
	if now > o.settleTo+settle {
		o.settleFrom = now
	}
	o.settleTo = min(now+settle, o.settleFrom+mostSettle)
}

// Judge turns what the windows saw into one finding an axis.
func (o *Oscillation) Judge(b *Bench, dst []Finding) []Finding {
	if b.Armed == No {
		return dst
	}
	for i := range o.axes {
		if f, ok := o.judge(b, i); ok {
			dst = append(dst, f)
		}
	}
	return dst
}

func (o *Oscillation) judge(b *Bench, i int) (Finding, bool) {
	a := &o.axes[i]
	h := &a.hold
	var by *oscBand
	grows := false
	for _, w := range a.windows {
		if !a.stirs {
			break
		}
		for k := range w.bands {
			switch t := &w.bands[k]; {
			case t.over(), t.presses():
				if by == nil || !grows && t.now.level > by.now.level {
					by = t
				}
			case t.grown(a):
				if by == nil || !grows || urgent(t, h.limit) < urgent(by, h.limit) {
					by, grows = t, true
				}
			}
		}
	}
	if by == nil {
		return o.holding(b, a, i)
	}
	if !h.up && o.shadow(i, &by.now) {
		return Finding{}, false
	}
	if grows && !by.close && !h.up && a.ahead(by).odds < sureOdds {
		return Finding{}, false // it may be noise that drives a loop near its margin
	}
	return o.raise(b, i, by, grows), true
}

// raise makes the finding of what a band sees now.
func (o *Oscillation) raise(b *Bench, i int, by *oscBand, grows bool) Finding {
	a := &o.axes[i]
	h := &a.hold
	value := by.now.amplitude
	switch {
	case by.presses():
		value = max(by.now.level, by.now.quarters[3])
	case !grows:
		value = by.now.level
	}
	// The band that sees it first is not the one that knows best when.
	knows := a.surest(by.now.hz)
	if grows && knows != nil {
		by = knows
		value = by.now.amplitude
	}
	t := &by.now
	h.seen, h.hz, h.story, h.byGrow, h.fold = b.Now, t.hz, *t, grows, 0
	if by.fast {
		h.fold = a.stream
	}
	switch {
	case grows:
		h.ahead = a.ahead(by)
	case knows != nil:
		h.ahead = a.ahead(knows)
		h.byGrow = h.ahead.odds >= sureOdds
	}
	h.byGrow = h.byGrow && h.ahead.known
	if !h.up {
		h.up, h.first, h.highAt = true, t.amplitude, 0
	}
	level := Medium
	switch was := h.highAt > 0 && b.Now-h.highAt < Second; {
	case b.Now < o.settleTo && !was && (t.hz <= rockHz || value < plainly*h.limit):
	case value >= h.limit, h.byGrow && h.ahead.since(b.Now).s <= soon && (h.ahead.odds >= plainOdds || value >= nearLimit*h.limit):
		level, h.highAt = High, b.Now
	case was:
		level = High // a look that finds a little more time changes nothing
	}
	h.value, h.told = value, value
	return Finding{Where: Axis(i), Level: level, Value: value, Limit: h.limit}
}

// urgent is the time until the limit at this growth, seconds.
func urgent(w *oscBand, limit float64) float64 {
	t := &w.now
	if t.amplitude >= limit {
		return 0
	}
	return math.Log(limit/t.amplitude) / t.growth
}

// holding keeps an alarm up while its oscillation is still there without
// growing: it goes when the amplitude has fallen well under where it was
// raised.
func (o *Oscillation) holding(b *Bench, a *oscAxis, i int) (Finding, bool) {
	h := &a.hold
	if !h.up {
		return Finding{}, false
	}
	if !a.looksAt(h.hz) {
		// A hole has emptied the windows: nothing is known to be better.
		return Finding{Where: Axis(i), Value: h.value, Limit: h.limit}, true
	}
	if n := &a.next; n.known && n.growth > leastGrowth && math.Abs(n.hz-h.hz) < 0.1*h.hz {
		h.seen = b.Now // it still grows, though no single window says so for sure
	}
	amp := 0.0
	for _, w := range a.windows {
		for k := range w.bands {
			if t := &w.bands[k].now; t.peak > amp && math.Abs(t.peakHz-h.hz) < 0.2*h.hz {
				amp = t.peak
			}
		}
	}
	if amp < 0.5*min(h.first, h.limit) {
		h.up = false
		return Finding{}, false
	}
	h.value = amp
	f := Finding{Where: Axis(i), Value: amp, Limit: h.limit}
	if b.Now-h.seen > Second {
		h.byGrow, h.story.growth = false, 0 // what was seen then is no news now
		switch {
		case amp < 0.5*h.limit:
			f.Level = Low
		case amp < h.limit:
			f.Level = Medium
		}
	}
	return f, true
}

// shadow reports whether another axis swings much harder at the same
// frequency: the small one is moved by the big one.
func (o *Oscillation) shadow(i int, t *oscTone) bool {
	for j := range o.axes {
		if j == i || o.axes[j].hold.limit != o.axes[i].hold.limit {
			continue
		}
		for _, w := range o.axes[j].windows {
			for k := range w.bands {
				n := &w.bands[k].now
				if n.ok && n.amplitude > 3*t.amplitude && math.Abs(n.hz-t.hz) < 0.07*t.hz && n.share > leastShare {
					return true
				}
			}
		}
	}
	return false
}

// Missing tells what is not watched of the band.
func (o *Oscillation) Missing(b *Bench) string {
	s := &b.Streams[decode.Axes]
	if why := axesLack(b, leastPerCycle*5); why != "" {
		return why
	}
	if s.gone(b.Now) {
		return "the axes stream has stopped"
	}
	for i := range o.axes {
		// What the last line held counts while disarmed, when nothing is taken.
		if a := &o.axes[i]; !a.seenU.there() && !a.seenY.there() && !b.Ctrl[i].OK && !b.Rate[i].OK {
			return notMeasured(i)
		}
	}
	for i := range o.axes {
		// Nothing computed must not look like nothing there.
		if !b.ArmedOrUnknown() {
			break
		}
		if !o.axes[i].looks() {
			return Axis(i).String() + ": " + filling
		}
		if hz := o.axes[i].deaf(b.Now, o.resumed); hz > 0 {
			return fmt.Sprintf("under %.1f Hz: holes in the axes stream keep the windows from filling", hz)
		}
	}
	return bandLack(s)
}

// OscillationNow is what the gauge of an axis shows.
type OscillationNow struct {
	Watched, RateOnly        bool
	Amplitude, FrequencyHz   float64
	GrowthPerS, TimeToLimitS float64
}

// Now tells the state of axis i.
func (o *Oscillation) Now(i int) OscillationNow {
	a := &o.axes[i]
	n := OscillationNow{Watched: a.stream > 0 && (o.armed == No || a.looks()), RateOnly: a.main == sigY}
	if a.best == nil {
		return n
	}
	t := &a.best.now
	n.Amplitude, n.FrequencyHz = t.peak, t.peakHz
	if a.next.known {
		n.GrowthPerS, n.TimeToLimitS = a.next.growth, a.next.since(a.lastAt).s
	}
	return n
}
