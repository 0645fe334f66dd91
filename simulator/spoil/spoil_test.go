package spoil_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/decode"
	"tetherbell/simulator"
	"tetherbell/simulator/spoil"
)

// all drains a source, and checks that its times never go back.
func all(tb testing.TB, src spoil.Source) (text []byte, end int64) {
	tb.Helper()
	for done := false; !done; {
		before := end
		text, end, done = src.Next(text)
		require.GreaterOrEqual(tb, end, before)
	}
	return text, end
}

func calm(tb testing.TB, seconds float64) spoil.Source {
	tb.Helper()
	sc, err := simulator.Load("calm")
	require.NoError(tb, err)
	sc.Seconds = seconds
	sc.Events = nil
	return simulator.New(sc, 1)
}

func faults(tb testing.TB, texts ...string) (out []spoil.Fault) {
	tb.Helper()
	for _, text := range texts {
		f, err := spoil.Parse(text)
		require.NoError(tb, err)
		out = append(out, f)
	}
	return out
}

// usual are all kinds with their usual values, early.
func usual() (out []spoil.Fault) {
	for k := range spoil.KindCount {
		f := spoil.Fault{Kind: k, Value: k.About().Usual, To: spoil.Never}
		if k.About().Once {
			f.From = 500_000
		}
		out = append(out, f)
	}
	return out
}

func TestNoStrengthChangesNothing(t *testing.T) {
	want, end := all(t, calm(t, 3))
	for k := range spoil.KindCount {
		if k.About().Busy {
			continue
		}
		got, last := all(t, spoil.New(calm(t, 3), []spoil.Fault{{Kind: k, Value: k.About().Nothing, To: spoil.Never}}, 1))
		assert.True(t, bytes.Equal(want, got), k)
		assert.Equal(t, end, last, k)
	}
	for _, f := range usual() { // nor does one that comes later
		f.From, f.To = 1e9, spoil.Never
		got, _ := all(t, spoil.New(calm(t, 3), []spoil.Fault{f}, 1))
		assert.True(t, bytes.Equal(want, got), f.Kind)
	}
}

func TestSeedsGiveTheSame(t *testing.T) {
	for _, f := range usual() {
		one := spoil.New(calm(t, 4), []spoil.Fault{f}, 5)
		a, _ := all(t, one)
		b, _ := all(t, spoil.New(calm(t, 4), []spoil.Fault{f}, 5))
		assert.True(t, bytes.Equal(a, b), f.Kind)
		assert.Positive(t, one.Count(f.Kind), f.Kind)
		sound, _ := all(t, calm(t, 4))
		if f.Kind != spoil.HeldUp { // whose bytes are the same, at another time
			assert.False(t, bytes.Equal(a, sound), f.Kind)
		}
	}
}

// TestFloodOfAFraction: filler lines come to what was asked for, whole or not.
func TestFloodOfAFraction(t *testing.T) {
	sound, _ := all(t, calm(t, 4))
	lines := bytes.Count(sound, []byte("\n"))
	for text, more := range map[string]float64{"flood=1.25": 0.25, "flood=1.9": 0.9, "flood=2.7": 1.7, "flood=3": 2} {
		s := spoil.New(calm(t, 4), faults(t, text), 3)
		got, _ := all(t, s)
		assert.InDelta(t, more*float64(lines), float64(bytes.Count(got, []byte("fill,"))), 1, text)
	}
}

// TestIdle: a fault that cannot have done anything is told, with why; one that has
// had its time is not.
func TestIdle(t *testing.T) {
	s := spoil.New(calm(t, 4), faults(t, "restart@1e6", "unplugged@60", "flipped-bits=0", "wrong-baud=1", "restart=0@1",
		"flood=2@3.9", "held-up@5-6", "clock-step=0@1", "flipped-bits=1e-9"), 3)
	all(t, s)
	var got []string
	for _, f := range s.Idle() {
		got = append(got, f.String()+": "+f.Why)
	}
	assert.Equal(t, []string{
		"restart=0.5@1000000: the run ended first, at 4 s",
		"unplugged=2@60: the run ended first, at 4 s",
		"flipped-bits=0@0: at that value nothing is spoilt",
		"wrong-baud=1@0: at that value nothing is spoilt",
		"held-up=400@5-6: the run ended first, at 4 s",
		"clock-step=0@1: at that value nothing is spoilt",
	}, got)
}

// TestCounts: what is counted is what differs.
func TestCounts(t *testing.T) {
	sound, _ := all(t, calm(t, 4))
	lines := bytes.Count(sound, []byte("\n"))
	run := func(text string) (*spoil.Spoiler, []byte) {
		s := spoil.New(calm(t, 4), faults(t, text), 3)
		got, _ := all(t, s)
		return s, got
	}
	s, got := run("flipped-bits=0.01")
	differ := 0
	for i := range sound {
		if sound[i] != got[i] {
			differ++
		}
	}
	assert.EqualValues(t, differ, s.Count(spoil.FlippedBits))
	assert.InDelta(t, 0.01*float64(len(sound)), float64(differ), 4*math.Sqrt(0.01*float64(len(sound))), "as often as asked")
	s, got = run("lost-bytes=0.01")
	assert.EqualValues(t, len(sound)-len(got), s.Count(spoil.LostBytes))
	s, got = run("doubled-bytes=0.01")
	assert.EqualValues(t, len(got)-len(sound), s.Count(spoil.DoubledBytes))
	s, got = run("doubled-lines=0.1")
	assert.EqualValues(t, bytes.Count(got, []byte("\n"))-lines, s.Count(spoil.DoubledLines))
	s, got = run("merged-lines=0.1")
	assert.EqualValues(t, lines-bytes.Count(got, []byte("\n")), s.Count(spoil.MergedLines))
	s, got = run("flood=5")
	assert.EqualValues(t, bytes.Count(got, []byte("fill,")), s.Count(spoil.Flood))
	assert.Equal(t, 5*lines, bytes.Count(got, []byte("\n")))
	_, got = run("trickle=3000")
	assert.InDelta(t, 4*3000, len(got), 1100)
	_, got = run("unplugged=1@1")
	assert.InDelta(t, 0.75*float64(len(sound)), len(got), 0.05*float64(len(sound)))
}

// TestUART holds the receiver to what is known of 8N1: within 4 % it hears all,
// for the tenth bit is looked at 9.5 bits after the edge, and half a bit there is
// 5 % (common practice, no source).
func TestUART(t *testing.T) {
	sound, _ := all(t, calm(t, 2))
	for _, near := range []string{"0.96", "0.98", "1.02", "1.04"} {
		got, _ := all(t, spoil.New(calm(t, 2), faults(t, "wrong-baud="+near), 1))
		assert.True(t, bytes.Equal(sound, got), near)
	}
	for _, far := range []string{"0.5", "0.9", "1.1", "2"} {
		got, _ := all(t, spoil.New(calm(t, 2), faults(t, "wrong-baud="+far), 1))
		assert.False(t, bytes.Equal(sound, got), far)
	}
	// By hand: one byte 0x00 is low for nine bits, then high. At half the rate bits
	// 0 to 2 are looked at 3, 5 and 7 bits after the edge and are low, the others
	// are high: 0xF8. At twice the rate all ten looks fall within five bits: 0x00
	// without a stop bit, and no further edge.
	hear := func(c byte, rate string) []byte {
		got, _ := all(t, spoil.New(&once{[]byte{c}}, faults(t, "wrong-baud="+rate), 1))
		return got
	}
	assert.Equal(t, []byte{0xF8}, hear(0x00, "0.5"))
	assert.Equal(t, []byte{0x00}, hear(0x00, "2"))
	// 0x55 is low and high by turns: at half the rate each start bit is looked at
	// one bit after the edge, is high again, and counts for a knock.
	assert.Empty(t, hear(0x55, "0.5"))
	assert.Equal(t, []byte{0x55}, hear(0x55, "1"))
}

// once is a source of one piece.
type once struct{ text []byte }

func (o *once) Next(dst []byte) ([]byte, int64, bool) { return append(dst, o.text...), 1000, true }

// TestBridgeFaultsKeepLinesGood: what the bridge itself does wrong, it tells in
// good lines.
func TestBridgeFaultsKeepLinesGood(t *testing.T) {
	var dec decode.Decoder
	var s decode.Sample
	got, _ := all(t, spoil.New(calm(t, 4), faults(t, "restart=0.5@2", "flood=3", "clock-drift=1000", "clock-step=200@1"), 1))
	var stream decode.Stream
	restarts, gaps := 0, 0
	for l := range bytes.Lines(got) {
		require.NoError(t, dec.Decode(bytes.TrimSuffix(l, []byte("\n")), &s), "%s", l)
		step := stream.Next(&s, -1)
		gaps += step.Gap
		if step.Restart {
			restarts++
			assert.Equal(t, decode.Hello, s.Tag)
			assert.Zero(t, s.Seq)
			assert.Zero(t, s.Time)
			boot, _ := s.Get(decode.HelloBoot)
			assert.EqualValues(t, 43, boot, "it was 42")
		}
	}
	assert.Equal(t, 1, restarts)
	assert.Zero(t, gaps)
}

// TestDrift: after so many seconds the clock is so far on.
func TestDrift(t *testing.T) {
	last := func(src spoil.Source) decode.Sample {
		text, _ := all(t, src)
		lines := strings.Split(strings.TrimSuffix(string(text), "\n"), "\n")
		var dec decode.Decoder
		var s decode.Sample
		require.NoError(t, dec.Decode([]byte(lines[len(lines)-1]), &s))
		return s
	}
	a, b := last(calm(t, 10)), last(spoil.New(calm(t, 10), faults(t, "clock-drift=-500"), 1))
	assert.Equal(t, a.Seq, b.Seq)
	assert.InDelta(t, -5000, int32(b.Time-a.Time), 5)
}

func TestHeldUpLosesNothing(t *testing.T) {
	want, _ := all(t, calm(t, 5))
	s := spoil.New(calm(t, 5), faults(t, "held-up=400"), 1)
	var got []byte
	longest, last := int64(0), int64(0)
	for done := false; !done; {
		n := len(got)
		var until int64
		got, until, done = s.Next(got)
		if len(got) > n {
			longest, last = max(longest, until-last), until
		}
	}
	assert.True(t, bytes.Equal(want, got))
	assert.InDelta(t, 400_000, longest, 20_000)
	assert.EqualValues(t, 2, s.Count(spoil.HeldUp))
}

func TestNextAllocatesNothing(t *testing.T) {
	for _, f := range usual() {
		s := spoil.New(calm(t, 30), []spoil.Fault{f}, 1)
		buf := make([]byte, 0, 64<<10)
		for range 800 {
			buf, _, _ = s.Next(buf[:0])
		}
		got := testing.AllocsPerRun(300, func() { buf, _, _ = s.Next(buf[:0]) })
		assert.LessOrEqual(t, got, 0.0, f.Kind)
	}
}
