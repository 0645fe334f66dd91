package link

import (
	"bytes"
	"errors"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Where a line stands is true behind a damaged frame too: who comes back to a
// place finds the line that stood there.
func TestPlacesBehindDamage(t *testing.T) {
	t.Parallel()
	text := longText(4_400_000)
	bad := bytes.Clone(squeezedBytes(t, text))
	bad[len(bad)*3/8] ^= 4
	z := openBytes(t, bad)
	w := NewWalker(z, 0)
	type place struct {
		at   int64
		line string
	}
	var places []place
	var it Item
	marks := 0
	for n := 0; ; n++ {
		at, err := w.Next(&it)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		if it.Kind == Lost {
			assert.Zero(t, it.Count, "nobody knows how many")
			marks++
		}
		if n%2000 == 0 && len(it.Line) > 0 && it.Kind == Wire {
			places = append(places, place{at, string(it.Line)})
		}
	}
	require.Error(t, z.hurtBy())
	assert.Equal(t, 1, marks, "lines are missing there, and it is said")
	assert.Equal(t, int64(len(text)), w.Offset())
	require.Greater(t, len(places), 40)
	for _, p := range places {
		_, err := z.Seek(p.at, io.SeekStart)
		require.NoError(t, err)
		got := make([]byte, len(p.line))
		_, err = io.ReadFull(z, got)
		require.NoError(t, err)
		require.Equal(t, p.line, string(got), "at %d", p.at)
	}
}

// What is filled in is the same bytes wherever the reading begins.
func TestHoleIsTheSameFromAnywhere(t *testing.T) {
	t.Parallel()
	bad := bytes.Clone(squeezedBytes(t, longText(2_500_000)))
	bad[len(bad)/2] ^= 4
	z := openBytes(t, bad)
	whole, err := io.ReadAll(z)
	require.NoError(t, err)
	hole := int64(bytes.Index(whole, []byte(holeMark)))
	require.Positive(t, hole)
	for _, from := range []int64{hole - 1, hole, hole + 3, hole + 9, hole + 1000, frameText, 2*frameText - 1, 2 * frameText} {
		_, err := z.Seek(from, io.SeekStart)
		require.NoError(t, err)
		at, err := z.Seek(0, io.SeekCurrent)
		require.NoError(t, err)
		require.Equal(t, from, at)
		got, err := io.ReadAll(z)
		require.NoError(t, err)
		require.True(t, bytes.Equal(whole[from:], got), "from %d, the hole is at %d", from, hole)
	}
}

// Behind a hole it is not known whose the lines are, of several bridges, until that
// is said again.
func TestNobodysLinesBehindAHole(t *testing.T) {
	t.Parallel()
	text := "a\n#lost 1\nb\n#bridge 1 0.1\nc\n#lost 0\nd\n#at 1.000\ne\n#bridge 2 0.2\nf\n"
	var byLine, byPlace []string
	s, w := NewSession(bytes.NewReader([]byte(text))), NewWalker(bytes.NewReader([]byte(text)), 0)
	var it Item
	for s.Next(&it) == nil {
		byLine = append(byLine, string(it.Line))
	}
	for {
		if _, err := w.Next(&it); err != nil {
			break
		}
		byPlace = append(byPlace, string(it.Line))
	}
	assert.Equal(t, []string{"a", "1", "b", "1 0.1", "c", "0", "", "1.000", "", "2 0.2", "f"}, byLine)
	assert.Equal(t, byLine, byPlace)
}
