package link

import (
	"bytes"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// cutInto feeds text in pieces of n bytes and returns the lines.
func cutInto(s *Splitter, text string, n int) []string {
	var got []string
	for p := []byte(text); len(p) > 0; {
		k := min(n, len(p))
		s.Feed(p[:k], func(l []byte) { got = append(got, string(l)) })
		p = p[k:]
	}
	return got
}

var splitCases = []struct {
	name string
	in   string
	want []string
	torn int
}{
	{"nothing", "", nil, 0},
	{"one line", "axes,1*00\n", []string{"axes,1*00"}, 0},
	{"carriage return stays", "a\r\nb\n", []string{"a\r", "b"}, 0},
	{"blank lines are lines", "\n\r\na\n\n", []string{"", "\r", "a", ""}, 0},
	{"torn end", "a\nbc", []string{"a"}, 2},
	{"any byte", "\x00\xff\n\x7f*\n", []string{"\x00\xff", "\x7f*"}, 0},
	{"lone carriage returns cut nothing", "a\rb\rc\n", []string{"a\rb\rc"}, 0},
	{"long host line", "#" + strings.Repeat("x", 5000) + "\nb\n", []string{"#" + strings.Repeat("x", 5000), "b"}, 0},
}

func TestSplitterAtEveryCut(t *testing.T) {
	for _, c := range splitCases {
		t.Run(c.name, func(t *testing.T) {
			for n := 1; n <= min(len(c.in), 300); n++ {
				var s Splitter
				require.Equal(t, c.want, cutInto(&s, c.in, n), "pieces of %d", n)
				require.Equal(t, c.torn, s.Torn())
			}
			for at := range min(len(c.in), 300) { // two pieces
				var s Splitter
				got := cutInto(&s, c.in[:at], len(c.in)+1)
				got = append(got, cutInto(&s, c.in[at:], len(c.in)+1)...)
				require.Equal(t, c.want, got, "cut at %d", at)
			}
		})
	}
}

func TestSplitterFromReaders(t *testing.T) {
	const text = "one\r\ntwo\n\nthree\n"
	for name, wrap := range map[string]func(io.Reader) io.Reader{
		"one byte":     iotest.OneByteReader,
		"half":         iotest.HalfReader,
		"data and err": iotest.DataErrReader,
	} {
		t.Run(name, func(t *testing.T) {
			var s Splitter
			var got []string
			r, buf := wrap(strings.NewReader(text)), make([]byte, 7)
			for {
				n, err := r.Read(buf)
				s.Feed(buf[:n], func(l []byte) { got = append(got, string(l)) })
				if err != nil {
					break
				}
			}
			assert.Equal(t, []string{"one\r", "two", "", "three"}, got)
		})
	}
}

func TestSplitterOverLong(t *testing.T) {
	for _, extra := range []int{0, 1, 5, MaxLine} {
		for _, n := range []int{1000, MaxLine - 1, MaxLine, 3 * MaxLine} {
			var s Splitter
			long := strings.Repeat("y", MaxLine+extra)
			got := cutInto(&s, "a\n"+long+"\nb\n", n)
			require.Len(t, got, 3)
			assert.Equal(t, "a", got[0])
			assert.Equal(t, long[:MaxLine], got[1])
			assert.Equal(t, "b", got[2])
			assert.EqualValues(t, extra, s.Dropped())
		}
	}
}

func TestSplitterUnplug(t *testing.T) {
	var s Splitter
	var got []string
	line := func(l []byte) { got = append(got, string(l)) }
	s.Unplug(line)
	assert.Empty(t, got, "nothing was being heard")
	s.Feed([]byte("a\nbro"), line)
	s.Unplug(line)
	s.Feed([]byte("ken\n"), line)
	assert.Equal(t, []string{"a", "bro", "ken"}, got)

	s.Feed([]byte("torn"), line)
	assert.Equal(t, 4, s.Forget())
	assert.Zero(t, s.Torn())
	s.Feed([]byte("new\n"), line)
	assert.Equal(t, "new", got[3])
}

func TestSplitterAllocatesNothing(t *testing.T) {
	var s Splitter
	chunk := bytes.Repeat([]byte("axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0*E939220D\r\n"), 20)
	lines := 0
	count := func([]byte) { lines++ }
	feed := func() {
		for p := chunk; len(p) > 0; p = p[min(13, len(p)):] {
			s.Feed(p[:min(13, len(p))], count)
		}
	}
	feed()
	assert.Zero(t, testing.AllocsPerRun(50, feed))
	assert.Positive(t, lines)
}

func BenchmarkSplitter(b *testing.B) {
	chunk := bytes.Repeat([]byte("axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131*E939220D\n"), 50)
	var s Splitter
	b.SetBytes(int64(len(chunk)))
	b.ReportAllocs()
	for b.Loop() {
		s.Feed(chunk, func([]byte) {})
	}
}
