package spoil

import (
	"bytes"
	"hash/crc32"
	"strconv"

	"tetherbell/decode"
)

// A bridge is what the bridge's own faults have come to: by how much its
// counters differ from those of the source.
type bridge struct {
	seq   uint16 // is added to seq
	clock uint32 // is added to time, microseconds
	boots uint64 // is added to the boot number
	fresh bool   // it comes up with the next line
	hello []byte // rest of the last such line, behind its time
	craft []byte
	body  []byte // scratch
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// A told line is a good one, taken apart.
type told struct {
	tag, rest []byte // rest: what follows the time, with its comma
	seq       uint16
	time      uint32
}

// apart takes a line apart; ok is false for one that is not good by its
// checksum, which is left as it is.
func apart(l []byte) (t told, ok bool) {
	star := len(l) - 9
	if star < 0 || l[star] != '*' {
		return t, false
	}
	sum, err := strconv.ParseUint(string(l[star+1:]), 16, 32)
	body := l[:star]
	if err != nil || uint32(sum) != crc32.Checksum(body, castagnoli) {
		return t, false
	}
	tag, rest, ok1 := bytes.Cut(body, comma)
	seq, rest, ok2 := bytes.Cut(rest, comma)
	i := bytes.IndexByte(rest, ',')
	if i < 0 {
		i = len(rest)
	}
	n, err1 := strconv.ParseUint(string(seq), 10, 16)
	us, err2 := strconv.ParseUint(string(rest[:i]), 10, 32)
	return told{tag: tag, rest: rest[i:], seq: uint16(n), time: uint32(us)}, ok1 && ok2 && err1 == nil && err2 == nil
}

var comma = []byte(",")

// tell takes a line through the bridge's own faults.
func (s *Spoiler) tell(l []byte, now int64) {
	b := &s.bridge
	t, ok := apart(l)
	if !ok {
		if !s.down(now) {
			s.lines = append(append(s.lines, l...), '\n')
		}
		return
	}
	switch string(t.tag) {
	case "hello":
		b.hello = append(b.hello[:0], t.rest...)
	case "craft":
		b.craft = append(b.craft[:0], t.rest...)
	}
	if s.down(now) {
		return
	}
	if b.fresh {
		b.comeUp(s, &t)
	}
	clock := b.clock
	for i := range s.faults {
		f := &s.faults[i]
		switch {
		case f.Kind == ClockDrift && now > f.From:
			clock += uint32(int64(float64(min(now, f.To)-f.From) * f.Value / 1e6))
			s.count[ClockDrift]++
		case f.Kind == ClockStep && now >= f.From && !f.happened && f.Value != 0:
			f.happened = true
			s.count[ClockStep]++
			step := uint32(int64(f.Value * 1000))
			b.clock += step
			clock += step
		}
	}
	s.lines = b.append(s.lines, t.tag, t.seq, t.time+clock, t.rest)
	for i := range s.faults {
		if f := &s.faults[i]; f.Kind == Flood && f.at(now) {
			for f.owed += f.Value - 1; f.owed >= 1; f.owed-- {
				b.seq++
				s.count[Flood]++
				s.lines = b.append(s.lines, fill, t.seq, t.time+clock, filler)
			}
		}
	}
}

// A filler line has a tag that nobody knows, and the length of a usual line.
var fill, filler = []byte("fill"), []byte(",0,0,0,0,0,0,0,0,0,0")

// down reports whether the bridge is down, and notes that it goes down.
func (s *Spoiler) down(now int64) bool {
	down := false
	for i := range s.faults {
		f := &s.faults[i]
		if f.Kind != Restart || now < f.From {
			continue
		}
		if !f.happened {
			f.happened = true
			s.count[Restart]++
			s.bridge.fresh = true
			s.bridge.boots++
		}
		down = down || now < f.From+int64(f.Value*1e6)
	}
	return down
}

// comeUp lets the bridge begin anew with the line that comes next: clock and
// counter stand at nought, and it says hello first.
func (b *bridge) comeUp(s *Spoiler, t *told) {
	b.fresh = false
	b.seq, b.clock = -t.seq, -t.time
	for i := range s.faults { // a drift begins at nought too
		if f := &s.faults[i]; f.Kind == ClockDrift && s.due > f.From {
			b.clock -= uint32(int64(float64(min(s.due, f.To)-f.From) * f.Value / 1e6))
		}
	}
	first := [...]struct{ tag, rest []byte }{{[]byte("hello"), b.hello}, {[]byte("craft"), b.craft}}
	for _, l := range first {
		if len(l.rest) > 0 && !bytes.Equal(l.tag, t.tag) {
			s.lines = b.append(s.lines, l.tag, t.seq, 0, l.rest)
			b.seq++
		}
	}
}

// append writes a line with the bridge's counters.
func (b *bridge) append(dst, tag []byte, seq uint16, time uint32, rest []byte) []byte {
	from := len(dst)
	dst = append(append(dst, tag...), ',')
	dst = strconv.AppendUint(dst, uint64(seq+b.seq), 10)
	dst = append(dst, ',')
	dst = strconv.AppendUint(dst, uint64(time), 10)
	if b.boots > 0 && string(tag) == "hello" {
		rest = b.booted(rest)
	}
	dst = append(dst, rest...)
	return decode.AppendChecksum(dst, from)
}

// booted returns what a hello says with the boot number of now.
func (b *bridge) booted(rest []byte) []byte {
	i := bytes.LastIndexByte(rest, ',')
	n, err := strconv.ParseUint(string(rest[i+1:]), 10, 32)
	if err != nil {
		return rest
	}
	b.body = append(b.body[:0], rest[:i+1]...)
	b.body = strconv.AppendUint(b.body, uint64(uint32(n+b.boots)), 10)
	return b.body
}
