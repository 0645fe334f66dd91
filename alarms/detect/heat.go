package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

const (
	// heatBand, deg C: a level holds so far under its limit; sensors tremble by
	// one step of 1 deg C (common practice, no source).
	heatBand = 2
	// heatHold: a rise, or an excess over the others, holds down to this share.
	heatHold = 0.75
	// heatTwice: one wild line rings nothing.
	heatTwice = 2
	// heatAlike: a motor whose rise is at least this share of the worst one's, or
	// whose temperature lies within half of what would make one stand out, shares
	// its cause (common practice, no source).
	heatAlike = 2.0 / 3
)

// What a motor rings for.
type heatBy uint8

const (
	heatByNone heatBy = iota
	heatByLevel
	heatByRate
	heatByOthers
)

// heatSays is what is so of one motor.
type heatSays struct {
	level        Priority
	held         bool
	by           heatBy
	value, limit float64
	past         float64 // value over limit: how far past
}

// motorHeat tells of motors that are hot, or on the way.
type motorHeat struct {
	track [decode.MaxMotors]heatTrack
	room  heatRoom
	trill trill

	others [decode.MaxMotors]float64 // median of the others, NaN unknown
	says   [decode.MaxMotors]heatSays
	group  [decode.MaxMotors]Where // the motors that ring together with this one, 0 none
	level  [decode.MaxMotors]Priority
	stuck  Where                     // rotors that stood while they were driven, since their group rang
	temp   [decode.MaxMotors]float64 // room for a median
}

// NewMotorHeat returns the detector of motor-heat.
func NewMotorHeat() Detector {
	d := &motorHeat{}
	for i := range d.track {
		d.track[i] = newHeatTrack()
	}
	d.Reset()
	return d
}

func (*motorHeat) Kind() Kind { return MotorHeat }

// Reset drops every window.
func (d *motorHeat) Reset() {
	for i := range d.track {
		d.track[i].clear()
		d.others[i] = math.NaN()
		d.says[i], d.group[i], d.level[i] = heatSays{}, 0, None
	}
	d.trill, d.stuck = trill{}, 0
}

// Observe takes temperatures, and how the outputs shake.
func (d *motorHeat) Observe(b *Bench, in *Input) {
	switch in.S.Tag {
	case decode.Out:
		d.trill.take(b, in.At)
	case decode.Temp:
		for i := range d.track {
			if i >= heatMotors(b) || !b.Temp[i].OK {
				d.track[i].clear()
				continue
			}
			d.track[i].take(b, b.Temp[i].V, in.At, &d.room)
		}
		for i := range heatMotors(b) {
			d.compare(b, i)
			d.say(b, i)
		}
	}
}

// compare holds motor i against the median of the others: two of them at least,
// since of two motors none can be told to be the odd one.
func (d *motorHeat) compare(b *Bench, i int) {
	n := 0
	for j := range heatMotors(b) {
		if j != i && d.track[j].known {
			d.temp[n] = d.track[j].temp
			n++
		}
	}
	d.others[i] = math.NaN()
	h := &d.track[i]
	if n >= 2 {
		d.others[i] = medianOf(d.temp[:n])
	}
	count(&h.hot, h.known && n >= 2 && over(h.temp-d.others[i], b.Limits.HeatOver))
}

// heatSoon is how many seconds ahead of the high limit a rise is high: at the
// limit of the rate that is the way from medium to high, so that what rises by
// so much is high from the medium limit on (10 s with the defaults).
func heatSoon(l *craft.Limits) float64 { return (l.HeatHigh - l.HeatMedium) / l.HeatRate }

// running reports whether motors may turn.
func running(b *Bench) bool {
	if anyOutput(b) {
		return true
	}
	for i := range heatMotors(b) {
		if b.ERPM[i].OK && over(b.ERPM[i].V, stopShare*slowRotor*polePairs(b)) {
			return true
		}
	}
	return b.ArmedOrUnknown() && !measuredOut(b)
}

// measuredOut reports whether some output is measured.
func measuredOut(b *Bench) bool {
	_, ok := b.MeanOut()
	return ok
}

// say works out what is so of motor i: of several criteria the one furthest
// past its limit, among those of the highest priority.
func (d *motorHeat) say(b *Bench, i int) {
	h, l := &d.track[i], &b.Limits
	s := &d.says[i]
	*s = heatSays{}
	if !h.known {
		return
	}
	run := running(b)
	level := d.level[i]
	switch {
	case h.high >= heatTwice || level == High && over(h.temp, l.HeatHigh-heatBand):
		s.add(High, heatByLevel, h.temp, l.HeatHigh)
	case h.medium >= heatTwice:
		s.add(Medium, heatByLevel, h.temp, l.HeatMedium)
	case over(h.temp, l.HeatMedium-heatBand):
		s.hold(heatByLevel, h.temp, l.HeatMedium)
	}
	if !run {
		return
	}
	soon := None
	// By the rise of now: a curve that seems to end lower is one lump's, and a
	// motor is more than one.
	if h.until(l.HeatHigh) < heatSoon(l) && h.rising(l.HeatRate) {
		soon = High
	}
	switch {
	case h.rising(l.HeatRate) && over(h.slope, l.HeatRate):
		s.add(max(Medium, soon), heatByRate, h.slope, l.HeatRate)
	case h.sloped && over(h.slope, l.HeatRate*heatHold):
		s.hold(heatByRate, h.slope, l.HeatRate)
	}
	if s.level == Medium && soon == High && s.by == heatByLevel {
		s.level = High
	}
	if math.IsNaN(d.others[i]) {
		return
	}
	switch limit := d.others[i] + l.HeatOver; {
	case h.hot >= heatTwice:
		s.add(max(Medium, soon), heatByOthers, h.temp, limit)
	case over(h.temp, d.others[i]+l.HeatOver*heatHold):
		s.hold(heatByOthers, h.temp, limit)
	}
}

func (s *heatSays) add(level Priority, by heatBy, value, limit float64) {
	past := value / limit
	if by == heatByOthers { // a temperature against one that is no zero
		past = 1
	}
	if level > s.level || level == s.level && past > s.past {
		*s = heatSays{level: level, held: true, by: by, value: value, limit: limit, past: past}
	}
}

func (s *heatSays) hold(by heatBy, value, limit float64) {
	if !s.held {
		*s = heatSays{held: true, by: by, value: value, limit: limit}
	}
}

// Judge rings once for the motors that heat alike, and for one alone where it
// stands out.
func (d *motorHeat) Judge(b *Bench, dst []Finding) []Finding {
	gone := b.Streams[decode.Temp].gone(b.Now)
	for i := range heatMotors(b) {
		if d.says[i].level > None && d.group[i] == 0 && !gone {
			d.gather(b, i)
		}
	}
	for i := range heatMotors(b) {
		w := d.group[i]
		if w == 0 || w&(Motor(i)-1)&^(Motor(0)-1) != 0 {
			continue // none, or told with its first motor
		}
		worst, held := d.worst(b, w)
		if !held {
			d.dissolve(b, w)
			continue
		}
		s := &d.says[worst]
		f := Finding{Where: w, Level: s.level, Value: s.value, Limit: s.limit}
		if s.level > None {
			d.stuck |= standing(b) & w
		}
		if gone { // what is not known has not become better
			f.Level = None
		}
		for j := range heatMotors(b) {
			if w&Motor(j) != 0 && s.level > None {
				d.level[j] = s.level
			}
		}
		dst = append(dst, f)
	}
	return dst
}

// gather makes the group that rings with motor i.
func (d *motorHeat) gather(b *Bench, i int) {
	worst := i
	for j := range heatMotors(b) {
		if d.group[j] == 0 && d.says[j].level > None && d.says[j].past > d.says[worst].past && d.says[j].level >= d.says[worst].level {
			worst = j
		}
	}
	w := Motor(worst)
	for j := range heatMotors(b) {
		if d.group[j] == 0 && d.alike(b, worst, j) {
			w |= Motor(j)
		}
	}
	for j := range heatMotors(b) {
		if w&Motor(j) != 0 {
			d.group[j] = w
		}
	}
}

// alike reports whether motor j heats like motor i, by what motor i rings for.
func (d *motorHeat) alike(b *Bench, i, j int) bool {
	h, o := &d.track[i], &d.track[j]
	if i == j || !o.known {
		return i == j
	}
	switch d.says[i].by {
	case heatByRate:
		return o.sloped && o.slope >= heatAlike*h.slope
	case heatByLevel:
		return o.temp >= h.temp-b.Limits.HeatOver/2
	}
	return false
}

// worst returns the motor of a group that is worst off, and whether any still
// is.
func (d *motorHeat) worst(b *Bench, w Where) (worst int, held bool) {
	worst = -1
	for j := range heatMotors(b) {
		if w&Motor(j) == 0 {
			continue
		}
		s := &d.says[j]
		held = held || s.held
		if worst < 0 || s.level > d.says[worst].level || s.level == d.says[worst].level && (s.past > d.says[worst].past || s.held && !d.says[worst].held) {
			worst = j
		}
	}
	return worst, held
}

func (d *motorHeat) dissolve(b *Bench, w Where) {
	d.stuck &^= w
	for j := range heatMotors(b) {
		if w&Motor(j) != 0 {
			d.group[j], d.level[j] = 0, None
		}
	}
}

// Missing says what the comparison lacks.
func (d *motorHeat) Missing(b *Bench) string {
	s := &b.Streams[decode.Temp]
	var none Where
	n := 0
	for i := range heatMotors(b) {
		if b.Temp[i].OK {
			n++
		} else {
			none |= Motor(i)
		}
	}
	switch {
	case s.Count == 0:
		return b.never(decode.Temp, "no motor temperatures")
	case s.gone(b.Now):
		return stoppedOne[decode.Temp]
	case n == 0:
		return b.without(decode.Temp, "", "temp lines come, but every temperature in them is empty")
	case none != 0:
		return fmt.Sprintf("%s: the temperature is not measured", none)
	case s.Rate() > 0 && float64(rateLeast-1)*s.Period > float64(rateMost):
		return fmt.Sprintf("its rise: the temperatures come too slowly, %.1f a second", s.Rate())
	}
	return ""
}
