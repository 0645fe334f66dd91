package link

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// everyAt finds the "#at" lines of a recording in the plainest way.
func everyAt(text []byte) (all []Place) {
	at := int64(0)
	for _, line := range bytes.SplitAfter(text, []byte("\n")) {
		if n := len(line); n > 0 && line[n-1] == '\n' {
			var it Item
			if ParseItem(line[:min(n-1, MaxLine+len(wirePrefix))], &it); it.Kind == At {
				all = append(all, Place{at, it.MS})
			}
		}
		at += int64(len(line))
	}
	return all
}

// drawRecording draws a recording with all that may be wrong with one.
func drawRecording(rng *rand.Rand, lines int, back bool) []byte {
	var out []byte
	ms := int64(rng.IntN(5000))
	for range lines {
		switch rng.IntN(12) {
		case 0:
			out = fmt.Appendf(out, "#at %d.%03d", ms/1000, ms%1000)
			if rng.IntN(3) == 0 {
				out = append(out, '\r')
			}
			ms += rng.Int64N(300) // the same again, too
			if back && rng.IntN(40) == 0 {
				ms = max(0, ms-rng.Int64N(20_000))
			}
		case 1:
			out = append(out, []string{"#at", "#at x", "#at 1.", "#at -4.000", "#attic 5.000", " #at 7.000", "#wire #at 3.000", "#mark #at 9.000"}[rng.IntN(8)]...)
		case 2:
			if rng.IntN(60) == 0 {
				out = append(out, strings.Repeat("x#at 1.0", rng.IntN(30_000))...)
			}
		case 3:
			for range rng.IntN(200) {
				out = append(out, byte(rng.IntN(256)))
			}
		default:
			out = append(out, "axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131*E939220D"...)
		}
		out = append(out, '\n')
	}
	if rng.IntN(2) == 0 {
		out = append(out, "#at 99999.9"...) // torn: no line
	}
	return out
}

// holdFind compares FindAt and LastAt with a look at every line.
func holdFind(t *testing.T, text []byte, asked ...int64) {
	t.Helper()
	all := everyAt(text)
	steady := true
	for i := range all {
		steady = steady && (i == 0 || all[i].MS >= all[i-1].MS)
	}
	r := bytes.NewReader(text)
	for _, ms := range asked {
		got, ok, err := FindAt(r, ms)
		require.NoError(t, err)
		first := -1
		for i, p := range all {
			if p.MS >= ms {
				first = i
				break
			}
		}
		if steady {
			require.Equal(t, first >= 0, ok, "at %d ms", ms)
			if ok {
				require.Equal(t, all[first], got, "at %d ms", ms)
			}
			continue
		}
		if !ok { // every way in which the clock passes ms was passed back
			require.True(t, first < 0 || all[len(all)-1].MS < ms, "at %d ms", ms)
			continue
		}
		for i, p := range all {
			if p == got {
				require.GreaterOrEqual(t, p.MS, ms)
				require.True(t, i == 0 || all[i-1].MS < ms, "at %d ms", ms)
			}
		}
		require.Contains(t, all, got)
	}
	last, ok, err := LastAt(r)
	require.NoError(t, err)
	if n := len(all); n > 0 && all[n-1].Offset >= int64(len(text)-tailBytes) {
		require.True(t, ok)
		require.Equal(t, all[n-1], last)
	} else {
		require.False(t, ok)
	}
}

func TestFindAt(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 7))
		text := drawRecording(rng, []int{0, 3, 400, 9000}[seed%4], seed%3 == 2)
		asked := []int64{0, 1, 1 << 40}
		for _, p := range everyAt(text) {
			if rng.IntN(20) == 0 {
				asked = append(asked, p.MS-1, p.MS, p.MS+1)
			}
		}
		holdFind(t, text, asked...)
	}
}

func TestFindAtLongRecording(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var text []byte
	for range 12 {
		text = append(text, drawRecording(rng, 1, false)...)
	}
	line := []byte("axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131*E939220D\n")
	for ms := range int64(3000) { // 300 s, four megabytes
		text = fmt.Appendf(text, "#at %d.%03d\n", ms/10, ms%10*100)
		text = append(text, bytes.Repeat(line, 20)...)
	}
	counted := &countingSeeker{Reader: bytes.NewReader(text)}
	p, ok, err := FindAt(counted, 150_000)
	require.NoError(t, err)
	require.True(t, ok)
	assert.EqualValues(t, 150_000, p.MS)
	assert.Less(t, counted.bytes, len(text)/4, "it is halved, not read through")
	holdFind(t, text, 0, 99_999, 100_000, 100_001, 299_900, 299_901)
}

type countingSeeker struct {
	*bytes.Reader
	bytes int
}

func (c *countingSeeker) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	c.bytes += n
	return n, err
}

// endless is a reader that does not know its length.
type endless struct{ *bytes.Reader }

func (e endless) Seek(offset int64, whence int) (int64, error) {
	if whence == io.SeekEnd {
		return 0, assert.AnError
	}
	return e.Reader.Seek(offset, whence)
}

func TestFindAtWithoutLength(t *testing.T) {
	r := endless{bytes.NewReader([]byte("#at 1.000\n#at 2.000\n"))}
	_, ok, err := FindAt(r, 0)
	require.NoError(t, err)
	assert.False(t, ok)
	_, ok, err = LastAt(r)
	require.NoError(t, err)
	assert.False(t, ok)
}

// A Walker says what a Session says, and where.
func holdWalk(t *testing.T, text []byte) {
	s, w := NewSession(bytes.NewReader(text)), NewWalker(iotest.OneByteReader(bytes.NewReader(text)), 0)
	var a, b Item
	for {
		errA := s.Next(&a)
		at, errB := w.Next(&b)
		require.Equal(t, errA, errB)
		if errA != nil {
			break
		}
		require.Equal(t, a, b)
		from := NewWalker(bytes.NewReader(text[at:]), at)
		again, err := from.Next(&b)
		require.NoError(t, err)
		require.Equal(t, at, again)
		require.Equal(t, a, b)
	}
	assert.EqualValues(t, len(text), w.Bytes())
}

func TestWalker(t *testing.T) {
	for seed := range uint64(12) {
		holdWalk(t, drawRecording(rand.New(rand.NewPCG(seed, 8)), 120, false))
	}
	_, err := NewWalker(iotest.ErrReader(assert.AnError), 0).Next(new(Item))
	assert.ErrorIs(t, err, assert.AnError)
}

func FuzzFindAt(f *testing.F) {
	f.Add([]byte("#session {}\n#at 1.000\nx\n#at 2.000\n#at"), int64(1500))
	f.Add(drawRecording(rand.New(rand.NewPCG(1, 1)), 50, true), int64(3000))
	f.Fuzz(func(t *testing.T, text []byte, ms int64) {
		holdFind(t, text, ms)
		holdWalk(t, text[:min(len(text), 2000)])
	})
}
