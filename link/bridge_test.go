package link

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestBridgeLines(t *testing.T) {
	for _, c := range []struct {
		text string
		kind Kind
		n    uint64
		us   int64
	}{
		{"#bridge 1 0.000001", Bridge, 1, 1},
		{"#bridge 2 12.345678", Bridge, 2, 12_345_678},
		{"#bridge 4 7.25", Bridge, 4, 7_250_000},
		{"#bridge 3 9", Bridge, 3, 9_000_000},
		{"#bridge 2 1.2345678\r", Bridge, 2, 1_234_567},
		{"#bridge 0 1", Other, 0, 0},
		{"#bridge 5 1", Other, 0, 0},
		{"#bridge 2", Other, 0, 0},
		{"#bridge 2 -1", Other, 0, 0},
		{"#bridge two 1", Other, 0, 0},
		{"#bridge 2 1 1", Other, 0, 0},
		{"#bridge 2 1000000000001", Other, 0, 0},
		{"#wire #bridge 2 1", Wire, 0, 0},
	} {
		var it Item
		ParseItem([]byte(c.text), &it)
		assert.Equal(t, c.kind, it.Kind, c.text)
		if c.kind == Bridge {
			assert.Equal(t, c.n, it.Count, c.text)
			assert.Equal(t, c.us, it.US, c.text)
		}
	}
}

// A sink is a file of a test.
type bridgeSink struct{ bytes.Buffer }

func (*bridgeSink) Sync() error  { return nil }
func (*bridgeSink) Close() error { return nil }

// What is recorded of several bridges is read again, and a line of the wire that
// looks like the host's stays the wire's.
func TestRecordsBridges(t *testing.T) {
	var f bridgeSink
	r, err := NewRecorder(&f, "x", SessionHeader{Source: "a + b", Sources: []string{"a", "b"}, Bauds: []int{115200, 0}})
	require.NoError(t, err)
	r.Bridge(1, 0)
	r.Line([]byte("one"))
	r.Bridge(2, 61_234_567)
	r.Line([]byte("#bridge 1 0.000000"))
	require.NoError(t, r.Close([]byte("{}"), time.Minute))
	s := NewSession(strings.NewReader(f.String()))
	var it Item
	require.NoError(t, s.Next(&it))
	h, ok := ParseHeader(it.Line)
	require.True(t, ok)
	assert.Equal(t, []string{"a", "b"}, h.Sources)
	assert.Equal(t, []int{115200, 0}, h.Bauds)
	var got []string
	for s.Next(&it) == nil {
		switch it.Kind {
		case Bridge:
			got = append(got, strings.Repeat("b", int(it.Count)))
			assert.Contains(t, []int64{0, 61_234_567}, it.US)
		case Wire:
			got = append(got, string(it.Line))
		}
	}
	assert.Equal(t, []string{"b", "one", "bb", "#bridge 1 0.000000"}, got)
}

func TestHeaderOfOddSources(t *testing.T) {
	for text, want := range map[string][]int{
		`{"sources":["a"],"bauds":[9600]}`:                 nil,
		`{"sources":["a","b"]}`:                            {0, 0},
		`{"sources":["a","b"],"bauds":[9600,-4,5]}`:        {9600, 0},
		`{"sources":["a","b","c","d","e"],"bauds":[1]}`:    nil,
		`{"sources":"a","bauds":"b"}`:                      nil,
		`{"sources":["a","b"],"bauds":[99999999999,9600]}`: {0, 9600},
	} {
		h, ok := ParseHeader([]byte(text))
		require.True(t, ok)
		assert.Equal(t, want, h.Bauds, text)
		assert.Len(t, h.Sources, len(want), text)
	}
}
