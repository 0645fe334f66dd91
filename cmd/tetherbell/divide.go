package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"tetherbell/decode"
)

const (
	// standAhead is how far the second bridge's clock lies ahead: as one that
	// was switched on long before.
	standAhead = 1_234_500_000 // us
	// standName is what the second bridge calls itself.
	standName = "bench-stand"
)

// A divider makes two bridges of one: lines of some tags go to the second, with
// a counter and a clock of its own. It stands in the way of the lines both as
// their source, to know the time, and as what they are written to.
type divider struct {
	lineSource
	first, second io.Writer
	tags          [decode.TagCount]bool // of the second
	ppm           float64               // that its clock is fast
	ahead         int64                 // that it is ahead, us

	dec    decode.Decoder
	sample decode.Sample
	moved  uint16 // lines of the first's counter that went to the second
	seq    uint16 // of the second
	until  int64  // end of the slice before this one, us
	now    int64  // end of this one
	began  bool
	time   uint32 // of the bridge, of its newest line
	since  int64  // the same since the start, us
	out    [2][]byte
	helloS float64 // when the second is to say hello, s
}

// dividedTags reads a list of tags.
func dividedTags(list string) (out [decode.TagCount]bool, err error) {
	for _, name := range strings.Split(list, ",") {
		found := false
		for tag := decode.Axes; tag <= decode.State; tag++ {
			if tag.String() == strings.TrimSpace(name) {
				out[tag], found = true, true
			}
		}
		if !found {
			return out, hinted(usagef("--tags2: no stream is called %q", name), "as in --tags2 load,temp,pack")
		}
	}
	return out, nil
}

// Next hands on what the source gives.
func (d *divider) Next(dst []byte) (out []byte, untilUS int64, done bool) {
	d.until = d.now
	out, untilUS, done = d.lineSource.Next(dst)
	d.now = untilUS
	return out, untilUS, done
}

// Write divides whole lines.
func (d *divider) Write(p []byte) (int, error) {
	d.out[0], d.out[1] = d.out[0][:0], d.out[1][:0]
	for rest := p; len(rest) > 0; {
		line := rest
		if i := bytes.IndexByte(rest, '\n'); i >= 0 {
			line = rest[:i+1]
		}
		rest = rest[len(line):]
		d.line(line)
	}
	for i, w := range []io.Writer{d.first, d.second} {
		if len(d.out[i]) == 0 {
			continue
		}
		if _, err := w.Write(d.out[i]); err != nil {
			return 0, fmt.Errorf("bridge %d: %w", i+1, err)
		}
	}
	return len(p), nil
}

// line sends one line the way it goes. What is spoiled stays with the first,
// whose counter shows what is missing.
func (d *divider) line(line []byte) {
	s := &d.sample
	if d.dec.Decode(bytes.TrimSuffix(line, []byte{'\n'}), s) != nil {
		d.out[0] = append(d.out[0], line...)
		return
	}
	d.clock(s)
	if sec := float64(d.since) / 1e6; sec >= d.helloS {
		d.helloS = sec + 1
		h := decode.Sample{Tag: decode.Hello, Text: []byte(standName)}
		h.Put(decode.HelloVersion, decode.Version)
		h.Put(decode.HelloBoot, 1)
		d.toSecond(&h)
	}
	if d.tags[s.Tag] {
		d.moved++
		d.toSecond(s)
		return
	}
	s.Seq -= d.moved
	d.out[0] = decode.Append(d.out[0], s)
}

// clock keeps the time since the start, over a restart of the bridge too.
func (d *divider) clock(s *decode.Sample) {
	dt := int64(int32(s.Time - d.time))
	switch {
	case !d.began:
		d.began = true
	case dt < 0: // it began anew, with its counter at nought
		d.since = max(d.since, d.until)
		d.moved = 0
	default:
		d.since += dt
	}
	d.time = s.Time
}

// toSecond sends a line of the second bridge.
func (d *divider) toSecond(s *decode.Sample) {
	s.Seq = d.seq
	d.seq++
	s.Time = uint32(d.ahead + d.since + int64(float64(d.since)*d.ppm/1e6))
	d.out[1] = decode.Append(d.out[1], s)
}
