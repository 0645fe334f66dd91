package link

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// FuzzHeader: any text is a header or none, and its numbers can be used.
func FuzzHeader(f *testing.F) {
	f.Add([]byte(`{"tool":"x","baud":115200,"craft":{"name":"x"},"continues":"y","continues_at":3}`))
	f.Add([]byte(`{"baud":1e99,"tool":[],"craft":null}`))
	f.Add([]byte("{\"source\":\"\x1b\\u202e\"}"))
	f.Add(bytes.Repeat([]byte(`{"a":`), 11_000))
	f.Fuzz(func(t *testing.T, text []byte) {
		if h, ok := ParseHeader(text); ok && (h.Baud < 0 || h.Baud > MaxBaud) {
			t.Fatalf("%q: baud %d", text, h.Baud)
		}
	})
}

// heldBy is the memory that a function leaves in use at most, looked at by it.
func heldBy(work func(look func())) uint64 {
	var before, now runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	most := before.HeapAlloc
	work(func() {
		runtime.GC()
		runtime.ReadMemStats(&now)
		most = max(most, now.HeapAlloc)
	})
	return most - before.HeapAlloc
}

// A bomb is a small file that becomes a very long text, here of one line
// without an end: it is read in pieces, and what is kept of a line is bounded.
func TestBombs(t *testing.T) {
	const size = 256 << 20
	var bomb bytes.Buffer
	enc, err := zstd.NewWriter(&bomb, zstd.WithEncoderLevel(zstd.SpeedFastest))
	require.NoError(t, err)
	chunk := bytes.Repeat([]byte("a"), 1<<20)
	for range size / len(chunk) {
		_, err := enc.Write(chunk)
		require.NoError(t, err)
	}
	require.NoError(t, enc.Close())
	require.Less(t, bomb.Len(), 1<<20)
	path := filepath.Join(t.TempDir(), "bomb.bell.zst")
	require.NoError(t, os.WriteFile(path, bomb.Bytes(), 0o600))
	r, err := OpenRecording(path)
	require.NoError(t, err)
	defer r.Close()
	s := NewSession(r)
	held := heldBy(func(look func()) {
		var it Item
		require.ErrorIs(t, s.Next(&it), io.EOF)
		look()
	})
	assert.EqualValues(t, size, s.Bytes())
	assert.EqualValues(t, size, s.Torn())
	assert.Less(t, held, uint64(40<<20), "the window of 8 MB and what the reader needs")
}

// Numbers of host lines that no clock shows are no times.
func TestHostNumbersAreBounded(t *testing.T) {
	var it Item
	for _, line := range []string{"#at 1000000000001", "#at " + strings.Repeat("9", 5000), "#at -1", "#at 1e3", "#at 0x10", "#lost 18446744073709551616", "#pause nan"} {
		ParseItem([]byte(line), &it)
		assert.Equal(t, Other, it.Kind, "%.40q", line)
	}
	ParseItem([]byte("#at 1000000000000.999"), &it)
	assert.Equal(t, At, it.Kind)
	assert.EqualValues(t, 1_000_000_000_000_999, it.MS)
}
