package main

import (
	"errors"

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
	last   int64 // newest tick, ms
	anew   bool  // another recording begins: one that was put together from several
	past   int64 // length of those before it, ms
	now    int64
	bad    uint64 // lines of the wire, where it goes by the bridge's clock
	other  uint64 // of them, of another protocol version
	bridge uint64 // whose lines come; its clock counts where it is the first
	good   uint64
}

// due takes the next item.
func (p *pace) due(it *link.Item) int64 {
	switch {
	case it.Kind == link.Header:
		p.anew = p.begun
	case it.Kind == link.At:
		p.tick(it.MS)
	case it.Kind == link.Bridge:
		p.bridge = it.Count
	case it.Kind == link.Lost:
		p.stream.Misses()
	case it.Kind == link.Wire && !p.ticks && p.bridge <= 1:
		p.line(it.Line)
	}
	return p.now
}

// tick takes the host's clock. Only where another recording begins may it step back:
// else it is a tick that was damaged.
func (p *pace) tick(ms int64) {
	if !p.begun {
		p.begun, p.first = true, ms
	}
	if p.anew && ms < p.last {
		p.past += p.last - ms
	}
	p.last, p.anew = ms, false
	if p.ticks {
		p.now = max(p.now, (ms+p.past-p.first)*1000)
	}
}

func (p *pace) line(l []byte) {
	err := p.dec.Decode(l, &p.s)
	var bad *decode.LineError
	switch {
	case err == nil:
		p.good++
		if step := p.stream.Next(&p.s, -1); step.DT > 0 {
			p.now += step.DT
		}
	case errors.As(err, &bad):
		p.bad++
		if bad.Cause == decode.OtherVersion {
			p.other++
		}
	}
}
