package simulator

import (
	"bytes"
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

var update = flag.Bool("update", false, "rewrite golden files and the recordings in testdata/sessions")

// run plays a whole scenario and returns its lines.
func run(sc Scenario, seed uint64) []byte {
	b := New(sc, seed)
	var out []byte
	for done := false; !done; {
		out, _, done = b.Next(out)
	}
	return out
}

// Every line of a sound link decodes, whatever goes wrong with the craft, and
// its counter leaves nothing out.
func TestEveryLineDecodes(t *testing.T) {
	for _, sc := range List() {
		if sc.Name == "noisy-link" {
			continue
		}
		t.Run(sc.Name, func(t *testing.T) {
			var d decode.Decoder
			var s decode.Sample
			var seen [decode.TagCount]int
			var seq uint16
			for line := range bytes.Lines(run(sc, 1)) {
				if err := d.Decode(line[:len(line)-1], &s); err != nil || s.Seq != seq || len(line) > 240 {
					require.Fail(t, "bad line", "%v: number %d, want %d, %d bytes: %s", err, s.Seq, seq, len(line), line)
				}
				seq++
				seen[s.Tag]++
			}
			for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
				if tag != decode.Note {
					require.NotZero(t, seen[tag], tag.String())
				}
			}
		})
	}
}

// The same scenario and seed give the same bytes, and about as many of them a
// second as a baud is held against: today, and as long as
// testdata/bytes.golden is not rewritten on purpose. It was written on amd64;
// a build for GOAMD64=v3, whose compiler may fuse products and sums, and the
// other processors must agree with it.
func TestSameSeedSameBytes(t *testing.T) {
	const name = "testdata/bytes.golden"
	var got strings.Builder
	all := List()
	for k, sc := range all {
		if few := quick || testing.Short(); few && k%4 != 0 && sc.Name != "noisy-link" {
			continue // every fourth says enough where it takes long
		}
		out := run(sc, 7)
		if sc.Name == "noisy-link" { // where chance has most to say
			assert.Equal(t, sha256.Sum256(out), sha256.Sum256(run(sc, 7)), sc.Name)
			assert.NotEqual(t, sha256.Sum256(out), sha256.Sum256(run(sc, 8)), sc.Name)
		}
		real := float64(len(out)) / sc.Seconds
		assert.Less(t, real, sc.BytesPerSecond()*1.02, sc.Name)
		assert.Greater(t, real, sc.BytesPerSecond()*0.6, sc.Name)
		fmt.Fprintf(&got, "%x %s\n", sha256.Sum256(out), sc.Name)
	}
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(name, []byte(got.String()), 0o644))
	}
	want, err := os.ReadFile(name)
	require.NoError(t, err)
	for line := range strings.Lines(got.String()) {
		assert.Contains(t, string(want), line)
	}
	assert.Equal(t, len(all), strings.Count(string(want), "\n"), "one line for each scenario")
}

func TestNextAllocatesNothing(t *testing.T) {
	sc, err := Load("calm")
	require.NoError(t, err)
	b := New(sc, 1)
	buf := make([]byte, 0, 64<<10)
	for range 10 {
		buf, _, _ = b.Next(buf[:0])
	}
	assert.Zero(t, testing.AllocsPerRun(2000, func() { buf, _, _ = b.Next(buf[:0]) }))
}

// After the end there is nothing more.
func TestEnd(t *testing.T) {
	sc := quietScenario()
	sc.Seconds = 0.0525
	sc.Events = nil
	b := New(sc, 1)
	until, done := int64(0), false
	for !done {
		_, until, done = b.Next(nil)
	}
	assert.EqualValues(t, 52_500, until)
	out, until, done := b.Next(nil)
	assert.Empty(t, out)
	assert.EqualValues(t, 52_500, until)
	assert.True(t, done)
}

// Whatever parses can be run, and all it says decodes.
func FuzzParse(f *testing.F) {
	for _, n := range names {
		text, err := embedded.ReadFile("scenarios/" + n + ".toml")
		require.NoError(f, err)
		f.Add(text)
	}
	f.Add([]byte("name=\"a\"\nlesson=\"b\"\nseconds=3\nevent=[{at=0,do=\"arm\"},{at=0,do=\"throttle\",to=1}]\nmotor=[{motor=1,thrust=0}]"))
	f.Add([]byte("name=\"a\"\nlesson=\"b\"\nseconds=3\ncraft={mass_g=300,play_mm=0}\ngains.scale=50\n[[event]]\nat=0\ndo=\"arm\"\n[[event]]\nat=0.1\ndo=\"throttle\"\nto=0.9"))
	f.Fuzz(func(t *testing.T, text []byte) {
		sc, err := Parse(text)
		if err != nil {
			require.NotContains(t, strings.TrimSpace(err.Error()), "\n")
			return
		}
		sc.Seconds = min(sc.Seconds, 0.4)
		for k := range sc.Events {
			sc.Events[k].At = min(sc.Events[k].At, sc.Seconds/2)
			if d := sc.Events[k].Do; d == "flip" {
				sc.Events[k].To = 0
			}
		}
		sc.Link.Flipped = 0
		var d decode.Decoder
		var s decode.Sample
		for line := range bytes.Lines(run(sc, 1)) {
			require.NoError(t, d.Decode(bytes.TrimSuffix(line, []byte("\n")), &s), "%s", line)
		}
	})
}

func BenchmarkNext(b *testing.B) {
	for _, c := range []struct {
		name string
		axes float64
	}{{"calm", 400}, {"gains-high", 400}, {"calm", 1000}} {
		b.Run(fmt.Sprintf("%s-%.0f", c.name, c.axes), func(b *testing.B) {
			sc, err := Load(c.name)
			require.NoError(b, err)
			sc.Rates.Axes, sc.Link.Baud = c.axes, 0
			buf := make([]byte, 0, 64<<10)
			bench := New(sc, 1)
			lines, bytesOut := 0, 0
			b.ReportAllocs()
			b.ResetTimer()
			for range b.N {
				var done bool
				buf, _, done = bench.Next(buf[:0])
				lines += bytes.Count(buf, []byte("\n"))
				bytesOut += len(buf)
				if done {
					b.StopTimer()
					bench = New(sc, 1)
					b.StartTimer()
				}
			}
			simulated := float64(b.N) * sliceUS / 1e6
			b.ReportMetric(simulated/b.Elapsed().Seconds(), "x-real-time")
			b.ReportMetric(float64(lines)/b.Elapsed().Seconds(), "lines/s")
			b.SetBytes(int64(bytesOut / max(b.N, 1)))
		})
	}
}
