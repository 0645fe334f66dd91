package detect

import (
	"fmt"
	"math"

	"tetherbell/decode"
)

// Happenings of rotor-line that may follow each other at one place.
const (
	lineApart  uint8 = 1 // a rotor's speed is not what its output explains
	lineFolded uint8 = 2 // a line folds into the band of oscillations
	// lineNamed and over: the pole count that fits, where the craft says another.
	lineNamed uint8 = 64
	// lineFound and over: the same where the craft says none.
	lineFound uint8 = 128
)

// RotorLineDetector tells where the rotors' vibration is not where their
// speeds put it: it measures the lines that each rotor makes once and twice a
// turn and as its blades pass, in body rates and specific force, folded where
// a stream is slow, and weighs which pole count explains them.
type RotorLineDetector struct {
	spec  *spectra
	rate  *lineEar
	force *lineEar
	turns turns
	fit   lineFit
	level lineLevels
	fold  lineFolds
	apart rotorsApart

	hz, spread [decode.MaxMotors]float64 // of the segment in hand
	poles      int                       // that levels were measured with
	fastest    float64                   // electrical turns a second that were seen
	fresh      bool
	named      int // count that rings, 0 none
}

// NewRotorLine returns the detector of rotor-line.
func NewRotorLine() *RotorLineDetector {
	d := &RotorLineDetector{spec: newSpectra(), apart: newRotorsApart()}
	d.rate, d.force = newLineEar(d.spec), newLineEar(d.spec)
	d.Reset()
	return d
}

// Kind is RotorLine.
func (*RotorLineDetector) Kind() Kind { return RotorLine }

// Reset drops every window and all that was heard.
func (d *RotorLineDetector) Reset() {
	d.rate.clear()
	d.force.clear()
	d.turns.n = 0
	d.fit.clear()
	d.level = lineLevels{}
	d.fold.clear()
	d.apart.clear()
	d.poles, d.fastest, d.named, d.fresh = 0, 0, 0, false
}

// Observe fills the segments and weighs those that are whole.
func (d *RotorLineDetector) Observe(b *Bench, in *Input) {
	switch in.S.Tag {
	case decode.ERPM:
		d.turns.take(b, in.At)
		d.apart.speed.take(&b.ERPM, b.Motors, in.At)
	case decode.Out:
		d.apart.out.take(&b.Out, b.Motors, in.At)
	case decode.Axes:
		if d.rate.take(&b.Streams[decode.Axes], &b.Rate, in.At) {
			d.segment(b, 0, d.rate)
		}
	case decode.Accel:
		if d.force.take(&b.Streams[decode.Accel], &b.Force, in.At) {
			d.segment(b, 1, d.force)
		}
	}
}

// segment takes a whole segment of one stream.
func (d *RotorLineDetector) segment(b *Bench, ear int, e *lineEar) {
	motors := min(b.Motors, decode.MaxMotors)
	turning := false
	for m := range motors {
		d.hz[m], d.spread[m] = d.turns.mean(m, e.from, e.to)
		if d.hz[m] > 0 {
			turning = true
			d.fastest = max(d.fastest, d.hz[m])
		}
	}
	if !turning {
		return
	}
	o, n := orders(b)
	e.hear()
	d.fit.claim(b.Craft.Poles)
	d.fit.weigh(ear, e, &d.hz, &d.spread, o, n, motors)
	d.fit.decide(motors, b.Craft.Blades)
	d.fresh = true
	if p := d.fit.trusted(); p != d.poles {
		d.poles = p
		d.level = lineLevels{}
		d.fold.clear()
	}
	if d.poles == 0 {
		return
	}
	d.level.measure(e, ear == 1, &d.hz, &d.spread, o, n, motors, d.poles)
	if ear == 0 {
		d.fold.take(b, e, &d.hz, &d.spread, o, n, motors, d.poles)
	}
}

// Judge rings where another pole count fits, where a line folds into the band
// of oscillations, and where a rotor's speed stands apart.
func (d *RotorLineDetector) Judge(b *Bench, dst []Finding) []Finding {
	had := len(dst)
	dst = d.judgePoles(b, dst)
	// One alarm has one place: while another pole count rings there, nothing is
	// said of folds, which follow from the count.
	if is, held := d.fold.judge(b); held && len(dst) == had {
		f := Finding{Where: Craft, Value: d.fold.at / d.fold.hz, Limit: 1, Case: lineFolded}
		if is {
			f.Level = Low
		}
		dst = append(dst, f)
	}
	if m, ratio, level := d.apart.judge(b); m >= 0 {
		limit := 1 - apartShare
		if ratio > 1 {
			limit = 1 + apartShare
		}
		dst = append(dst, Finding{Where: Motor(m), Level: level, Value: ratio, Limit: limit, Case: lineApart})
	}
	return dst
}

// judgePoles compares what fits best with what the craft says.
func (d *RotorLineDetector) judgePoles(b *Bench, dst []Finding) []Finding {
	f := &d.fit
	if d.fresh {
		d.fresh = false
		by := math.Inf(1)
		if f.stated >= 0 {
			by = f.score[f.best] - f.score[f.stated]
		}
		switch {
		case f.told() && by >= lead && d.fastEnough(b):
			d.named = f.poles[f.best]
		case d.named != 0 && (by < leadEnd || f.told() && f.poles[f.best] != d.named):
			d.named = 0
		}
	}
	if d.named == 0 || d.named == b.Craft.Poles {
		return dst
	}
	if b.Craft.Poles == 0 {
		return append(dst, Finding{Where: Craft, Level: Note, Value: 1, Limit: 1, Case: lineFound + uint8(d.named)})
	}
	return append(dst, Finding{Where: Craft, Level: Low, Value: float64(b.Craft.Poles) / float64(d.named), Limit: 1, Case: lineNamed + uint8(d.named)})
}

// leastPerTurn is how many lines of a stream a turn of the rotor needs, for
// its line to stand well below half the pace.
const leastPerTurn = 2.5

// fastEnough reports whether the faster stream shows once a turn unfolded, by
// the count that fits best.
func (d *RotorLineDetector) fastEnough(b *Bench) bool {
	best := d.fit.poles[d.fit.best]
	return best > 0 && d.pace(b) >= leastPerTurn*d.turn(best)
}

// turn is once a turn of the fastest rotor so far, by a pole count.
func (d *RotorLineDetector) turn(poles int) float64 { return d.fastest * 2 / float64(poles) }

// pace is that of the faster of the streams that are heard.
func (*RotorLineDetector) pace(b *Bench) float64 {
	pace := 0.0
	for _, tag := range [...]decode.Tag{decode.Axes, decode.Accel} {
		if s := &b.Streams[tag]; s.Steady {
			pace = max(pace, s.Rate())
		}
	}
	return pace
}

// Missing says what the lines cannot be heard without.
func (d *RotorLineDetector) Missing(b *Bench) string {
	known := false
	for i := range b.Motors {
		known = known || b.ERPM[i].OK
	}
	axes, accel := &b.Streams[decode.Axes], &b.Streams[decode.Accel]
	switch {
	case !known:
		return noSpeeds(b)
	case b.Doubt[decode.ERPM] != "":
		return b.Doubt[decode.ERPM]
	case axes.Count+accel.Count == 0:
		return noShake(b, "neither body rates nor specific force")
	case d.pace(b) == 0:
		return noShake(b, "no stream of body rates or specific force with a steady pace")
	}
	poles := b.Craft.Poles
	if d.fit.told() {
		poles = d.fit.trusted()
	}
	if poles > 0 {
		if hz := d.turn(poles); d.pace(b) < leastPerTurn*hz {
			hz = 10 * math.Ceil(hz/10) // in steps, so that a ramp does not say it anew and anew
			return noShake(b, fmt.Sprintf("the rotors turn up to %.0f times a second: that takes a stream of %.0f a second, and the fastest has %.0f", hz, leastPerTurn*hz, d.pace(b)))
		}
	}
	return ""
}

// noShake words what is missing of the streams that show how the craft shakes: one
// that comes under a wrong name does before the pace of the other.
func noShake(b *Bench, otherwise string) string {
	return b.never(decode.Axes, b.never(decode.Accel, otherwise))
}

// View tells what is known of the lines. It allocates nothing.
func (d *RotorLineDetector) View(b *Bench) LineView {
	f := &d.fit
	v := LineView{
		Motors: min(b.Motors, decode.MaxMotors), Lines: d.level.line, Stated: b.Craft.Poles,
		AxesRate: b.Streams[decode.Axes].Rate(), AccelRate: b.Streams[decode.Accel].Rate(),
		G: d.level.g, MMS: d.level.mms, Agree: f.agree, Speak: f.speak,
	}
	v.Order, v.Orders = orders(b)
	if f.segments > 0 {
		v.Poles, v.Likelihood, v.Sure = f.poles[f.best], f.sure, f.told()
	}
	v.Trend, v.TrendOK = d.level.trend()
	return v
}
