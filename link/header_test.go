package link

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// A source is named in a recording as it was named that day, whatever its name is.
func TestSourceNameOutlastsItsHeader(t *testing.T) {
	t.Parallel()
	again := func(t require.TestingT, name string) string {
		text, err := json.Marshal(SessionHeader{Sources: []string{name, "b"}, Bauds: []int{0, 0}})
		require.NoError(t, err)
		h, ok := ParseHeader(text)
		require.True(t, ok)
		return h.Sources[0]
	}
	for _, name := range []string{
		"nose", strings.Repeat("p", 120), strings.Repeat("p", 121), strings.Repeat("ö", 100), "p" + strings.Repeat("ö", 100),
		"/dev/\xff\xfex", "\xff" + strings.Repeat("\xfe", 300), strings.Repeat("€", 41),
	} {
		kept := SourceName(name)
		assert.LessOrEqual(t, len(kept), mostSource)
		assert.Equal(t, kept, again(t, kept), "%q", name)
	}
	rapid.Check(t, func(r *rapid.T) {
		kept := SourceName(string(rapid.SliceOfN(rapid.Byte(), 0, 300).Draw(r, "name")))
		require.Equal(r, kept, again(r, kept))
	})
	long := "/tmp/" + strings.Repeat("x", 200)
	assert.NotEqual(t, SourceName(long+"/nose"), SourceName(long+"/stand"), "what differs is most often at the end")
}

// A header that no reader would read whole is refused before there is a file. The
// longest one that is taken has room for the name of a file that it continues.
func TestLongHeaderIsRefused(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "sessions")
	empty, err := json.Marshal(SessionHeader{Card: "x"})
	require.NoError(t, err)
	most := MaxLine - headRoom - len("#session ") - len(empty) + 1
	_, err = Create(dir, time.Now(), SessionHeader{Card: strings.Repeat("x", most+1)})
	require.ErrorIs(t, err, ErrLongHeader)
	assert.NoDirExists(t, dir)
	_, err = NewRecorder(nil, "x", SessionHeader{Card: strings.Repeat("<", most/5)})
	require.ErrorIs(t, err, ErrLongHeader, "as it is written")

	h := SessionHeader{Card: strings.Repeat("x", most-len("2006-01-02T15:04:05Z"))}
	rec, err := Create(dir, time.Now(), h)
	require.NoError(t, err)
	require.NoError(t, rec.Close(nil, time.Minute))
	part, err := continuation(dir, filepath.Base(rec.Status().Path), 1<<60, h)
	require.NoError(t, err)
	defer part.drop()
	first, err := os.ReadFile(rec.Status().Path)
	require.NoError(t, err)
	for _, text := range [][]byte{first, part.head} {
		line, _, _ := bytes.Cut(text, []byte{'\n'})
		assert.Less(t, len(line), MaxLine)
		var it Item
		require.NoError(t, NewSession(bytes.NewReader(text[:min(len(text), MaxLine)])).Next(&it))
		got, ok := ParseHeader(it.Line)
		require.True(t, ok)
		assert.Equal(t, h.Card, got.Card)
	}
}
