package detect

import (
	"fmt"

	"tetherbell/decode"
)

// marginLook is the time between two looks. Each takes one octave of one axis:
// with six octaves all have had their turn after 1.8 s, which is soon enough
// for windows of ten seconds and more, and spreads the work.
const marginLook = Second / 10

// lowMargin tells of a stable loop that rings on noise near its margin.
type lowMargin struct {
	axes  [3]marginAxis
	lines marginLines
	fit   *ringFit // of the axis that is looked at
	other *ringFit // of another beside it
	armed Tri
	next  int64 // engine time of the next look
	turn  int   // axis that is looked at then
}

// NewLowMargin returns the detector of low-margin.
func NewLowMargin() Forerunner {
	return &lowMargin{lines: marginLines{speeds: newSpeeds(marginPast, marginLineEvery)}, fit: newRingFit(mostEnvelope), other: newRingFit(mostEnvelope)}
}

func (*lowMargin) Kind() Kind { return LowMargin }

// Reset drops all windows.
func (d *lowMargin) Reset() {
	for i := range d.axes {
		d.axes[i].clear()
	}
}

// Observe takes one sample.
func (d *lowMargin) Observe(b *Bench, in *Input) {
	switch in.S.Tag {
	case decode.State:
		if b.Armed != d.armed {
			if b.Armed == No || d.armed == No {
				d.Reset()
			}
			d.armed = b.Armed
		}
	case decode.ERPM:
		d.lines.set(b)
	case decode.Axes:
		if b.Armed == No {
			return
		}
		for i := range d.axes {
			d.axes[i].take(b, i, in)
		}
		if b.Now >= d.next {
			d.next = b.Now + marginLook
			d.look(b)
		}
	}
}

// look takes the next axis, and of it the next octave.
func (d *lowMargin) look(b *Bench) {
	i := d.turn
	d.turn = (d.turn + 1) % len(d.axes)
	a := &d.axes[i]
	if len(a.levels) == 0 {
		return
	}
	a.next = (a.next + 1) % len(a.levels)
	d.examine(i, a.next, b.Now, a.source.limit(b))
}

// Judge tells the strongest ringing of each axis.
func (d *lowMargin) Judge(b *Bench, dst []Finding) []Finding {
	if b.Armed == No {
		return dst
	}
	for i := range d.axes {
		a := &d.axes[i]
		var by *marginTone
		for _, l := range a.levels {
			if t := &l.now; t.up && (by == nil || t.told.power > by.told.power) {
				by = t
			}
		}
		if by == nil {
			continue
		}
		a.story = by.told
		f := Finding{Where: Axis(i), Level: Low, Value: by.told.damping, Limit: mostMargin}
		if !by.passed {
			f.Level = None // it may be better now, but that is not sure yet
		}
		dst = append(dst, f)
	}
	return dst
}

// marginTelling is what a story of ringing is made of.
type marginTelling [3]struct {
	ringingNow
	rateOnly bool
}

func (d *lowMargin) telling() (t marginTelling) {
	for i := range d.axes {
		t[i].ringingNow, t[i].rateOnly = d.axes[i].story, d.axes[i].main == sigY
	}
	return t
}

// Telling keeps what Describe needs.
func (d *lowMargin) Telling(last Teller) Teller {
	return kept(last, d.telling())
}

// Describe tells frequency and damping with its standard error.
func (d *lowMargin) Describe(b *Bench, f Finding) Story {
	t := d.telling()
	return t.Describe(b, f)
}

// Describe tells frequency and damping with its standard error.
func (t *marginTelling) Describe(_ *Bench, f Finding) Story {
	r := &t[axisOf(f.Where)]
	s := Story{
		Unit: "1", Cause: "loop gain near its margin", Action: "lower the gains before you go on",
		Text: fmt.Sprintf("%s rings on noise at %.1f Hz with a damping ratio of %.3f +- %.3f: little margin",
			f.Where, r.hz, r.damping, r.err),
		More: []Fact{
			{"frequency_hz", r.hz}, {"damping_ratio", r.damping}, {"damping_error", r.err}, {"amplitude", r.power},
		},
	}
	if r.rateOnly {
		s.More = append(s.More, Fact{"less_sure", "controller output is not measured"})
	}
	return s
}

// Missing tells what is not watched of the band.
func (d *lowMargin) Missing(b *Bench) string {
	s := &b.Streams[decode.Axes]
	if why := axesLack(b, marginPace); why != "" {
		return why
	}
	for i := range d.axes {
		if !b.Ctrl[i].OK && !b.Rate[i].OK {
			return notMeasured(i)
		}
	}
	return bandLack(s)
}
