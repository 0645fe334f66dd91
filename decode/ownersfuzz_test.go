package decode

import (
	"encoding/binary"
	"testing"

	"github.com/stretchr/testify/require"
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
	for i := range uint32(400) { // there and back; the clock goes round
		port := byte(1 + i/100%2)
		swap = append(swap, line(port, byte(Axes), 0, 10_000, 10_000)...)
		swap = append(swap, line(3-port, byte(Load), 0, 10_000, 10_000)...)
		wrap = append(wrap, line(byte(1+i%4), byte(Hello), byte(i), 1<<30, 1<<(i%32))...)
	}
	f.Add(swap)
	f.Add(wrap)
	f.Fuzz(func(t *testing.T, data []byte) {
		var o Owners
		var clock [8]uint32
		host, ports := int64(0), map[int]bool{}
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
				ports[port] = true
			}
			lawful(t, &o, &in, &s, port, news, owner, len(ports))
		}
	})
}

// lawful checks what was made of a line.
func lawful(t *testing.T, o *Owners, in, s *Sample, port int, news News, owner, ports int) {
	require.Equal(t, in.Seq, s.Seq)
	require.Equal(t, in.Time, s.Time)
	switch {
	case s.Tag == in.Tag:
		require.Equal(t, in.Num, s.Num)
		require.Equal(t, in.Has, s.Has)
		require.Equal(t, Unknown, s.Aside)
	default:
		require.Equal(t, Unknown, s.Tag)
		require.Equal(t, in.Tag, s.Aside)
		require.Zero(t, s.Has)
		require.NotContains(t, []Tag{Hello, Set, Note}, in.Tag)
	}
	require.LessOrEqual(t, owner, MaxBridges)
	require.Equal(t, news == Moved, s.Moved != 0)
	if s.Moved != 0 {
		require.NotEqual(t, port, int(s.Moved))
	}
	if s.Held {
		require.Equal(t, NoNews, news)
	}
	if ports < 2 {
		require.Equal(t, NoNews, news)
		require.Equal(t, in.Tag, s.Tag)
		require.False(t, s.Held)
	}
	var at [MaxBridges + 1]bool
	for p := 1; p <= MaxBridges; p++ {
		n := o.who(uint8(p))
		require.False(t, at[n])
		require.Equal(t, p, o.where(n))
		at[n] = true
	}
}
