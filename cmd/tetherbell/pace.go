package main

import (
	"errors"
	"fmt"
	"io"

	"tetherbell/decode"
	"tetherbell/link"
)

// A pace tells when each line of a recording is due, in microseconds since
// its start: by the host's ticks where the recording has them, else by the
// bridge's own clock. A line between two ticks is due with the first of them.
type pace struct {
	ticks  bool // there are ticks to go by
	dec    decode.Decoder
	stream decode.Stream
	s      decode.Sample
	first  int64 // first tick, ms
	begun  bool
	now    int64
}

// due takes the next item.
func (p *pace) due(it *link.Item) int64 {
	switch {
	case it.Kind == link.At:
		if !p.begun {
			p.begun, p.first = true, it.MS
		}
		if p.ticks {
			p.now = max(p.now, (it.MS-p.first)*1000)
		}
	case it.Kind == link.Wire && !p.ticks && p.dec.Decode(it.Line, &p.s) == nil:
		if step := p.stream.Next(&p.s, -1); step.DT > 0 {
			p.now += step.DT
		}
	}
	return p.now
}

// An outline is what one look through a recording tells.
type outline struct {
	head   head
	ticks  bool
	length int64 // microseconds
	wire   int   // lines of the wire
}

// outlineOf reads a recording once, without judging it, and goes back to its
// beginning.
func outlineOf(f io.ReadSeeker, name string) (outline, error) {
	var o outline
	byTick, byBridge := pace{ticks: true}, pace{}
	s := link.NewSession(f)
	var it link.Item
	for n := 0; ; n++ {
		err := s.Next(&it)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return o, fmt.Errorf("read recording %s: %w", name, err)
		}
		if n == 0 {
			o.head = headOf(&it)
		}
		o.ticks = o.ticks || it.Kind == link.At
		if it.Kind == link.Wire {
			o.wire++
		}
		byTick.due(&it)
		byBridge.due(&it)
	}
	o.length = byBridge.now
	if o.ticks {
		o.length = byTick.now
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return o, fmt.Errorf("read recording %s: %w", name, err)
	}
	return o, nil
}
