package cable

import (
	"errors"
	"fmt"
	"hash/crc32"
	"math/bits"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// hearBytes feeds bytes as they come from a wire, cut at line feeds, a line every
// millisecond, and returns what was told as news.
func hearBytes(w *Watch, text string) (news []Sight) {
	var dec decode.Decoder
	for i, l := range strings.Split(text, "\n") {
		now := int64(i) * 1000
		var s decode.Sample
		var bad *decode.LineError
		switch err := dec.Decode([]byte(l), &s); {
		case err == nil:
			w.Good(&s, len(l)+1, now)
		case errors.As(err, &bad):
			w.Bad([]byte(l), bad.Cause, now)
		}
		news = append(news, w.News()...)
	}
	return news
}

// benchLine is a good line of a bench, with its line feed.
func benchLine(i int) string {
	b := fmt.Sprintf("axes,%d,%d,%d.5,-1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131", i, i*1000, i%7)
	if i%5 == 0 {
		b = fmt.Sprintf("load,%d,%d,%d.25", i, i*1000, i%3)
	}
	return fmt.Sprintf("%s*%08X\n", b, crc32.Checksum([]byte(b), castagnoli))
}

// TestGoodButForItsEdges: lines that are good once something is taken off them
// are the bridge's writing, and neither the cable nor the baud is blamed.
func TestGoodButForItsEdges(t *testing.T) {
	parity := func(odd int) func(i int, l string) string {
		return func(_ int, l string) string {
			b := []byte(l)
			for i, c := range b {
				if c != '\n' && bits.OnesCount8(c)&1 != odd {
					b[i] |= 0x80
				}
			}
			return string(b)
		}
	}
	for _, c := range []struct {
		name, says, action string
		write              func(i int, l string) string
	}{
		{"even parity", "of 7 bits", "8 data bits", parity(0)},
		{"odd parity", "of 7 bits", "8 data bits", parity(1)},
		{"mark", "of 7 bits", "8 data bits", func(_ int, l string) string {
			b := []byte(l)
			for i := range len(b) - 1 {
				b[i] |= 0x80
			}
			return string(b)
		}},
		{"LF CR", "a byte before or behind", "CR and LF", func(_ int, l string) string { return l + "\r" }},
		{"CR CR LF", "a byte before or behind", "CR and LF", func(_ int, l string) string { return l[:len(l)-1] + "\r\r\n" }},
		{"NUL", "a byte before or behind", "CR and LF", func(_ int, l string) string { return l + "\x00" }},
		{"blank", "a byte before or behind", "CR and LF", func(_ int, l string) string { return l[:len(l)-1] + " \n" }},
		{"dollar", "a byte before or behind", "before the tag", func(_ int, l string) string { return "$" + l }},
		{"semicolon", "a byte before or behind", "behind the checksum", func(_ int, l string) string { return l[:len(l)-1] + ";\n" }},
		{"prints", "no line of the protocol", "debug prints", func(i int, l string) string {
			if i%20 == 0 {
				return l + fmt.Sprintf("loop time %d us, free 1211\r\n", i)
			}
			return l
		}},
		{"prints with no end", "no line of the protocol", "debug prints", func(i int, l string) string {
			if i%20 == 0 {
				return "Loop took " + l
			}
			return l
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var text strings.Builder
			for i := range 600 {
				text.WriteString(c.write(i, benchLine(i)))
			}
			w := New(115200)
			news := hearBytes(w, text.String())
			all := w.Sights()
			require.Len(t, all, 1, "%+v", all)
			assert.Equal(t, Miswritten, all[0].Kind)
			assert.Contains(t, all[0].Text, c.says)
			assert.Contains(t, all[0].Action, c.action)
			assert.Len(t, news, 1, "%+v", news)
			assert.GreaterOrEqual(t, all[0].Count, uint64(29))
		})
	}
}

// TestOneOddEdgeIsNoHabit: a byte that came twice, or one that a plug has knocked
// in, is no way of writing.
func TestOneOddEdgeIsNoHabit(t *testing.T) {
	for _, c := range []struct {
		spoil func(l string) string
		kind  Kind
	}{
		{func(l string) string { return l[:1] + l }, DoubledBytes},
		{func(l string) string { return l[:len(l)-1] + l[len(l)-2:] }, DoubledBytes},
		{func(l string) string { return "\x00" + l }, Unclear},
		{func(l string) string { b := []byte(l); b[3] |= 0x80; return string(b) }, FlippedBits},
	} {
		var text strings.Builder
		for i := range 100 {
			l := benchLine(i)
			if i%20 == 19 {
				l = c.spoil(l)
			}
			text.WriteString(l)
		}
		w := New(0)
		hearBytes(w, text.String())
		all := w.Sights()
		require.Len(t, all, 1)
		assert.Equal(t, c.kind, all[0].Kind, all[0].Text)
		assert.EqualValues(t, 5, all[0].Count)
	}
}

// TestTwoTasksWriteAtOnce: a line within another is told as that, wherever the
// outer one is torn, with the inner one's end and without, and nothing else is.
func TestTwoTasksWriteAtOnce(t *testing.T) {
	for _, end := range []string{"\n", ""} {
		for at := 1; at < len(benchLine(20))-2; at++ {
			var text strings.Builder
			for i := range 100 {
				l := benchLine(i)
				if i%20 == 0 && i > 0 {
					in := strings.TrimSuffix(benchLine(i+1), "\n") + end
					l = l[:at] + in + l[at:]
				}
				if i%20 != 1 || i == 1 {
					text.WriteString(l)
				}
			}
			w := New(0)
			hearBytes(w, text.String())
			all := w.Sights()
			require.Len(t, all, 1, "torn at %d, end %q: %+v", at, end, all)
			assert.Equal(t, Miswritten, all[0].Kind)
			assert.Contains(t, all[0].Text, "4 lines in whose midst", "torn at %d, end %q", at, end)
		}
	}
}

// TestTextIsTold: whoever hears nothing but bad lines is told whether they are text.
func TestTextIsTold(t *testing.T) {
	for _, c := range []struct {
		bad  string
		text bool
	}{
		{"", false}, {"load,1,2,3*1234\n", true}, {"$GPXYZ,1,2*33\r\n", true}, {"\x80\x81\xfe\xff\x90ab\n", false},
		{"load,1,2,3*1234\n\x80\x81\xfe\xff\x90ab\n", false},
	} {
		w := New(115200)
		hearBytes(w, benchLine(1)+strings.Repeat(c.bad, 40))
		assert.Equal(t, c.text, w.Text(), "%q", c.bad)
		hearBytes(w, benchLine(2))
		assert.False(t, w.Text())
	}
}

// TestTornBytesAreNoTasks: a piece of the stream that is lost leaves the beginning
// of one line before another, and no rest of it.
func TestTornBytesAreNoTasks(t *testing.T) {
	var text strings.Builder
	for i := range 400 {
		l := benchLine(i)
		if i%20 == 19 {
			l = l[:7+i/20]
		}
		text.WriteString(l)
	}
	w := New(0)
	hearBytes(w, text.String())
	all := w.Sights()
	require.Len(t, all, 1, "%+v", all)
	assert.Equal(t, Unclear, all[0].Kind)
}
