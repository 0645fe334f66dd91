package link

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// longText is a recording of several frames, whose lines all differ.
func longText(size int) []byte {
	var b bytes.Buffer
	b.WriteString("#session {}\n")
	rng := rand.New(rand.NewPCG(1, 2))
	for i := 0; b.Len() < size; i++ {
		fmt.Fprintf(&b, "axes,%d,%d,%d,%d\n", i%65536, i*1000, rng.IntN(4000), rng.IntN(4000))
	}
	b.WriteString("#end {}\n")
	return b.Bytes()
}

func writeFile(t testing.TB, name string, text []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, text, 0o600))
	return path
}

func squeezedBytes(t testing.TB, text []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, squeezeText(context.Background(), &b, bytes.NewReader(text)))
	return b.Bytes()
}

// openBytes reads bytes as a file.
func openBytes(t testing.TB, data []byte) *squeezed {
	t.Helper()
	z, err := newSqueezed(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	t.Cleanup(z.close)
	return z
}

// Any bytes come back as they were, from the start and from any place.
func TestSqueezeRoundTrip(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		text := rapid.SliceOfN(rapid.Byte(), 0, 4000).Draw(r, "text")
		text = bytes.Repeat(text, rapid.SampledFrom([]int{1, 1, 1, 700}).Draw(r, "times"))
		var b bytes.Buffer
		if err := squeezeText(context.Background(), &b, bytes.NewReader(text)); err != nil {
			r.Fatal(err)
		}
		z, err := newSqueezed(bytes.NewReader(b.Bytes()), int64(b.Len()))
		if err != nil {
			r.Fatal(err)
		}
		defer z.close()
		if len(text) > 0 && z.table == nil {
			r.Fatal("no table of frames")
		}
		for range 3 {
			got, err := io.ReadAll(z)
			if err != nil || !bytes.Equal(got, text) || z.hurtBy() != nil {
				r.Fatalf("%d bytes came back as %d: %v, %v", len(text), len(got), err, z.hurtBy())
			}
			at := rapid.IntRange(0, len(text)).Draw(r, "at")
			whence, offset := io.SeekStart, at
			if rapid.Bool().Draw(r, "from the end") {
				whence, offset = io.SeekEnd, at-len(text)
			}
			if n, err := z.Seek(int64(offset), whence); err != nil || n != int64(at) {
				r.Fatal(n, err)
			}
			if got, err = io.ReadAll(z); err != nil || !bytes.Equal(got, text[at:]) {
				r.Fatalf("from %d of %d on: %d bytes, %v", at, len(text), len(got), err)
			}
			if _, err := z.Seek(0, io.SeekStart); err != nil {
				r.Fatal(err)
			}
		}
	})
}

// The program of the format's own authors reads our file, and we read its.
func TestSqueezeAgainstReference(t *testing.T) {
	t.Parallel()
	program, err := exec.LookPath("zstd")
	if err != nil {
		t.Skip("no zstd here")
	}
	text := longText(2_500_000)
	path := writeFile(t, "x.bell", text)
	s, err := Squeeze(context.Background(), path)
	require.NoError(t, err)
	out, err := exec.Command(program, "-dcq", s.Path).Output()
	require.NoError(t, err)
	assert.True(t, bytes.Equal(text, out))
	for _, level := range []string{"-1", "-3", "-19"} {
		plain := writeFile(t, "y.bell", text)
		require.NoError(t, exec.Command(program, "-q", level, plain).Run())
		r, err := OpenRecording(plain + ".zst")
		require.NoError(t, err)
		for range 2 { // without a table a seek starts again
			got, err := io.ReadAll(r)
			require.NoError(t, err)
			assert.True(t, bytes.Equal(text, got))
			_, err = r.Seek(0, io.SeekStart)
			require.NoError(t, err)
		}
		_, err = r.Seek(1_234_567, io.SeekStart)
		require.NoError(t, err)
		got, err := io.ReadAll(r)
		require.NoError(t, err)
		assert.True(t, bytes.Equal(text[1_234_567:], got))
		assert.NoError(t, r.Damage())
		require.NoError(t, r.Close())
	}
	plain := writeFile(t, "wide.bell", bytes.Repeat(longText(3_000_000), 4))
	require.NoError(t, exec.Command(program, "-q", "--long=27", plain).Run())
	r, err := OpenRecording(plain + ".zst")
	require.NoError(t, err)
	defer r.Close()
	_, err = io.ReadAll(r)
	require.NoError(t, err)
	assert.ErrorIs(t, r.Damage(), errTooStrong, "it would take 128 MB of memory")
}

// A file that ends too early gives what is whole, and says that it is not all.
func TestSqueezedTorn(t *testing.T) {
	t.Parallel()
	text := longText(2_200_000)
	data := squeezedBytes(t, text)
	least := 0
	for n := 1000; n < len(data); n += 1000 {
		z := openBytes(t, data[:n])
		got, err := io.ReadAll(z)
		require.NoError(t, err)
		require.True(t, bytes.HasPrefix(text, got), "torn at %d", n)
		require.Error(t, z.hurtBy(), "torn at %d", n)
		// A block holds 128 kB of text at most (RFC 8878, 3.1.1.2.4).
		require.GreaterOrEqual(t, len(got), least)
		require.GreaterOrEqual(t, float64(len(got))+2*(128<<10), float64(n)/float64(len(data))*float64(len(text)), "torn at %d", n)
		least = len(got)
		z.close()
	}
	z := openBytes(t, data[:len(data)-1]) // only the table is torn
	got, err := io.ReadAll(z)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(text, got))
	assert.ErrorIs(t, z.hurtBy(), errCutOff)
}

// A damaged frame costs that frame: the lines before and after it are whole, and
// stand where they stood.
func TestSqueezedDamagedFrame(t *testing.T) {
	t.Parallel()
	text := longText(4_400_000)
	data := squeezedBytes(t, text)
	lines := map[string]bool{"\n": true, "#lost 0\n": true} // filled in
	for l := range strings.Lines(string(text)) {
		lines[l] = true
	}
	rng := rand.New(rand.NewPCG(3, 4))
	for range 60 {
		bad := bytes.Clone(data)
		at := rng.IntN(len(bad) - 100)
		bad[at] ^= 1 << rng.IntN(8)
		z := openBytes(t, bad)
		got, err := io.ReadAll(z)
		require.NoError(t, err)
		damage := z.hurtBy()
		require.Error(t, damage, "byte %d", at)
		var d *DamageError
		require.ErrorAs(t, damage, &d)
		require.GreaterOrEqual(t, len(got), len(text)-frameText-1, "byte %d: %v", at, damage)
		if tail := len(got) - frameText/2; d.At+d.Lost < int64(tail) {
			require.True(t, bytes.Equal(text[tail:len(got)], got[tail:]), "byte %d: in its place: %v", at, damage)
		}
		strange := 0
		for l := range strings.Lines(string(got)) {
			if !lines[l] {
				strange++
			}
		}
		if !errors.Is(damage, zstd.ErrCRCMismatch) {
			require.LessOrEqual(t, strange, 2, "byte %d: the line before and the one after", at)
		}
		again, err := z.Seek(0, io.SeekStart)
		require.NoError(t, err)
		require.Zero(t, again)
		_, _ = io.Copy(io.Discard, z)
		require.Equal(t, damage, z.hurtBy(), "counted once")
		z.close()
	}
}

func TestSqueezeRefuses(t *testing.T) {
	good := longText(10_000)
	cases := []struct {
		name, file string
		text       []byte
		want       string
	}{
		{"torn", "x.bell", good[:len(good)-9], "no #end"},
		{"torn in its last line", "x.bell", good[:len(good)-1], "no #end"},
		{"end of the wire", "x.bell", append(bytes.Clone(good[:len(good)-8]), "#wire #end {}\n"...), "no #end"},
		{"empty", "x.bell", nil, "no #end"},
		{"compressed", "x.bell", squeezedBytes(t, good), "compressed already"},
		{"other name", "x.lines", good, "does not end in .bell"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			path := writeFile(t, c.file, c.text)
			_, err := Squeeze(context.Background(), path)
			require.ErrorContains(t, err, c.want)
			assert.Equal(t, 1, strings.Count(err.Error(), filepath.Base(path)), err.Error())
			left, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.True(t, bytes.Equal(c.text, left))
			list, _ := os.ReadDir(filepath.Dir(path))
			assert.Len(t, list, 1)
		})
	}
	_, err := Squeeze(context.Background(), t.TempDir())
	assert.ErrorContains(t, err, "is a directory")
	_, err = Squeeze(context.Background(), filepath.Join(t.TempDir(), "none.bell"))
	assert.ErrorContains(t, err, "no such file")
}

// No file is overwritten, and a run that was cut off is made good.
func TestSqueezeAfterOthers(t *testing.T) {
	text := longText(10_000)
	ctx := context.Background()
	path := writeFile(t, "x.bell", text)
	for name, there := range map[string][]byte{
		"another":    squeezedBytes(t, longText(20_000)),
		"plain":      text,
		"half of it": squeezedBytes(t, text)[:500],
	} {
		require.NoError(t, os.WriteFile(path+".zst", there, 0o600))
		_, err := Squeeze(ctx, path)
		assert.ErrorContains(t, err, "holds something else", name)
		left, err := os.ReadFile(path + ".zst")
		require.NoError(t, err)
		assert.True(t, bytes.Equal(there, left), name)
		require.FileExists(t, path)
	}
	for name, there := range map[string][]byte{"before the rename": nil, "before the removal": squeezedBytes(t, text)} {
		require.NoError(t, os.WriteFile(path, text, 0o600))
		require.NoError(t, os.WriteFile(path+".zst", there, 0o600))
		s, err := Squeeze(ctx, path)
		require.NoError(t, err, name)
		assert.NoFileExists(t, path, name)
		assert.EqualValues(t, len(text), s.Text)
		assert.Less(t, s.Bytes, s.Text)
	}
	require.NoError(t, os.WriteFile(path, text, 0o600))
	require.NoError(t, os.Remove(path+".zst"))
	require.NoError(t, os.WriteFile(path+".zst.part", []byte("of another"), 0o600))
	_, err := Squeeze(ctx, path)
	assert.ErrorContains(t, err, "somebody else is compressing it")
	require.FileExists(t, path+".zst.part")
	require.NoError(t, os.Remove(path+".zst.part"))
	gone, cancel := context.WithCancel(ctx)
	cancel()
	_, err = Squeeze(gone, path)
	require.ErrorIs(t, err, context.Canceled)
	list, _ := os.ReadDir(filepath.Dir(path))
	assert.Len(t, list, 1, "what was half made is gone")
}

// Only the file that was read back gets the name: another run may have put its
// own half-made one in its place.
func TestGiveNameIsForTheFileReadBack(t *testing.T) {
	dir := t.TempDir()
	half, path := filepath.Join(dir, "x.bell.zst.part"), filepath.Join(dir, "x.bell.zst")
	require.NoError(t, os.WriteFile(half, []byte("ours"), 0o600))
	own, err := os.Stat(half)
	require.NoError(t, err)
	require.NoError(t, os.Rename(half, filepath.Join(dir, "elsewhere")))
	require.ErrorIs(t, giveName(half, path, own), errNotOurs, "it is gone")
	require.NoError(t, os.WriteFile(half, nil, 0o600))
	require.ErrorIs(t, giveName(half, path, own), errNotOurs, "it is another's")
	require.FileExists(t, half)
	require.NoError(t, os.Rename(filepath.Join(dir, "elsewhere"), half))
	require.NoError(t, giveName(half, path, own))
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, "ours", string(got))
}

// A disk that fails while it is compressed: the recording stays.
func TestSqueezeTextFails(t *testing.T) {
	for room := range 3 {
		err := squeezeText(context.Background(), &narrow{room * 5000}, bytes.NewReader(longText(2_000_000)))
		assert.ErrorIs(t, err, io.ErrShortWrite)
	}
}

// narrow takes so many bytes and no more.
type narrow struct{ room int }

func (n *narrow) Write(p []byte) (int, error) {
	if n.room -= len(p); n.room < 0 {
		return 0, io.ErrShortWrite
	}
	return len(p), nil
}

func FuzzOpenSqueezed(f *testing.F) {
	data := squeezedBytes(f, longText(3000))
	f.Add(data)
	f.Add(data[:len(data)/2])
	f.Add(append(bytes.Clone(data), data...))
	f.Add(squeezedBytes(f, nil))
	f.Add([]byte("\x28\xB5\x2F\xFD"))
	f.Add([]byte("\x50\x2A\x4D\x18\x04\x00\x00\x00abcd\x28\xB5\x2F\xFD\x04\x00\x01\x00\x00a"))
	f.Add(data[len(data)-29:])
	f.Fuzz(func(t *testing.T, data []byte) {
		z, err := newSqueezed(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Skip()
		}
		defer z.close()
		const most = 1 << 20
		read := func() []byte {
			got, err := io.ReadAll(io.LimitReader(z, most))
			if err != nil {
				t.Fatalf("a damage is no error of reading: %v", err)
			}
			return got
		}
		one := read()
		if _, err := z.Seek(0, io.SeekStart); err != nil {
			t.Fatal(err)
		}
		if two := read(); !bytes.Equal(one, two) {
			t.Fatalf("%d bytes, then %d", len(one), len(two))
		}
		if z.table != nil && len(one) < most && z.hurtBy() == nil && uint64(len(one)) < z.table.Size() {
			t.Fatal("bytes are missing, and nobody says so")
		}
	})
}

func BenchmarkReadSqueezed(b *testing.B) {
	text := longText(50_000_000)
	if path := os.Getenv("TETHERBELL_LINES"); path != "" {
		var err error
		text, err = os.ReadFile(path)
		require.NoError(b, err)
	}
	path := writeFile(b, "x.bell.zst", squeezedBytes(b, text))
	info, err := os.Stat(path)
	require.NoError(b, err)
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		r, err := OpenRecording(path)
		require.NoError(b, err)
		n, err := io.Copy(io.Discard, r)
		require.NoError(b, err)
		require.EqualValues(b, len(text), n)
		r.Close()
	}
	b.ReportMetric(float64(len(text))/float64(info.Size()), "times-smaller")
}

func BenchmarkSqueeze(b *testing.B) {
	text := longText(20_000_000)
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		require.NoError(b, squeezeText(context.Background(), io.Discard, bytes.NewReader(text)))
	}
}
