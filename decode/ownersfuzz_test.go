package decode

import (
	"encoding/binary"
	"math/bits"
	"testing"
)

// FuzzOwners takes any lines at any ports and times: ten bytes each, a port and a tag,
// what is to be done with the times, and by how much. Whatever comes, a line keeps what
// it says or is set aside, each port has one bridge and each bridge one port, and one
// bridge alone is left alone.
func FuzzOwners(f *testing.F) {
	line := func(port, tag, how byte, host, clock uint32) []byte {
		b := []byte{port<<4 | tag, how}
		return binary.LittleEndian.AppendUint32(binary.LittleEndian.AppendUint32(b, host), clock)
	}
	f.Add([]byte{})
	f.Add(append(line(1, byte(Axes), 0, 5000, 5000), line(2, byte(Load), 0, 5000, 1<<31)...))
	var swap, wrap []byte
	for i := range uint32(60) { // there and back; the clock goes round
		port := byte(1 + i/20%2)
		swap = append(swap, line(port, byte(Axes), 0, 99_999, 99_999)...)
		swap = append(swap, line(3-port, byte(Load), 0, 99_999, 99_999)...)
		wrap = append(wrap, line(byte(1+i%4), byte(Hello), byte(i), 1<<30, 1<<(i%32))...)
	}
	f.Add(swap)
	f.Add(wrap)
	f.Fuzz(func(t *testing.T, data []byte) {
		var o Owners
		var clock [8]uint32
		host, ports := int64(0), uint8(0)
		for ; len(data) >= 10; data = data[10:] {
			port, tag := int(data[0]>>4&7), Tag(data[0]&15)%TagCount
			by, on := binary.LittleEndian.Uint32(data[2:]), binary.LittleEndian.Uint32(data[6:])
			switch how := data[1]; {
			case how&1 == 0:
				host += int64(by % 100_000)
			case how&2 == 0:
				host += int64(by) << 20
			default:
				host -= int64(by)
			}
			if data[1]&4 == 0 {
				on %= 100_000
			}
			of := port
			if data[1]&8 != 0 { // the clock of whoever
				of = int(data[1] >> 5)
			}
			clock[of] += on
			in := Sample{Tag: tag, Seq: uint16(on), Time: clock[of]}
			if data[1]&16 == 0 {
				in.Put(HelloBoot, float64(on%3))
			}
			s := in
			news, owner := o.Take(port, host, &s)
			if port >= 1 && port <= MaxBridges {
				ports |= 1 << port
			}
			if law := broken(&o, &in, &s, port, news, owner, bits.OnesCount8(ports)); law != "" {
				t.Fatalf("%s: port %d, %+v became %+v, news %d of %d", law, port, in, s, news, owner)
			}
		}
	})
}

// broken names the law that was broken with a line; nothing where none was.
func broken(o *Owners, in, s *Sample, port int, news News, owner, ports int) string {
	free := in.Tag == Unknown || in.Tag == Hello || in.Tag == Set || in.Tag == Note
	aside := s.Tag != in.Tag
	switch {
	case in.Seq != s.Seq || in.Time != s.Time:
		return "seq and time stay"
	case !aside && (in.Num != s.Num || in.Has != s.Has || s.Aside != Unknown):
		return "what is taken stays"
	case aside && (s.Tag != Unknown || s.Aside != in.Tag || s.Has != 0 || free):
		return "what is set aside is nothing"
	case owner > MaxBridges || news == Moved != (s.Moved != 0) || int(s.Moved) == port && port > 0:
		return "who was moved was elsewhere"
	case s.Held && news != NoNews:
		return "what is held is no news"
	case ports < 2 && (news != NoNews || aside || s.Held):
		return "one alone is left alone"
	}
	var at [MaxBridges + 1]bool
	for p := 1; p <= MaxBridges; p++ {
		n := o.who(uint8(p))
		if at[n] || o.where(n) != p {
			return "each port has a bridge"
		}
		at[n] = true
	}
	return ""
}
