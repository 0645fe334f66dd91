package bridge

import (
	"bytes"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tetherbell/decode"
)

// A clock that the test moves.
type clock struct{ now time.Duration }

func (c *clock) read() time.Duration { return c.now }

// parse decodes every line; each must be good.
func parse(t *testing.T, text string) (samples []decode.Sample) {
	t.Helper()
	var d decode.Decoder
	for line := range strings.Lines(text) {
		var s decode.Sample
		require.True(t, strings.HasSuffix(line, "\n"), "torn: %q", line)
		require.LessOrEqual(t, len(line), decode.MaxLine)
		require.NoError(t, d.Decode([]byte(strings.TrimSuffix(line, "\n")), &s), line)
		samples = append(samples, s)
	}
	return samples
}

// bodies strips what is the same in all lines.
func bodies(text string) (all []string) {
	for line := range strings.Lines(text) {
		body, _, _ := strings.Cut(line, "*")
		all = append(all, body)
	}
	return all
}

func TestEachTag(t *testing.T) {
	at := 1040 * time.Microsecond
	nan, inf := None(), math.Inf(1)
	cases := []struct {
		name string
		send func(w *Writer) error
		want string
		bad  uint64
	}{
		{"axes", func(w *Writer) error {
			return w.Axes(at, &Axes{[3]float64{-0.4, 1.2, 0.1}, [3]float64{0, 3.5, nan}, [3]float64{0.0012, -0.003, 0.0004}, 0.131})
		}, "axes,1,1040,-0.4,1.2,0.1,0,3.5,,0.0012,-0.003,0.0004,0.131", 0},
		{"axes beyond", func(w *Writer) error {
			return w.Axes(at, &Axes{[3]float64{4000, -4000, 4000.02}, [3]float64{20000, inf, -20001}, [3]float64{1, 1.000004, -1.1}, -0.1})
		}, "axes,1,1040,4000,-4000,,20000,,,1,1", 5},
		{"out", func(w *Writer) error { return w.Out(at, []float64{0.131, nan, 0.129, 1.2, 1}) }, "out,1,1040,0.131,,0.129,,1", 1},
		{"no motor", func(w *Writer) error { return w.Out(at, nil) }, "out,1,1040", 0},
		{"erpm", func(w *Writer) error { return w.ERPM(at, []float64{41230.4, 1e6, 1e6 + 1, -1}) }, "erpm,1,1040,41230,1000000", 2},
		{"temp", func(w *Writer) error { return w.Temp(at, []float64{-40, 250, 250.1, 31.456}) }, "temp,1,1040,-40,250,,31.46", 1},
		{"accel", func(w *Writer) error { return w.Accel(at, 0.03, math.Copysign(0, -1), -9.81) }, "accel,1,1040,0.03,0,-9.81", 0},
		{"load", func(w *Writer) error { return w.Load(at, 4.2131) }, "load,1,1040,4.213", 0},
		{"load unknown", func(w *Writer) error { return w.Load(at, nan) }, "load,1,1040", 0},
		{"pack", func(w *Writer) error { return w.Pack(at, 16.12, -51) }, "pack,1,1040,16.12", 1},
		{"air", func(w *Writer) error { return w.Air(at, 101132.4, 14.2) }, "air,1,1040,101132.4,14.2", 0},
		{"state", func(w *Writer) error {
			return w.State(at, &State{Armed: Yes, Stopped: No, StickThrottle: 0.12, StickPitch: nan, ControlOK: FlagOf(true)})
		}, "state,1,1040,1,0,,0.12,0,,0,1", 0},
		{"note", func(w *Writer) error { return w.Note(at, "hooked, *now*\n\x80") }, "note,1,1040,hooked, _now___", 0},
		{"a long note", func(w *Writer) error { return w.Note(at, strings.Repeat("a", 300)) }, "note,1,1040," + strings.Repeat("a", maxNote), 0},
		{"the clock wraps", func(w *Writer) error { return w.Load(1<<32*time.Microsecond+15*time.Microsecond, 1) }, "load,1,15,1", 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var out strings.Builder
			var now clock
			w := NewWriter(&out, Config{Name: "bench-1", Boot: 42, Now: now.read})
			require.NoError(t, c.send(w))
			parse(t, out.String())
			require.Equal(t, []string{"hello,0,0,1,bench-1,42", c.want}, bodies(out.String()))
			require.Equal(t, Counts{Lines: 2, OutOfRange: c.bad}, w.Counts())
		})
	}
}

func TestRefused(t *testing.T) {
	var out strings.Builder
	var now clock
	w := NewWriter(&out, Config{Now: now.read})
	for i := range MaxSettings {
		require.NoError(t, w.Set("gain_"+string(rune('a'+i%26))+string(rune('a'+i/26)), float64(i)))
	}
	out.Reset()
	before := w.Counts()
	for _, err := range []error{
		w.Out(0, make([]float64, 9)), w.Set("", 1), w.Set("Gain", 1), w.Set("a b", 1), w.Set(strings.Repeat("a", MaxName+1), 1),
		w.Set("one_more", 1), w.SetCraft(Craft{Layout: "quad"}),
	} {
		require.ErrorIs(t, err, ErrRefused)
	}
	require.Empty(t, out.String())
	require.Equal(t, before, w.Counts(), "what is refused is not missing")
}

// hello each second, craft every ten, each setting every ten and on change, no
// two settings together.
func TestRepeats(t *testing.T) {
	var out strings.Builder
	var now clock
	w := NewWriter(&out, Config{Name: "b", Now: now.read})
	require.NoError(t, w.SetCraft(Craft{Name: "Marsh Heron", Layout: "quad-x", Motors: 4, MagnetPoles: 14, Blades: 3, PropellerMM: 178, MassG: 655}))
	for i, name := range []string{"idle_ready", "idle_least", "roll_p", "roll_i"} {
		require.NoError(t, w.Set(name, float64(i+1)/100))
		require.NoError(t, w.Set(name, float64(i+1)/100), "no change, no line")
	}
	require.Equal(t, []string{"hello,0,0,1,b,0", "craft,1,0,Marsh Heron,quad-x,4,14,3,178,655", "set,2,0,idle_ready,0.01",
		"set,3,0,idle_least,0.02", "set,4,0,roll_p,0.03", "set,5,0,roll_i,0.04"}, bodies(out.String()))
	out.Reset()
	for now.now < 40*time.Second {
		now.now += 10 * time.Millisecond
		if now.now == 15*time.Second {
			require.NoError(t, w.Set("roll_p", 0.05))
		}
		require.NoError(t, w.Load(now.now, 1))
	}
	count := map[string]int{}
	var lastSet uint32
	for _, s := range parse(t, out.String()) {
		count[s.Tag.String()+" "+string(s.Word)]++
		if s.Tag == decode.Set && s.Time != 15_000_000 {
			require.GreaterOrEqual(t, s.Time-lastSet, uint32(2_500_000), "settings are spread out")
			lastSet = s.Time
		}
	}
	require.Equal(t, map[string]int{"hello ": 40, "craft quad-x": 4, "load ": 4000, "set idle_ready": 4, "set idle_least": 4, "set roll_p": 5, "set roll_i": 4}, count)
}

// Whatever numbers come in, every line that goes out is good, and what it holds
// is the number to the last decimal that is sent.
func TestAnyNumbers(t *testing.T) {
	var out bytes.Buffer
	var now clock
	w := NewWriter(&out, Config{Now: now.read})
	r := rand.New(rand.NewPCG(7, 7))
	draw := func() float64 {
		switch r.IntN(6) {
		case 0:
			return math.Float64frombits(r.Uint64())
		case 1:
			return []float64{0, 1, -1, 4000, 4000.004, 4000.006, -4000, 20000, 1.000004, 1.000006, math.Inf(1), math.Inf(-1), math.NaN(), 5e-324}[r.IntN(14)]
		}
		return r.NormFloat64() * math.Pow10(r.IntN(8)-3)
	}
	require.NoError(t, w.Repeat())
	for range 10_000 {
		out.Reset()
		a := Axes{Throttle: draw()}
		for i := range 3 {
			a.Rate[i], a.Demand[i], a.Control[i] = draw(), draw(), draw()
		}
		require.NoError(t, w.Axes(0, &a))
		s := parse(t, out.String())[0]
		given := []float64{a.Rate[0], a.Rate[1], a.Rate[2], a.Demand[0], a.Demand[1], a.Demand[2], a.Control[0], a.Control[1], a.Control[2], a.Throttle}
		for i, v := range given {
			half := 0.5000001 / limits[decode.Axes][i].scale
			low, high := limits[decode.Axes][i].min, limits[decode.Axes][i].max
			got, ok := s.Get(i)
			if ok && math.Abs(got-v) > half || !ok && v >= low && v <= high || ok && (v < low-half || v > high+half) {
				t.Fatalf("field %d: %v became %v, %v", i, v, got, ok)
			}
		}
		out.Reset()
		require.NoError(t, w.Set("x", draw()))
		parse(t, out.String())
	}
}

// Many goroutines: whole lines, numbers in order, none twice.
func TestConcurrent(t *testing.T) {
	var out bytes.Buffer
	w := NewWriter(&out, Config{Now: func() time.Duration { return 0 }})
	var wait sync.WaitGroup
	for range 8 {
		wait.Go(func() {
			for i := range 1000 {
				_ = w.Load(0, float64(i))
				_ = w.Out(0, []float64{0.1, 0.2, 0.3, 0.4})
			}
		})
	}
	wait.Wait()
	samples := parse(t, out.String())
	require.Len(t, samples, 16_001)
	for i, s := range samples {
		require.Equal(t, uint16(i), s.Seq)
	}
}

func TestAllocatesNothing(t *testing.T) {
	w := NewWriter(io.Discard, Config{Name: "bench-1", Now: func() time.Duration { return 0 }})
	require.NoError(t, w.SetCraft(Craft{Name: "Marsh Heron", Layout: "quad-x"}))
	require.NoError(t, w.Set("idle_ready", 0.05))
	a, st := &Axes{}, &State{}
	motors := []float64{1, 2, 3, 4}
	got := testing.AllocsPerRun(100, func() {
		_ = w.Axes(0, a)
		_ = w.State(0, st)
		_ = w.ERPM(0, motors)
		_ = w.Accel(0, 1, 2, 3)
		_ = w.Pack(0, 16, 3)
		_ = w.Note(0, "a word")
		_ = w.Set("idle_ready", 0.05)
		w.due.started, w.due.craft, w.due.set = false, 0, 0 // hello, craft and set as well
	})
	require.Zero(t, got)
}

// faulty takes so many bytes of each write, then fails.
type faulty struct {
	bytes.Buffer
	take []int // -1: all
}

func (f *faulty) Write(p []byte) (int, error) {
	n := len(p)
	if len(f.take) > 0 {
		if f.take[0] >= 0 {
			n = f.take[0]
		}
		f.take = f.take[1:]
	}
	f.Buffer.Write(p[:n])
	if n < len(p) {
		return n, errors.New("no room")
	}
	return n, nil
}

// A line that was torn costs itself alone: the next one stands whole on a line
// of its own, and the gap in seq is the line that is missing.
func TestTornWrite(t *testing.T) {
	port := &faulty{take: []int{-1, -1, 0, 7, -1, 5, 0, -1}}
	w := NewWriter(port, Config{Now: func() time.Duration { return 0 }})
	failed := 0
	for i := range 8 {
		if w.Load(0, float64(i)) != nil {
			failed++
		}
	}
	var d decode.Decoder
	var seqs []uint16
	bad := 0
	for line := range strings.Lines(port.String()) {
		var s decode.Sample
		switch err := d.Decode([]byte(strings.TrimSuffix(line, "\n")), &s); {
		case err == nil:
			seqs = append(seqs, s.Seq)
		case !errors.Is(err, decode.ErrBlank):
			bad++
		}
	}
	require.Equal(t, 4, failed)
	require.Equal(t, []uint16{0, 1, 4, 7, 8}, seqs)
	require.Equal(t, 2, bad, "the two torn ones")
	require.Equal(t, Counts{Lines: 5, Dropped: 4}, w.Counts())
}

// put finds a field's limit by its slot.
func TestLimitsBySlot(t *testing.T) {
	for tag := decode.Unknown + 1; tag < decode.TagCount; tag++ {
		for i, l := range limits[tag] {
			require.EqualValues(t, i, l.slot, "%s", tag)
		}
	}
}

// A NaN out of somebody's arithmetic cannot be right and is counted; None is no
// mistake.
func TestNaNIsCounted(t *testing.T) {
	var out bytes.Buffer
	w := NewWriter(&out, Config{Now: func() time.Duration { return 0 }})
	require.NoError(t, w.Temp(0, []float64{31, None(), math.NaN(), math.Inf(1), 32}))
	require.Equal(t, uint64(2), w.Counts().OutOfRange)
	require.Contains(t, out.String(), "temp,1,0,31,,,,32*")
}

// A Writer without a clock says so, and sends nothing.
func TestNoClock(t *testing.T) {
	var out bytes.Buffer
	w := NewWriter(&out, Config{Name: "bench-1"})
	for range 2 {
		require.ErrorIs(t, w.SetCraft(Craft{Motors: 4}), ErrNoClock)
		require.ErrorIs(t, w.Set("a", 1), ErrNoClock)
		require.ErrorIs(t, w.Load(w.Now(), 1), ErrNoClock)
		require.ErrorIs(t, w.Note(0, "x"), ErrNoClock)
		require.ErrorIs(t, w.Repeat(), ErrNoClock)
	}
	require.Empty(t, out.String())
	require.Zero(t, w.Counts().Lines)
}
