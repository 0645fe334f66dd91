package cable

import (
	"errors"
	"fmt"
	"hash/crc32"
	"math/bits"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// hearText feeds a text of lines, a good one every millisecond of engine time.
func hearText(w *Watch, text string) {
	var dec decode.Decoder
	now := int64(0)
	for l := range strings.Lines(text) {
		line := []byte(strings.TrimSuffix(l, "\n"))
		var s decode.Sample
		switch err := dec.Decode(line, &s).(type) {
		case nil:
			now = int64(s.Time)
			w.Good(&s, len(l), now)
		case *decode.LineError:
			w.Bad(line, err.Cause, now)
		}
	}
}

// TestBridgeWritesWrongly: what a bridge's builder gets wrong is told as that,
// and the wire is not blamed. The checksums are made here, by the standard
// library (hash/crc32), in each wrong way.
func TestBridgeWritesWrongly(t *testing.T) {
	right := func(b []byte) uint32 { return crc32.Checksum(b, crc32.MakeTable(crc32.Castagnoli)) }
	zeroed := func(b string) uint32 { return crc32.Update(^uint32(0), crc32.MakeTable(crc32.Castagnoli), []byte(b)) }
	put := func(b string, sum uint32) string { return fmt.Sprintf("%s*%08X", b, sum) }
	value := func(v string) func(string) string {
		return func(b string) string {
			b = b[:strings.LastIndexByte(b, ',')+1] + v
			return put(b, right([]byte(b)))
		}
	}
	for _, c := range []struct {
		name, says string
		write      func(body string) string
	}{
		{"lower", "lower-case", func(b string) string { return fmt.Sprintf("%s*%08x", b, right([]byte(b))) }},
		{"no zeros", "lacks its zeros", func(b string) string { return fmt.Sprintf("%s*%X", b, right([]byte(b))) }},
		{"zip", "CRC-32 of zip", func(b string) string { return put(b, crc32.ChecksumIEEE([]byte(b))) }},
		{"star", "over the \"*\" too", func(b string) string { return put(b, right([]byte(b+"*"))) }},
		{"last", "leaves out the last", func(b string) string { return put(b, right([]byte(b[:len(b)-1]))) }},
		{"first", "leaves out the first", func(b string) string { return put(b, right([]byte(b[1:]))) }},
		{"not inverted", "not inverted", func(b string) string { return put(b, ^right([]byte(b))) }},
		{"swapped", "other order", func(b string) string { return put(b, bits.ReverseBytes32(right([]byte(b)))) }},
		{"line end", "line end", func(b string) string { return put(b, right([]byte(b+"\n"))) }},
		{"dollar", "over a \"$\" in front", func(b string) string { return put(b, right([]byte("$"+b))) }},
		{"from 0", "begins with 0,", func(b string) string { return put(b, zeroed(b)) }},
		{"from 0, plain", "begins with 0 and is not inverted", func(b string) string { return put(b, ^zeroed(b)) }},
		{"0x", "0x in front", func(b string) string { return fmt.Sprintf("%s*0x%08X", b, right([]byte(b))) }},
		{"decimal", "decimal number", func(b string) string { return fmt.Sprintf("%s*%d", b, right([]byte(b))) }},
		{"none", "without a checksum", func(b string) string { return b }},
		{"range", "beyond its range", value("4000")},
		{"nan", "no number", value("nan")},
		{"no text", "a byte that is no text", func(b string) string { b += "\xc2\xb0"; return put(b, right([]byte(b))) }},
		{"mostly no text", "a byte that is no text", func(b string) string { b = "note" + b[4:] + ",М1 горячий"; return put(b, right([]byte(b))) }},
		{"too long", "over 240 bytes", func(b string) string { b += strings.Repeat("0", 240); return put(b, right([]byte(b))) }},
		{"header", "tag, count or time", func(b string) string { b = "L" + b; return put(b, right([]byte(b))) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			var text strings.Builder
			for i := range 400 {
				if i%50 == 0 { // its hello is right
					h := fmt.Sprintf("hello,%d,%d,1,own,5", i, i*20_000)
					text.WriteString(put(h, right([]byte(h))) + "\n")
				}
				text.WriteString(c.write(fmt.Sprintf("load,%d,%d,%d.%d", i+1, i*20_000+9, i%7, i%10)) + "\n")
			}
			w := New(0)
			hearText(w, text.String())
			all := w.Sights()
			require.Len(t, all, 1, "%+v", all)
			assert.Equal(t, Miswritten, all[0].Kind)
			assert.Contains(t, all[0].Text+",", c.says)
			assert.NotContains(t, all[0].Action, "cable")
			require.Len(t, w.News(), 1)
		})
	}
}

// TestNoChecksumIsRight: where no line at all has a right checksum and all of them
// read well, it is how the bridge makes it, whichever way that is.
func TestNoChecksumIsRight(t *testing.T) {
	before := uint32(0)
	for name, write := range map[string]func(b string) string{
		"highest bit first": func(b string) string {
			sum := ^uint32(0)
			for _, c := range []byte(b) {
				sum ^= uint32(c) << 24
				for range 8 {
					sum = sum<<1 ^ 0x1EDC6F41*(sum>>31)
				}
			}
			return fmt.Sprintf("%s*%08X", b, ^sum)
		},
		"16 bits": func(b string) string { return fmt.Sprintf("%s*%04X", b, crc32.Checksum([]byte(b), castagnoli)&0xffff) },
		"all bytes crossed": func(b string) string {
			sum := byte(0)
			for _, c := range []byte(b) {
				sum ^= c
			}
			return fmt.Sprintf("%s*%02X", b, sum)
		},
		"of the line before": func(b string) string {
			was := before
			before = crc32.Checksum([]byte(b), castagnoli)
			return fmt.Sprintf("%s*%08X", b, was)
		},
		"of a whole store": func(b string) string {
			return fmt.Sprintf("%s*%08X", b, crc32.Checksum(append([]byte(b), make([]byte, 240-len(b))...), castagnoli))
		},
	} {
		w := New(115200)
		for i := range int64(400) {
			w.Bad([]byte(write(fmt.Sprintf("load,%d,%d,%d.%d", i, i*2500, i%7, i%10))), decode.BadChecksum, i*2500)
		}
		all := w.Sights()
		require.Len(t, all, 1, "%s: %+v", name, all)
		assert.Equal(t, Miswritten, all[0].Kind, name)
		assert.Contains(t, all[0].Text, "399 lines that read well", name)
		assert.Contains(t, all[0].Action, "E3069283", name)
		assert.EqualValues(t, crc32.Checksum([]byte("123456789"), castagnoli), 0xE3069283)
	}
}

// TestTwoSpoiltBytesAreNoChecksum: lines of which no more than one in a hundred
// comes whole are of no clear kind, and the bridge is not blamed.
func TestTwoSpoiltBytesAreNoChecksum(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for name, spoil := range map[string]func(l []byte) []byte{
		"lost":   func(l []byte) []byte { i := rng.IntN(len(l)); return append(l[:i], l[i+1:]...) },
		"turned": func(l []byte) []byte { l[rng.IntN(len(l))] ^= 1 << rng.IntN(7); return l },
	} {
		w := New(115200)
		var dec decode.Decoder
		for i := range int64(4000) {
			b := fmt.Appendf(nil, "axes,%d,%d,%d.5,12.25,-3.25,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131", i, i*2500, i%7)
			l := fmt.Appendf(b, "*%08X", crc32.Checksum(b, castagnoli))
			for range 2 + rng.IntN(4) {
				l = spoil(l)
			}
			var s decode.Sample
			var bad *decode.LineError
			if errors.As(dec.Decode(l, &s), &bad) {
				w.Bad(l, bad.Cause, i*2500)
			}
			for _, n := range w.News() {
				assert.NotEqual(t, Miswritten, n.Kind, "%s: %s", name, n.Text)
			}
		}
	}
}

// TestEachFormIsNewsOnce: what is found later is told too, and what all lines are
// of is never told again, however much time goes by in their times.
func TestEachFormIsNewsOnce(t *testing.T) {
	w := New(0)
	var news []Sight
	for i := range int64(12_000) {
		if i%20 == 0 {
			w.Tick(i, i*16_000)
		}
		if i%1000 == 500 {
			b := []byte("load,9,9,4000")
			w.Bad(fmt.Appendf(nil, "%s*%08X", b, crc32.Checksum(b, castagnoli)), decode.OutOfRange, i*16_000)
		}
		s := decode.Sample{Tag: decode.Axes, Seq: uint16(i), Time: uint32(i * 16_000)}
		w.Good(&s, 50, i*16_000)
		news = append(news, w.News()...)
	}
	require.Len(t, news, 2)
	assert.Contains(t, news[0].Text, "beyond its range")
	assert.Contains(t, news[1].Text, "16 times too fast")
	assert.False(t, news[1].Again)
}

// TestFirstWrongFieldIsTold: whoever built the bridge sees what it wrote, and what
// to write in its place. Nothing of it steers a terminal.
func TestFirstWrongFieldIsTold(t *testing.T) {
	for _, c := range []struct{ body, says, action string }{
		{"axes,2,1040,0.1,?,?", `with what is no number (rate_pitch: "?")`, "write digits and a point"},
		{"axes,2,1040,1e-05", `(rate_roll: "1e-05")`, "write digits and a point"},
		{"axes,2,1040, 0.1", `(rate_roll: " 0.1")`, "write digits and a point"},
		{"state,2,1040,true", `(armed: "true")`, "flags as 0 or 1"},
		{"state,2,1040,1.0", `(armed: "1.0")`, "flags as 0 or 1"},
		{"load,2,1040,4000", `beyond its range (load_n: "4000")`, "unit"},
		{"load,2,1040.0,4", `(time: "1040.0")`, "tag, count and time"},
		{"Load,2,1040,4", `(tag: "Load")`, "tag, count and time"},
		{"hello,2,1040,7,own,1", `(protocol: "7")`, "one version"},
		{"set,2,1040,Idle Ready,1", `(setting: "Idle Ready")`, "words"},
		{"note,2,1040,41 \xc2\xb0C", `no text ("\xc2")`, "0x20 to 0x7E"},
		{"note,2,1040,\x1b[2J", `no text ("\x1b")`, "0x20 to 0x7E"},
		{"axes,2,1040,0,2,-0,5,1,2,0,0,0,0012,0,1", `(throttle: "0012") (12 fields, 10 are known: decimal commas?)`, "no comma; else look at the unit"},
		{"load,2,1040,12345678901234567890123456789", `"123456789012345678901234"...)`, ""},
	} {
		w := New(0)
		for range 2 {
			hearText(w, fmt.Sprintf("%s*%08X\n", c.body, crc32.Checksum([]byte(c.body), castagnoli)))
		}
		all := w.Sights()
		require.Len(t, all, 1)
		assert.Contains(t, all[0].Text, "2 lines")
		assert.Contains(t, all[0].Text, c.says)
		assert.Contains(t, all[0].Action, c.action)
		for _, b := range []byte(all[0].Text) {
			assert.True(t, printable(b))
		}
	}
}

// TestRightChecksumProvesNothing: a line whose checksum is right was not harmed on
// the wire, whatever stands in it: no bit of it has turned.
func TestRightChecksumProvesNothing(t *testing.T) {
	for _, body := range []string{
		"craft,1,12,M\xc3\xb6we,quad-x,4,14,3,178,655,4", "note,1,20,41 \xc2\xb0C", "note,1,20,\x00", "load,1,2,1.5",
		"axes,2,1040," + strings.Repeat("0.00000000,", 25),
	} {
		l := fmt.Appendf(nil, "%s*%08X", body, crc32.Checksum([]byte(body), castagnoli))
		w := New(0)
		k, ok := w.prove.prove(l)
		assert.False(t, ok, "%s is called %s", l, k)
		for _, cause := range []decode.Cause{decode.TooLong, decode.BadByte} {
			assert.True(t, w.formOf(l, cause).proven(), "%s", l)
			l[5] ^= 4 // and harmed it is what it was before
			assert.False(t, w.formOf(l, cause).proven())
			l[5] ^= 4
		}
	}
}

// TestFewLinesAreNoHabit: a turned bit makes a small letter of a digit now and
// then. That is a turned bit.
func TestFewLinesAreNoHabit(t *testing.T) {
	for _, n := range []int{1, 3, habitLeast - 1} {
		w := New(0)
		w.torn = false
		for range n {
			w.Bad([]byte(strings.Replace(vectors[0], "CDB", "cDB", 1)), decode.BadChecksum, 1)
		}
		all := w.Sights()
		require.Len(t, all, 1)
		assert.Equal(t, FlippedBits, all[0].Kind)
		assert.EqualValues(t, n, all[0].Count)
	}
	w := New(0)
	w.torn = false
	for range 20 { // as many are turned elsewhere
		w.Bad([]byte(strings.Replace(vectors[0], "CDB", "cDB", 1)), decode.BadChecksum, 1)
		w.Bad([]byte(strings.Replace(vectors[0], "bench", "bEnch", 1)), decode.BadChecksum, 1)
	}
	assert.EqualValues(t, 40, w.Sights()[0].Count)
}

// TestBadLinesAreNoHole: whoever sends bad lines was not unplugged; a hole with
// half a line at each end was.
func TestBadLinesAreNoHole(t *testing.T) {
	line := func(seq, ms int) string {
		b := fmt.Appendf(nil, "load,%d,%d,1.2", seq, ms*1000)
		return fmt.Sprintf("%s*%08X\n", b, crc32.Checksum(b, castagnoli))
	}
	for _, c := range []struct {
		between string
		holes   bool
	}{{"", true}, {"load,2,20\n,1.2*123\n", true}, {strings.Repeat("load,2,20,1.3*00000000\n", 60), false}} {
		w := New(0)
		hearText(w, line(0, 0)+line(1, 20)+c.between+line(100, 2020)+line(101, 2040))
		assert.Equal(t, c.holes, w.seen[Unplugged].count > 0)
	}
}

// TestTimesInMilliseconds: of a bridge that writes milliseconds, with a host's
// clock and without one, and nothing of one that writes microseconds.
func TestTimesInMilliseconds(t *testing.T) {
	for _, host := range []bool{false, true} {
		for _, per := range []int64{1, 1000} {
			w := New(0)
			for i := range int64(12_000) { // a line each millisecond
				if host && i%20 == 0 {
					w.Tick(i, i*1000)
				}
				s := decode.Sample{Tag: decode.Axes, Seq: uint16(i), Time: uint32(i * 1000 / per)}
				w.Good(&s, 50, i*1000)
			}
			all := w.Sights()
			if per == 1 {
				assert.Empty(t, all)
				continue
			}
			require.Len(t, all, 1, "%+v", all)
			assert.Equal(t, Miswritten, all[0].Kind)
			assert.Contains(t, all[0].Text, "milliseconds")
			assert.Greater(t, all[0].Count, uint64(9000))
		}
	}
}

// TestTimesInAnotherUnit: a clock that goes by another factor than one, either way,
// is told after three stretches of two seconds, and nothing else is; one that was
// right for a while is another matter.
func TestTimesInAnotherUnit(t *testing.T) {
	for _, c := range []struct {
		num, denom int64 // bridge time over host time
		every      int64 // lines come, ms
		says       string
	}{
		{1, 1, 1, ""}, {11, 10, 1, ""}, {10, 11, 1, ""}, {5, 4, 1, ""},
		{1, 4, 1, "4.0 times too slow"}, {1, 10, 1, "10 times too slow"}, {1, 100, 1, "100 times too slow"},
		{1, 1_000_000, 1, "1000000 times too slow"}, {0, 1, 1, "stand still"},
		{3, 2, 1, "1.5 times too fast"}, {10, 1, 1, "10 times too fast"}, {16, 1, 1, "16 times too fast"},
		{1000, 1, 1, "1000 times too fast"}, {1000, 1, 20, "1000 times too fast"}, {16, 1, 25, "16 times too fast"},
	} {
		w := New(0)
		told := int64(0)
		for i := range int64(40_000) {
			if i%20 == 0 {
				w.Tick(i, i*1000)
			}
			if i%c.every != 0 {
				continue
			}
			n := i / c.every
			s := decode.Sample{Tag: decode.Axes, Seq: uint16(n), Time: uint32(i * 1000 * c.num / c.denom)}
			w.Good(&s, 50+int(n%2), i*1000)
			for _, news := range w.News() {
				if told == 0 && news.Kind == Miswritten {
					told = i
				}
			}
		}
		all := w.Sights()
		if c.says == "" {
			for _, s := range all {
				assert.Equal(t, ClockDrift, s.Kind, "%d/%d: %s", c.num, c.denom, s.Text)
			}
			continue
		}
		require.Len(t, all, 1, "%s: %+v", c.says, all)
		assert.Equal(t, Miswritten, all[0].Kind)
		assert.Contains(t, all[0].Text, c.says)
		assert.Contains(t, all[0].Action, "microseconds")
		assert.Less(t, told, int64(6200), "%s", c.says)
	}
}

// TestLateLinesAreNoUnit: a way that slows down after a good start, or one that
// loses lines, says nothing of the bridge's clock.
func TestLateLinesAreNoUnit(t *testing.T) {
	for name, late := range map[string]func(ms int64) (at int64, lost bool){
		"ever later":        func(ms int64) (int64, bool) { return ms + max(ms-5000, 0), false },
		"loses from start":  func(ms int64) (int64, bool) { return 2 * ms, ms/100%2 == 0 },
		"heaps every 3.5 s": func(ms int64) (int64, bool) { return ms - ms%3500 + 3500, false },
		"held up at first":  func(ms int64) (int64, bool) { return max(ms, 3000), false },
	} {
		w := New(0)
		host := int64(-20)
		for ms := range int64(30_000) {
			at, lost := late(ms)
			if lost {
				continue
			}
			for host+20 <= at {
				host += 20
				w.Tick(host, ms*1000)
			}
			s := decode.Sample{Tag: decode.Axes, Seq: uint16(ms), Time: uint32(ms * 1000)}
			w.Good(&s, 50, ms*1000)
		}
		assert.Zero(t, w.seen[Miswritten].count, name)
	}
}

// TestWrongBaudIsOneKind: among lines that are no text, some look like text.
func TestWrongBaudIsOneKind(t *testing.T) {
	w := New(0)
	w.torn = false
	for range 30 {
		w.Bad([]byte("\x80\x81\xfe\xff\x90ab"), decode.BadByte, 1)
		w.Bad([]byte("Lx"), decode.NoChecksum, 1)
		w.Bad([]byte("L]xyz"), decode.NoChecksum, 1)
	}
	all := w.Sights()
	require.Len(t, all, 1)
	assert.Equal(t, WrongBaud, all[0].Kind)
	assert.Equal(t, "set the monitor's --baud to the bridge's", all[0].Action)
}
