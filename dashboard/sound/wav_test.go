package sound

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestWAVHeader compares with bytes written out by hand from the RIFF layout
// (Multimedia Programming Interface and Data Specifications 1.0, 1991, from
// memory): three samples, so 6 bytes of data and 36 + 6 after the first size.
func TestWAVHeader(t *testing.T) {
	want := "52494646" + "2a000000" + "57415645" + // RIFF, 42, WAVE
		"666d7420" + "10000000" + "0100" + "0100" + // fmt, 16, PCM, mono
		"80bb0000" + "00770100" + "0200" + "1000" + // 48000, 96000 bytes/s, 2 bytes, 16 bits
		"64617461" + "06000000" + "0000" + "ff7f" + "0080" // data, 6, 0, 32767, -32768
	assert.Equal(t, want, hex.EncodeToString(appendWAV(nil, []int16{0, 32767, -32768})))
}

func TestWriteWAV(t *testing.T) {
	path := filepath.Join(t.TempDir(), "patterns.wav")
	require.NoError(t, os.WriteFile(path, []byte("old"), 0o600))
	require.NoError(t, WriteWAV(path))
	entries, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	assert.Len(t, entries, 1, "nothing is left beside it")

	sox, err := exec.LookPath("sox")
	if err != nil {
		t.Skip("sox is not installed: the file was not read by another program")
	}
	info, err := exec.Command(sox, "--i", path).CombinedOutput()
	require.NoError(t, err, string(info))
	for _, want := range []string{"Channels       : 1", "Sample Rate    : 48000", "16-bit Signed Integer PCM"} {
		assert.Contains(t, string(info), want)
	}
	seconds, err := exec.Command(sox, "--i", "-D", path).Output()
	require.NoError(t, err)
	t.Logf("sox reads %s s", strings.TrimSpace(string(seconds)))
}

func TestWriteWAVErrors(t *testing.T) {
	dir := t.TempDir()
	assert.EqualError(t, WriteWAV(dir), "write "+dir+": not a regular file")
	missing := filepath.Join(dir, "no", "such.wav")
	assert.ErrorIs(t, WriteWAV(missing), os.ErrNotExist)
	assert.NotContains(t, WriteWAV(missing).Error(), ".tmp")
	if runtime.GOOS == "windows" {
		return
	}
	assert.EqualError(t, WriteWAV(os.DevNull), "write "+os.DevNull+": not a regular file")

	link, target := filepath.Join(dir, "link.wav"), filepath.Join(dir, "target.wav")
	require.NoError(t, os.WriteFile(target, nil, 0o600))
	require.NoError(t, os.Symlink(target, link))
	require.NoError(t, WriteWAV(link))
	info, err := os.Lstat(link)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeSymlink, "the link stays a link")
	info, err = os.Stat(target)
	require.NoError(t, err)
	assert.Greater(t, info.Size(), int64(100000))
}

// TestWAVFigures reads the file as another program would and measures what is
// in it: pulses, their length and spacing, pitch and harmonics.
func TestWAVFigures(t *testing.T) {
	path := filepath.Join(t.TempDir(), "patterns.wav")
	require.NoError(t, WriteWAV(path))
	file, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, "data", string(file[36:40]))
	data := file[44:]
	require.Equal(t, len(data), int(binary.LittleEndian.Uint32(file[40:])))
	if sox, err := exec.LookPath("sox"); err == nil { // its own reading of the file
		raw, err := exec.Command(sox, "-D", path, "-t", "raw", "-").Output()
		require.NoError(t, err)
		require.Equal(t, data, raw)
	}
	var samples []float32
	for i := 0; i < len(data); i += 2 {
		samples = append(samples, float32(int16(binary.LittleEndian.Uint16(data[i:])))/32768)
	}
	at := 0
	for _, pat := range Patterns() {
		n := len(pat.Samples())
		checkStandard(t, pat.Priority, samples[at:at+n], pat.Fundamental, exact)
		at += n + partSamples
	}
	assert.Equal(t, len(samples)+partSamples, at)
}

// TestWAVStaysTheSame: outside checks rely on the bytes of the file. The sum
// was taken before patterns had more than one pitch.
func TestWAVStaysTheSame(t *testing.T) {
	if runtime.GOARCH != "amd64" {
		t.Skip("a sine may differ in its last digit elsewhere")
	}
	sum := sha256.Sum256(appendWAV(nil, demonstration()))
	assert.Equal(t, "1d55a5afdcafd6e50e270657cc5ce6e370e1ef0dc69f5f1e490d01f91b07ca46", hex.EncodeToString(sum[:]))
}
