package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"

	"tetherbell/decode"
	"tetherbell/link"
)

// outlineBytes is how much of a recording's beginning is looked at: nearly a
// second of the fastest port there is, and minutes of a slow one. The bridge has
// said by then what its craft is and how it is set.
const outlineBytes = 256 << 10

// An outline is what a short look at the beginning and the end of a recording
// tells.
type outline struct {
	head    head
	ticks   bool          // the host's clock is in it
	first   int64         // the first tick, ms
	length  int64         // microseconds
	known   bool          // the length is: all of it was looked at, or it has ticks
	begun   bool          // a good line was seen
	beganAt int64         // when it is due, microseconds since the start
	bridge  uint32        // its bridge time
	ref     uint64        // of several bridges, whose it is: engine time goes by its clock; 0: there is one
	damage  error         // what could not be read of that, in a compressed one; nil: nothing
	lore    [][]byte      // lines of the beginning that tell of bridge, craft and settings
	owners  decode.Owners // of the kinds of line in it, where there are several bridges
	many    bool          // there are
}

// outlineOf looks at a recording without judging it, and goes back to its
// beginning. What has no good line is refused.
func outlineOf(ctx context.Context, f io.ReadSeeker, name string) (outline, error) {
	var o outline
	k := outliner{outline: &o, byTick: pace{ticks: true}}
	if err := k.begin(f); err != nil {
		return o, readError(ctx, "recording", name, err)
	}
	if d, ok := f.(interface{ Damage() error }); ok {
		o.damage = d.Damage()
	}
	if !o.begun && o.damage != nil {
		return o, damaged(name, f)
	}
	if !o.begun {
		return o, noGoodLine(name, false, k.bytes == 0, k.byBridge.bad, k.byBridge.other)
	}
	if err := k.end(f); err != nil {
		return o, readError(ctx, "recording", name, err)
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return o, fmt.Errorf("read recording %s: %w", name, err)
	}
	return o, nil
}

// An outliner looks at a recording.
type outliner struct {
	*outline
	byTick, byBridge pace
	whole            bool // the recording ended within its beginning
	bytes            int64
	us               int64 // the host's time of the piece, where there are several bridges
	it               link.Item
	s                decode.Sample
}

// begin reads the beginning: up to the first good line, however far that is,
// and then what tells of the craft.
func (k *outliner) begin(r io.Reader) error {
	w := link.NewWalker(r, 0)
	for !k.begun || w.Offset() < outlineBytes {
		at, err := w.Next(&k.it)
		if k.bytes = w.Bytes(); errors.Is(err, io.EOF) {
			k.whole = true
			return nil
		}
		if err != nil {
			return err
		}
		k.take(at == 0)
	}
	return nil
}

// take notes one line.
func (k *outliner) take(first bool) {
	if first {
		k.head = headOf(&k.it)
	}
	due := k.byTick.due(&k.it)
	k.byBridge.due(&k.it)
	if k.it.Kind == link.Bridge {
		k.us = k.it.US
	}
	if k.it.Kind == link.At && !k.ticks {
		k.ticks, k.outline.first = true, k.it.MS
	}
	if k.it.Kind != link.Wire || k.byBridge.dec.Decode(k.it.Line, &k.s) != nil {
		return
	}
	if !k.begun {
		k.begun, k.beganAt, k.bridge, k.ref = true, due, k.s.Time, k.byTick.bridge
	}
	if n := k.byTick.bridge; n > 0 {
		k.many = true
		k.owners.Take(int(n), k.us, &k.s) // another's craft is no lore
	}
	switch k.s.Tag {
	case decode.Hello, decode.Craft, decode.Set:
		k.lore = append(k.lore, slices.Clone(k.it.Line))
	}
}

// end looks at the end, where that was not seen yet.
func (k *outliner) end(f io.ReadSeeker) error {
	if k.whole {
		k.known, k.length = true, k.byBridge.now
		if k.ticks {
			k.length = k.byTick.now
		}
		return nil
	}
	last, ok, err := link.LastAt(f)
	if err != nil || !ok && !k.ticks {
		return err
	}
	if !k.ticks { // its clock came late
		p, _, err := link.FindAt(f, 0)
		if err != nil {
			return err
		}
		k.ticks, k.outline.first = true, p.MS
	}
	if ok {
		k.known, k.length = true, max(k.byTick.now, (last.MS-k.outline.first)*1000)
	}
	return nil
}

// counts reports whether engine time goes by the clock of a bridge; 0: there is
// one, or it is not said.
func (o *outline) counts(bridge uint64) bool { return max(bridge, 1) == max(o.ref, 1) }

// engineAt works out the engine time of a good line in the midst: bridge time
// since the first one. Which round of the bridge's clock it is in, the host's
// clock tells; where the two do not go together, the bridge has begun anew in
// between, and the host's has to do.
func (o *outline) engineAt(place int64, bridge uint32) int64 {
	const round = int64(1) << 32
	host := max(0, place-o.beganAt)
	t := int64(bridge - o.bridge)
	t += (host - t + round/2) / round * round
	if d := t - host; d > clockSlack+host/clockOff || -d > clockSlack+host/clockOff {
		return host
	}
	return max(0, t)
}

const (
	// clockOff and clockSlack: a bridge without a crystal runs up to a hundredth
	// off the host's clock (common practice, no source), and a line may wait a
	// while on its way.
	clockOff   = 100
	clockSlack = 1_000_000
)
