package main

import (
	"fmt"
	"math"

	"tetherbell/alarms"
	"tetherbell/decode"
	"tetherbell/link"
)

// several is what a desk knows of several bridges. All is empty where there is
// one. Bridges are counted from 1.
type several struct {
	names  []string
	cuts   []link.Splitter
	owners decode.Owners
	from   int               // whose lines come now
	us     int64             // the host's time of their piece, microseconds
	next   piecePlace        // of a piece whose first line has not come
	news   func(also string) // a bridge sends what is another's; nil: nobody asks
	now    func() int64      // engine time; nil: nobody asks
	rows   []wayRow          // what there is to be said of that, and of what passed on
	untold int               // how often no more was kept of it

	otherVersion [decode.MaxBridges]uint64 // lines of another protocol version, of each
}

// A piecePlace says where a piece came from: its bridge, 0 for none, and the
// host's time of its reading, microseconds.
type piecePlace struct {
	bridge int
	us     int64
}

// useBridges sits a desk down before several bridges.
func (d *desk) useBridges(names []string) {
	d.many.names, d.many.cuts = names, make([]link.Splitter, len(names))
}

// feedFrom takes the next bytes of a bridge, read at a time of the host's clock.
func (d *desk) feedFrom(bridge int, us int64, p []byte) {
	d.bytes += uint64(len(p))
	d.many.next = piecePlace{bridge, us}
	d.many.cuts[bridge-1].Feed(p, d.onLine)
	d.many.next = piecePlace{}
}

// unplugFrom ends the line that was being heard of a bridge.
func (d *desk) unplugFrom(bridge int, us int64) {
	d.many.next = piecePlace{bridge, us}
	d.many.cuts[bridge-1].Unplug(d.onLine)
	d.many.next = piecePlace{}
}

// due says where the lines of a piece come from, before the first of them.
func (m *several) due(d *desk) {
	if m.next.bridge > 0 {
		d.from(m.next.bridge, m.next.us)
		m.next = piecePlace{}
	}
}

// turn says that the lines that follow are of a bridge, in a piece that was read at a
// time of the host's clock.
func (m *several) turn(bridge int, us int64) { m.from, m.us = bridge, us }

// from says that the lines that follow are of a bridge.
func (d *desk) from(bridge int, us int64) {
	d.many.turn(bridge, us)
	if d.rec != nil {
		d.rec.Bridge(bridge, us)
	}
	d.eng.From(bridge, us)
	if d.acc != nil {
		d.acc.From(bridge, us)
	}
	d.cmp.turn(bridge, us)
}

// reject counts a bad line of one of several bridges.
func (m *several) reject(cause decode.Cause) {
	if cause == decode.OtherVersion && m.from > 0 {
		m.otherVersion[m.from-1]++
	}
}

func (m *several) name(bridge int) string {
	if bridge <= len(m.names) {
		return m.names[bridge-1]
	}
	return fmt.Sprintf("bridge %d", bridge)
}

// forget drops the unfinished lines at the end of the input.
func (d *desk) forget() {
	d.cut.Forget()
	for i := range d.many.cuts {
		d.many.cuts[i].Forget()
	}
}

// clockWords say how a bridge's clock stands to the one that counts.
func clockWords(b *alarms.BridgeView) (text string) {
	way := func(v float64, over, under string) string {
		if v < 0 {
			return under
		}
		return over
	}
	if b.Clocked {
		text = fmt.Sprintf(", clock %s by %.4f s ± %.4f", way(b.Offset, "ahead", "behind"), math.Abs(b.Offset), b.OffsetUnsure)
	}
	if b.Drifts {
		text += fmt.Sprintf(", %s by %.1f ppm ± %.1f", way(b.Drift, "fast", "slow"), math.Abs(b.Drift), b.DriftUnsure)
	}
	return text
}

// bridgeLines word what each of several bridges came to.
func (d *desk) bridgeLines() []string {
	var out []string
	for i, b := range d.eng.Bridges() {
		line := "  " + b.Name + ": "
		switch {
		case !b.Heard && b.Bad == 0:
			if len(d.many.names) > 0 {
				out = append(out, line+"nothing was heard")
			}
			continue
		default:
			line += fmt.Sprintf("%d good lines, %d bad, %d lost", b.Lines, b.Bad, b.Lost)
			if n := d.many.otherVersion[i]; n > 0 {
				line += fmt.Sprintf(" (%d of another protocol version than %d)", n, decode.Version)
			}
		}
		if b.Reference {
			line += ", its clock is the one that counts"
		}
		out = append(out, line+clockWords(&b))
	}
	for i := range d.many.rows {
		out = append(out, "  "+d.many.rows[i].text(&d.many, d.many.rows[i].tags))
	}
	if n := d.many.untold; n > 0 {
		out = append(out, fmt.Sprintf("  and %d times more what comes from where", n))
	}
	return out
}
