package account

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/link"
	"tetherbell/simulator"
)

// gathered runs a scenario into a collector alone.
func gathered(t testing.TB, c craft.Craft, name string, seed uint64, sets ...string) *Account {
	t.Helper()
	sc, err := simulator.Load(name)
	require.NoError(t, err)
	for _, s := range sets {
		require.NoError(t, sc.Set(s))
	}
	k := New(c, 0)
	var cut link.Splitter
	var dec decode.Decoder
	var s decode.Sample
	line := func(l []byte) {
		if dec.Decode(l, &s) == nil {
			k.Sample(&s, len(l)+1)
		} else {
			k.Bad(decode.BadChecksum, len(l)+1)
		}
	}
	b := simulator.New(sc, seed)
	var out []byte
	for done := false; !done; {
		var us int64
		out, us, done = b.Next(out[:0])
		cut.Feed(out, line)
		k.Tick(us / 1000)
	}
	return k.Finish(Ending{})
}

// The simulator's centre of gravity is found within what the balance says of
// itself; where it cannot be, that is said.
func TestBalanceAgainstTheSimulator(t *testing.T) {
	arms := craft.Craft{ArmMM: 157.5}
	for _, c := range []struct {
		name           string
		craft          craft.Craft
		scenario       string
		sets           []string
		forward, right float64
		why            string // it is not known for
	}{
		{"nose heavy", arms, "nose-heavy", nil, 34, 0, ""},
		{"to the right and back", arms, "nose-heavy", []string{"craft.cg_forward_mm=-14", "craft.cg_right_mm=14"}, -14, 14, ""},
		{"in the middle, leaning feet", arms, "nose-heavy", []string{"craft.cg_forward_mm=3"}, 3, 0, "near the middle"},
		{"arms guessed", craft.Craft{}, "nose-heavy", nil, 34, 0, ""},
		{"in rate mode", arms, "nose-heavy", []string{"mode=rate"}, 0, 0, "leans"},
		{"on a stand", craft.Craft{ArmMM: 157.5, Hold: craft.Stand}, "stand", nil, 0, 0, "stand"},
		{"in the middle", arms, "first-run-5", nil, 0, 0, "near the middle"},
		{"wound up", arms, "windup", nil, 0, 0, "integrators"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := gathered(t, c.craft, c.scenario, 5, c.sets...)
			b := a.Balance
			t.Logf("%+v", b)
			if c.why != "" && !b.Known {
				assert.Contains(t, b.Why, c.why)
				assert.Zero(t, b.ErrMM)
				return
			}
			require.True(t, b.Known, b.Why)
			if c.why == "" {
				assert.InDelta(t, 0, math.Hypot(b.ForwardMM-c.forward, b.RightMM-c.right), 5)
			}
			assert.InDelta(t, c.forward, b.ForwardMM, b.ErrMM)
			assert.InDelta(t, c.right, b.RightMM, b.ErrMM)
			assert.Greater(t, b.ErrMM, 1.0, "never a false precision")
			assert.Contains(t, b.Direction, "mm")
		})
	}
}

// Nothing is known of what was not measured.
func TestEmptyAccount(t *testing.T) {
	a := New(craft.Craft{}, 0).Finish(Ending{})
	assert.Equal(t, "there was no steady throttle", a.Balance.Why)
	assert.Equal(t, "none", a.Verdict.Worst)
	assert.Equal(t, "Not one good line, so nothing was watched", a.Verdict.Headline)
	assert.Nil(t, a.Throttle)
	assert.Nil(t, a.Pack.UsedMAh)
	assert.Nil(t, a.Axes[0].Spectrum)
	text, err := json.Marshal(a)
	require.NoError(t, err)
	assert.NotContains(t, string(text), ":null", "lists are empty, not missing")
}

// The pack of the simulator has 18 milliohm at once and 6 more after a while;
// charge and work follow from its currents.
func TestPackAgainstTheSimulator(t *testing.T) {
	for _, ohm := range []float64{0.018, 0.05} {
		a := gathered(t, craft.Craft{}, "calm", 4, "craft.pack_ohm="+map[float64]string{0.018: "0.018", 0.05: "0.05"}[ohm])
		p := a.Pack
		require.NotNil(t, p.Ohm)
		assert.InDelta(t, ohm, *p.Ohm, 3**p.OhmErr+0.002)
		assert.Less(t, *p.OhmErr, ohm/4)
		require.NotNil(t, p.UsedMAh)
		mean := *p.UsedMAh * 3.6 / a.LengthS
		assert.Less(t, mean, *p.MostA)
		assert.InEpsilon(t, *p.UsedMAh/1000*4*4.07, *p.UsedWh, 0.02, "at four cells of about 4.07 V")
		assert.InDelta(t, 4.08, *p.RestV, 0.01)
		assert.Less(t, *p.LeastV, *p.RestV)
	}
}

// A trapezoid of straight lines is exact: a current that rises from 0 to 36 A in
// 10 s draws 180 A s, 50 mAh, and at 10 V does 1800 J, half a watt-hour. A hole
// of three seconds draws nothing that anybody knows of.
func TestTrapezoid(t *testing.T) {
	run := func(hole bool) *Account {
		k := New(craft.Craft{}, 0)
		for i := range 101 {
			if hole && i > 40 && i < 70 {
				continue
			}
			s := decode.Sample{Tag: decode.Pack, Seq: uint16(i), Time: uint32(i) * 100_000}
			s.Put(decode.Volts, 10)
			s.Put(decode.Amps, 0.36*float64(i))
			k.Sample(&s, 40)
		}
		return k.Finish(Ending{})
	}
	a := run(false)
	assert.InDelta(t, 50, *a.Pack.UsedMAh, 1e-9)
	assert.InDelta(t, 0.5, *a.Pack.UsedWh, 1e-9)
	assert.InDelta(t, 36, *a.Pack.MostA, 1e-9)
	held := (4*14.4/2 + 3*(25.2+36)/2) / 3.6 // what is left: the two ends
	assert.InDelta(t, held, *run(true).Pack.UsedMAh, 1e-9)
}

// Pressure altitude is that of ISO 2533: 100 m is 100129.44 Pa in its table
// (geopotential), and the departure with thrust on is told.
func TestAirAgainstTheStandard(t *testing.T) {
	k := New(craft.Craft{}, 0)
	us := uint32(0)
	send := func(tag decode.Tag, v ...float64) {
		us += 20_000
		s := decode.Sample{Tag: tag, Time: us}
		for i, x := range v {
			s.Put(i, x)
		}
		k.Sample(&s, 40)
	}
	send(decode.State, 0, 0, 1, 0, 0, 0, 0, 1)
	for range 200 {
		send(decode.Air, 101325, 15)
	}
	send(decode.State, 1, 0, 1, 0.3, 0, 0, 0, 1)
	send(decode.Out, 0.3, 0.3, 0.3, 0.3)
	for range 200 {
		send(decode.Air, 100129.44, 15)
	}
	a := k.Finish(Ending{})
	require.NotNil(t, a.Air.Dip)
	assert.InDelta(t, 100, *a.Air.Dip, 0.01)
	assert.InDelta(t, 101325, *a.Air.Pascal, 0.01)
	last := a.Air.Height.Max[len(a.Air.Height.Max)-1]
	assert.InDelta(t, 100, *last, 0.01)
}

// A rise of 3 deg C a second over four seconds is found, whatever stands before.
func TestTemperatureRise(t *testing.T) {
	k := New(craft.Craft{Motors: 2}, 0)
	for i := range 200 {
		at := float64(i) / 10
		c := 20 + 3*min(max(at-8, 0), 4)
		s := decode.Sample{Tag: decode.Temp, Time: uint32(i) * 100_000}
		if i%50 == 0 {
			s = decode.Sample{Tag: decode.State, Time: uint32(i) * 100_000}
			s.Put(decode.Armed, 1)
		} else {
			s.Put(0, c)
			s.Put(1, 20)
		}
		k.Sample(&s, 40)
	}
	a := k.Finish(Ending{})
	require.Len(t, a.Motors, 2)
	assert.InDelta(t, 3, *a.Motors[0].TempRise, 0.01)
	assert.InDelta(t, 32, *a.Motors[0].TempPeak, 0.01)
	assert.InDelta(t, 20, *a.Motors[0].TempStart, 0.01)
	assert.InDelta(t, 0, *a.Motors[1].TempRise, 1e-9)
	assert.Nil(t, a.Motors[0].Share)
	assert.Nil(t, a.Motors[0].RPM)
}

// Spans, settings, marks and the link as the lines tell them.
func TestWhatTheLinesTell(t *testing.T) {
	k := New(craft.Craft{}, 0)
	seq := uint16(0)
	send := func(ms uint32, tag decode.Tag, word, text string, v ...float64) {
		s := decode.Sample{Tag: tag, Seq: seq, Time: ms * 1000, Word: []byte(word), Text: []byte(text)}
		seq++
		for i, x := range v {
			if !math.IsNaN(x) {
				s.Put(i, x)
			}
		}
		k.Sample(&s, 50)
	}
	state := func(ms uint32, armed, stopped float64) { send(ms, decode.State, "", "", armed, stopped) }
	state(0, 0, 0)
	state(100, 1, 0)
	state(200, math.NaN(), 0) // not known: it goes on
	send(210, decode.Set, "gain", "", 2)
	send(220, decode.Set, "gain", "", 2)
	send(230, decode.Set, "gain", "", 3)
	send(231, decode.Set, "alpha", "", 1)
	send(240, decode.Note, "", "tether hooked")
	k.Mark("hand on the stop")
	k.Mark("card passed idle: quiet")
	k.Bad(decode.BadChecksum, 60)
	seq++            // in its place
	seq += 2         // lost
	state(900, 1, 0) // after 660 ms
	state(1000, 0, 1)
	state(1100, 0, 0)
	state(1200, 1, 0)
	a := k.Finish(Ending{NotWatched: []alarms.Lack{{Name: "pack-sag", Why: "no pack stream"}}})
	assert.Equal(t, []Span{{0.1, 1}, {1.2, 1.2}}, a.Armed)
	assert.Equal(t, []Span{{1, 1.1}}, a.Stopped)
	assert.Equal(t, []Span{{0.24, 0.9}}, a.Silent)
	assert.Equal(t, []Setting{{"alpha", 1, nil}, {"gain", 3, []Change{{2, 0.23}}}}, a.Settings)
	assert.Equal(t, []Mark{{0.24, "tether hooked", "bridge"}, {0.24, "hand on the stop", "person"}, {0.24, "card passed idle: quiet", "card"}}, a.Marks)
	assert.Equal(t, uint64(1), a.Link.Bad)
	assert.Equal(t, uint64(2), a.Link.Lost)
	assert.Equal(t, map[string]uint64{"bad checksum": 1}, a.Link.Causes)
	assert.InDelta(t, 0.66, a.Link.LongestS, 1e-9)
	assert.NotEmpty(t, a.Verdict.Ended)
	assert.Contains(t, a.Verdict.Headline, "IT ENDS WITH THE CRAFT ARMED; nothing rang, but not all was watched (pack-sag)")
	assert.Equal(t, "find out why the lines ended with the craft armed (cable, bridge, monitor); then check cable, ground and baud", a.Verdict.Fix, "3 of 16 lines")
}

// The rotors' lines lie where the simulator's rotors turn, and the shake of a
// propeller that is out of balance is the loudest among them.
func TestOrdersAgainstTheSimulator(t *testing.T) {
	a := gathered(t, craft.Craft{}, "unbalanced", 2, "link.baud=3000000", "rates.accel_hz=500", "rates.axes_hz=500")
	v := a.Vibration
	require.NotNil(t, v)
	assert.Equal(t, "m/s^2/sqrt(Hz)", v.Unit)
	best := 0
	for k := int(5 / v.BinHz); k < len(v.Root); k++ {
		if v.Root[k] > v.Root[best] || best == 0 {
			best = k
		}
	}
	hz := float64(best) * v.BinHz
	in := false
	for _, o := range v.Orders {
		in = in || o.Order == "once a turn" && hz >= o.LowHz && hz <= o.HighHz
	}
	assert.True(t, in, "%.1f Hz beside %+v", hz, v.Orders)
}

// Whatever is torn out, doubled, or put in another place of a recording: the
// account holds numbers alone, and its times are in order.
func TestMangledLines(t *testing.T) {
	files, err := filepath.Glob("../../testdata/sessions/*.bell")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for n, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		whole := bytes.SplitAfter(text, []byte("\n"))
		chance := rand.New(rand.NewPCG(uint64(n), 9))
		for range 6 {
			k := New(craft.Craft{}, 0)
			var dec decode.Decoder
			var s decode.Sample
			all := slices.Clone(whole)
			for range 40 {
				from, to := chance.IntN(len(all)), chance.IntN(len(all))
				switch piece := slices.Clone(all[from:min(from+chance.IntN(60), len(all))]); chance.IntN(3) {
				case 0:
					all = slices.Delete(all, from, from+len(piece))
				case 1:
					all = slices.Insert(all, to, piece...)
				case 2:
					all[from], all[to] = all[to], all[from]
				}
			}
			for i, l := range all {
				if dec.Decode(bytes.TrimRight(l, "\r\n"), &s) == nil {
					if chance.IntN(50) == 0 { // a value at the edge of its range
						j := chance.IntN(decode.MaxNum)
						s.Num[j] *= 1e3
					}
					k.Sample(&s, len(l))
				}
				if i%100 == 0 {
					k.Tick(int64(i) * int64(chance.IntN(4)))
				}
			}
			a := k.Finish(Ending{})
			_, err := json.Marshal(a)
			require.NoError(t, err, file)
			for _, spans := range [][]Span{a.Armed, a.Stopped, a.Silent} {
				for i, sp := range spans {
					require.LessOrEqual(t, sp.From, sp.To)
					require.True(t, i == 0 || spans[i-1].To <= sp.From, "%s: %v", file, spans)
				}
			}
			if b := a.Balance; b.Known {
				require.Greater(t, b.ErrMM, 0.0)
			}
		}
	}
}

// mixed feeds a collector with a bench's lines without their bytes: axes at 1000
// a second and the rest beside.
type mixed struct {
	k  *Collector
	us int64
	n  int64
	s  decode.Sample
}

func (m *mixed) send(tag decode.Tag, v ...float64) {
	m.s = decode.Sample{Tag: tag, Seq: m.s.Seq + 1, Time: uint32(m.us)}
	for i, x := range v {
		m.s.Put(i, x)
	}
	m.k.Sample(&m.s, 80)
}

func (m *mixed) step() (lines int) {
	m.us += 1000
	m.n++
	before := m.k.bench.Link.Good
	t := float64(m.us) / 1e6
	a, fuzz := math.Sin(2*math.Pi*7*t), float64(m.n*7919%997)/997-0.5
	m.send(decode.Axes, 5*a+fuzz, 4*a-fuzz, 3*a, 0, 0, 0, 0.01*a+0.002*fuzz, 0.01*a, 0.01*fuzz, 0.3)
	if m.n%10 == 0 {
		m.send(decode.Out, 0.3, 0.31, 0.29, 0.3+0.001*fuzz)
		m.send(decode.Accel, 0.1, 0.2, -9.8)
	}
	if m.n%20 == 0 {
		m.send(decode.ERPM, 60000, 61000, 59000, 60000)
		m.send(decode.State, 1, 0, 1, 0.3, 0, 0, 0, 1)
		m.send(decode.Load, 2)
	}
	if m.n%50 == 0 {
		m.send(decode.Pack, 16-0.01*fuzz, 5+fuzz)
		m.send(decode.Air, 100800+fuzz, 15)
	}
	if m.n%500 == 0 {
		m.send(decode.Temp, 30, 31, 32, 33)
		m.k.Tick(m.us / 1000)
	}
	return int(m.k.bench.Link.Good - before)
}

func newMixed() *mixed {
	return &mixed{k: New(craft.Craft{Motors: 4, Poles: 14, Blades: 3, DiameterMM: 178, MassG: 655, Layout: "quad-x", Cells: 4}, 0)}
}

func TestCollectorAllocatesNothing(t *testing.T) {
	m := newMixed()
	for _, up := range [][2]string{{"rising-oscillation", "roll"}, {"pack-sag", "pack"}, {"tip-over", "yaw"}, {"near-lift", "craft"}} { // what they came to is measured
		require.True(t, m.k.Told(said(0, up[0], "raised", "high", up[1], 0.01, 0.1, "x", "")))
	}
	for range 20_000 {
		m.step()
	}
	assert.Zero(t, testing.AllocsPerRun(20, func() {
		for range 5000 {
			m.step()
		}
	}))
}

func BenchmarkCollector(b *testing.B) {
	m := newMixed()
	for range 10_000 {
		m.step()
	}
	b.ReportAllocs()
	lines := 0
	for b.Loop() {
		lines += m.step()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(lines), "ns/line")
}

// A line of a rotor is where it was for most of the time over idle, whatever the
// run-up swept over, and however many lines tell of which time.
func TestSpeedsByTime(t *testing.T) {
	turn := func(m *mixed, from, to, step int64, rpm, out float64) {
		for m.us = from; m.us < to; m.us += step {
			m.send(decode.State, 1, 0, 1, out, 0, 0, 0, 1)
			m.send(decode.Out, out, out, out, out)
			m.send(decode.ERPM, rpm*7, rpm*7, rpm*7, rpm*7) // of 14 poles
		}
	}
	craft := craft.Craft{Motors: 4, Poles: 14, Blades: 3, Layout: "quad-x"}
	m := &mixed{k: New(craft, 0)}
	turn(m, 10_000, 8_000_000, 10_000, 1200, 0.05)           // at idle, 20 turns a second
	turn(m, 8_000_000, 8_300_000, 1000, 2400, 0.2)           // swept over, 40, with many lines
	turn(m, 8_300_000, 18_000_000, 50_000, 4800, 0.4)        // 80, with few
	low, high, ok := m.k.motors.work.speedRange(craft.Poles) // bins of 8/7 turns a second
	require.True(t, ok)
	assert.InDelta(t, 80, low, 1.2)
	assert.InDelta(t, 80, high, 1.2)
	s := &Spectrum{TopHz: 500}
	m.k.motors.orders(m.k, s)
	assert.Equal(t, ordersOver, s.OrdersOf)

	m = &mixed{k: New(craft, 0)}
	turn(m, 10_000, 4_000_000, 10_000, 1200, 0.05)
	s = &Spectrum{TopHz: 500}
	m.k.motors.orders(m.k, s)
	assert.Equal(t, ordersIdle, s.OrdersOf)
	require.NotEmpty(t, s.Orders)
	assert.InDelta(t, 20, s.Orders[0].LowHz, 1.2)
}
