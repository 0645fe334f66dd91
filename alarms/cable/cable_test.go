package cable

import (
	"bytes"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
	"tetherbell/simulator"
)

// The lines are vectors of the protocol, see decode/PROTOCOL.md.
var vectors = []string{
	"hello,0,0,1,bench-1,42*A1C42CDB",
	"craft,1,12,Marsh Heron,quad-x,4,14,3,178,655,4*0F9FABD2",
	"axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131*E939220D",
	"state,65535,4294967295,1,0,1,0.000,0.000,0.000,0.000*D2E9B544",
}

// TestProofs goes through every place of every line, and every bit of it. What
// was done to the line is the truth that the proof is held to. A byte may be
// one of two that are alike: then to lose either gives the same line.
func TestProofs(t *testing.T) {
	var p prover
	tell := func(l []byte) Kind {
		k, ok := p.prove(l)
		if !ok {
			return Unclear
		}
		return k
	}
	for _, v := range vectors {
		for i := range v {
			for bit := range 8 {
				l := []byte(v)
				l[i] ^= 1 << bit
				require.Equal(t, FlippedBits, tell(l), "%q", l)
			}
			require.Equal(t, LostBytes, tell([]byte(v[:i]+v[i+1:])), "%s without byte %d", v, i)
			require.Equal(t, DoubledBytes, tell([]byte(v[:i+1]+v[i:])), "%s with byte %d twice", v, i)
		}
		for _, w := range vectors {
			k, ok := joined([]byte(v + w))
			require.True(t, ok)
			require.Equal(t, MergedLines, k)
			k, ok = joined([]byte(v + "\r" + w))
			require.True(t, ok, "of CR and LF, the LF is lost")
			require.Equal(t, MergedLines, k)
			k, ok = joined([]byte(v + "\r\x0b" + w))
			require.True(t, ok)
			require.Equal(t, FlippedBits, k)
			for bit := range 8 {
				k, ok = joined([]byte(v + string(rune('\n'^1<<bit)) + w))
				if bit == 7 { // the rune above makes two bytes of it
					k, ok = joined(append(append([]byte(v), '\n'^0x80), w...))
				}
				require.True(t, ok)
				require.Equal(t, FlippedBits, k)
			}
		}
	}
}

// TestNoProofByChance: of a hundred thousand lines with three bytes changed,
// none is taken for one with one fault: by chance one in some hundred thousand
// may be.
func TestNoProofByChance(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var p prover
	wrong := 0
	for range 100_000 {
		l := []byte(vectors[rng.IntN(len(vectors))])
		for range 3 {
			l[rng.IntN(len(l)-sumLen)] = byte(0x20 + rng.IntN(0x5F))
		}
		if good(l) {
			continue
		}
		before, _ := p.prove(l)
		if before == LostBytes || before == DoubledBytes {
			wrong++
		}
	}
	assert.LessOrEqual(t, wrong, 3)
}

// FuzzBad: whatever comes, nothing breaks.
func FuzzBad(f *testing.F) {
	for _, v := range vectors {
		f.Add([]byte(v), []byte(v[1:]))
	}
	f.Add([]byte("axes,1,2*"), []byte("*"))
	f.Add([]byte{}, bytes.Repeat([]byte{0xff}, 300))
	f.Fuzz(func(t *testing.T, a, b []byte) {
		w := New(0)
		for range 3 {
			w.Bad(a, decode.BadChecksum, 1)
			w.Bad(b, decode.NoChecksum, 2)
			w.Tick(20, 3)
		}
		for _, s := range w.Sights() {
			if s.Text == "" || s.Action == "" || s.Count == 0 {
				t.Fatalf("%+v", s)
			}
		}
	})
}

// TestNewsIsBounded: a fault that stays is news once, and once more after a
// quiet spell.
func TestNewsIsBounded(t *testing.T) {
	w := New(0)
	l := []byte("axes,2,1040,-0.4,1.2,0.1,0.0,0.0,0.0,0.0012,-0.0030,0.0004,0.131*E939220E")
	w.torn = false
	var news []Sight
	for i := range int64(1000) {
		w.Bad(l, decode.BadChecksum, i*10_000)
		news = append(news, w.News()...)
	}
	require.Len(t, news, 1)
	assert.False(t, news[0].Again)
	assert.Equal(t, "flipped bits", w.Cause())
	w.Tick(30_000, 30_000_000)
	assert.Empty(t, w.Cause(), "that was long ago")
	w.Bad(l, decode.BadChecksum, 50_000_000)
	news = w.News()
	require.Len(t, news, 1)
	assert.True(t, news[0].Again)
	assert.EqualValues(t, 1001, news[0].Count)
}

// samples are those of a sound bench, and the length of each line.
func samples(tb testing.TB) (out []decode.Sample, sizes []int) {
	tb.Helper()
	sc, err := simulator.Load("calm")
	require.NoError(tb, err)
	sc.Seconds, sc.Events = 20, nil
	b := simulator.New(sc, 1)
	var text []byte
	for done := false; !done; {
		text, _, done = b.Next(text)
	}
	var dec decode.Decoder
	for l := range bytes.Lines(text) {
		var s decode.Sample
		require.NoError(tb, dec.Decode(bytes.TrimSuffix(l, []byte("\n")), &s))
		out, sizes = append(out, s), append(sizes, len(l))
	}
	return out, sizes
}

// soundRun feeds sound lines, with a tick every 20 ms.
func soundRun(w *Watch, all []decode.Sample, sizes []int) {
	ms, first := int64(0), all[0].Time
	for i := range all {
		at := int64(all[i].Time - first)
		for ; ms*1000 < at; ms += 20 {
			w.Tick(ms, at)
		}
		w.Good(&all[i], sizes[i], at)
	}
}

func TestGoodLinesAllocateNothing(t *testing.T) {
	all, sizes := samples(t)
	w := New(115200)
	assert.Zero(t, testing.AllocsPerRun(3, func() {
		*w = Watch{baud: 115200, torn: true}
		w.clock.start()
		soundRun(w, all, sizes)
	}))
	assert.Empty(t, w.Sights())
	assert.Nil(t, w.News())
}

// BenchmarkGood takes a good line, its share of the ticks included.
func BenchmarkGood(b *testing.B) {
	all, sizes := samples(b)
	b.ReportAllocs()
	for b.Loop() {
		w := New(0)
		soundRun(w, all, sizes)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(all)), "ns/line")
}

// BenchmarkBad takes a bad line that nothing explains, the dearest one.
func BenchmarkBad(b *testing.B) {
	w := New(0)
	l := []byte("axes,2,1040,-0.4,1.2,0.1,0.9,0.9,0.9,0.0012,-0.0030,0.0004,0.131*E939220E")
	b.ReportAllocs()
	for b.Loop() {
		w.Bad(l, decode.BadChecksum, 1)
	}
}
