package alarms

import (
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// A BridgeView shows one of several bridges.
type BridgeView struct {
	Name             string
	Heard            bool // a good line came
	Reference        bool // its time is the engine's
	Lines, Bad, Lost uint64
	Bytes            uint64
	SilentUS         int64
	Rate             float64 // lines a second of the kinds that are taken from it
	All              float64 // good lines a second that it sends, over the last second
	Unused           bool    // all that it sends is taken from another
	Tags             uint32  // kinds of line that are taken from it, a bit each
	// Offset is how far its clock is ahead of the reference's, in seconds, and
	// Drift how much faster it runs, in millionths; each with what it may be off
	// in nineteen of twenty cases. What a line needs at least on its way is not
	// seen, and is taken to be the same for both.
	Offset, OffsetUnsure float64
	Drift, DriftUnsure   float64
	Clocked              bool // Offset is known
	Drifts               bool // Drift is
}

// Bridges tells of several bridges; nil where there is one.
func (e *Engine) Bridges() []BridgeView {
	c := &e.course
	if c.bench.Bridges == nil {
		return nil
	}
	out := make([]BridgeView, 0, len(c.bench.Bridges))
	for i := range c.bench.Bridges {
		b := &c.bench.Bridges[i]
		v := BridgeView{
			Name: b.Name, Heard: b.Heard, SilentUS: b.Silent,
			Lines: b.Link.Good, Bad: b.Link.Bad, Lost: b.Link.Lost, Bytes: b.Link.Bytes,
			Unused: b.Heard && !b.Supplies(), Tags: b.Tags,
		}
		if c.clock.many != nil {
			v.All = c.clock.many.all[i].pace.rate(c.bench.Now)
		}
		for tag := range c.bench.Streams {
			if b.Tags&(1<<tag) != 0 && decode.Tag(tag) != decode.Hello {
				v.Rate += c.bench.Streams[tag].Rate()
			}
		}
		if c.clock.many != nil && b.Heard {
			v.clock(&c.clock, i)
		}
		out = append(out, v)
	}
	return out
}

// mute are the bridges that were named and were never heard, once there was time
// enough: what they carry is not watched, whatever it is.
func (e *Engine) mute() (out []Lack) {
	c := &e.course
	for i := range c.bench.Bridges {
		b := &c.bench.Bridges[i]
		if !b.Named || b.Heard || c.bench.Now < coverGrace {
			continue
		}
		why := "nothing was ever heard from this bridge: nobody knows what it carries"
		if b.Link.Bad > 0 {
			why = "no good line ever came from this bridge: nobody knows what it carries"
		}
		out = append(out, Lack{b.Name, why})
	}
	return out
}

// clock fills in what is known of a bridge's clock.
func (v *BridgeView) clock(c *clock, i int) {
	m := c.many
	if v.Reference = i == m.ref; v.Reference || m.ref < 0 {
		return
	}
	b, r := &m.all[i], &m.all[m.ref]
	if !b.env.heard || !r.env.heard {
		return
	}
	// Both clocks at the engine time of the bridge's newest line; the reference's
	// runs with the engine's. Modulo 2^32, as they do themselves.
	at := c.meets(b.own + b.env.offset(b.own))
	ahead := int32(b.stream.Newest() - c.stream.Newest() - uint32(at-c.line))
	v.Offset, v.Clocked = float64(ahead)/float64(detect.Second), true
	v.OffsetUnsure = float64(b.env.unsure()+r.env.unsure()) / float64(detect.Second)
	own, ownUnsure, ok := b.env.slopePPM()
	ref, refUnsure, refOK := r.env.slopePPM()
	v.Drifts = ok && refOK
	v.Drift, v.DriftUnsure = ref-own, ownUnsure+refUnsure
}
