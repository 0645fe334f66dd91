package decode

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A hop is one line of a stream and what the stream should say of it.
type hop struct {
	seq  uint16
	time uint32
	host int64 // host time since the last line, -1 not known
	boot int64 // of a hello, -1: another tag
	want Step
}

func TestStream(t *testing.T) {
	const s = 1_000_000
	const none = -1
	first := Step{FirstLine: true}
	restart := Step{Restart: true}
	cases := []struct {
		name string
		hops []hop
	}{
		{"steady", []hop{{7, 100, none, none, first}, {8, 1100, none, none, Step{DT: 1000}}, {9, 1100, none, none, Step{}}}},
		{"lost lines", []hop{{7, 0, none, none, first}, {11, 4000, none, none, Step{DT: 4000, Gap: 3}}}},
		{"seq wraps", []hop{{65534, 0, none, none, first}, {65535, 1, none, none, Step{DT: 1}}, {0, 2, none, none, Step{DT: 1}}, {2, 3, none, none, Step{DT: 1, Gap: 1}}}},
		{"lost over the wrap", []hop{{65533, 0, none, none, first}, {1, 1, none, none, Step{DT: 1, Gap: 3}}}},
		{"longest gap", []hop{{0, 0, none, none, first}, {32767, 1, none, none, Step{DT: 1, Gap: 32766}}}},
		{"half round counts none", []hop{{0, 0, none, none, first}, {32768, 1, none, none, Step{DT: 1}}, {32769, 2, none, none, Step{DT: 1}}}},
		{"repeat counts none", []hop{{5, 0, none, none, first}, {5, 1, none, none, Step{DT: 1}}, {6, 2, none, none, Step{DT: 1}}}},
		{"time wraps", []hop{{0, 4294967290, none, none, first}, {1, 10, none, none, Step{DT: 16}}}},
		{"lag over the wrap", []hop{{0, 10, none, none, first}, {1, 4294967290, none, none, Step{DT: -16}}, {2, 20, none, none, Step{DT: 10}}}},
		{"lag of 50 ms", []hop{{0, 60_000, none, none, first}, {1, 10_000, none, none, Step{DT: -50_000}}, {2, 60_500, none, none, Step{DT: 500}}}},
		{"step back over 50 ms", []hop{{0, 60_000, none, none, first}, {1, 9_999, none, none, restart}, {2, 10_500, none, none, Step{DT: 501}}}},
		{"lag is measured from the newest", []hop{{0, 60_000, none, none, first}, {1, 30_000, none, none, Step{DT: -30_000}}, {2, 9_999, none, none, restart}}},
		{"half round of time", []hop{{0, 0, none, none, first}, {1, 1 << 31, 3000 * s, none, restart}}},
		{"just under half round, borne out", []hop{{0, 0, none, none, first}, {1, 1<<31 - 1, 2148 * s, none, Step{DT: 1<<31 - 1}}}},
		{"leap of 10 s", []hop{{0, 0, none, none, first}, {1, 10 * s, none, none, Step{DT: 10 * s}}}},
		{"leap over 10 s, host not known", []hop{{0, 0, none, none, first}, {1, 10*s + 1, none, none, restart}}},
		{"leap of 20 s, host saw none of it", []hop{{0, 0, none, none, first}, {1, 20 * s, 2000, none, restart}}},
		{"leap of 20 s, borne out", []hop{{0, 0, none, none, first}, {1, 20 * s, 20 * s, none, Step{DT: 20 * s}}}},
		{"leap of 20 s, just borne out", []hop{{0, 0, none, none, first}, {1, 20 * s, 17 * s, none, Step{DT: 20 * s}}}},
		{"leap of 20 s, just not", []hop{{0, 0, none, none, first}, {1, 20 * s, 17*s - 1, none, restart}}},
		{"restart counts no gap", []hop{{900, 60 * s, none, none, first}, {0, 5, none, none, restart}, {1, 10, none, none, Step{DT: 5}}}},
		{"another boot", []hop{{0, 0, none, 42, first}, {1, 10, none, 42, Step{DT: 10}}, {2, 20, none, 43, restart}, {3, 30, none, 43, Step{DT: 10}}}},
		{"boot first known late", []hop{{0, 0, none, none, first}, {1, 10, none, 42, Step{DT: 10}}}},
		{"a restart is told once", []hop{{5, 9 * s, none, 42, first}, {0, 5, none, none, restart}, {1, 9, none, 43, Step{DT: 4}}, {2, 12, none, 44, restart}}},
		{"time and boot in one line", []hop{{5, 9 * s, none, 42, first}, {0, 5, none, 43, restart}, {1, 9, none, 43, Step{DT: 4}}}},
		{"back in seq alone is no restart", []hop{{500, 0, none, none, first}, {3, 10, none, none, Step{DT: 10}}, {4, 20, none, none, Step{DT: 10}}}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var k Stream
			for i, h := range c.hops {
				x := Sample{Tag: Out, Seq: h.seq, Time: h.time}
				if h.boot >= 0 {
					x.Tag = Hello
					x.Put(HelloBoot, float64(h.boot))
				}
				if got := k.Next(&x, h.host); got != h.want {
					t.Fatalf("line %d: got %+v, want %+v", i, got, h.want)
				}
			}
		})
	}
}

// A hello that does not tell its boot number neither restarts nor forgets.
func TestStreamBoot(t *testing.T) {
	var k Stream
	if _, ok := k.Boot(); ok {
		t.Error("a boot number before the first line")
	}
	x := Sample{Tag: Hello}
	x.Put(HelloBoot, 4294967295)
	k.Next(&x, -1)
	y := Sample{Tag: Hello, Seq: 1, Time: 10}
	if got := k.Next(&y, -1); got != (Step{DT: 10}) {
		t.Errorf("got %+v", got)
	}
	if n, ok := k.Boot(); n != 4294967295 || !ok {
		t.Errorf("got %d, %v", n, ok)
	}
}

// Over any number of wraps the steps add up to the time that passed.
func TestStreamAddsUp(t *testing.T) {
	var k Stream
	var sum int64
	var lost int
	for i := range 40_000 {
		x := Sample{Tag: Out, Seq: uint16(i * 3), Time: uint32(i * 900_001)}
		step := k.Next(&x, -1)
		sum, lost = sum+step.DT, lost+step.Gap
	}
	if sum != 39_999*900_001 || lost != 39_999*2 {
		t.Errorf("got %d us, %d lost", sum, lost)
	}
}

// Behind a hole in the input a line lies where its own time says, and the next one is
// judged as ever.
func TestStreamOverAHole(t *testing.T) {
	var k Stream
	line := func(seq uint16, us uint32) Step { return k.Next(&Sample{Tag: Load, Seq: seq, Time: us}, -1) }
	assert.Equal(t, Step{FirstLine: true}, line(1, 0))
	k.Misses()
	assert.Equal(t, Step{DT: 40_000_000, Hole: true}, line(700, 40_000_000))
	assert.Equal(t, Step{DT: 1000, Gap: 1}, line(702, 40_001_000))
	assert.Equal(t, Step{Restart: true}, line(703, 80_001_000))
	k.Misses()
	assert.Equal(t, Step{Restart: true}, line(704, 79_000_000), "back is back")
}
