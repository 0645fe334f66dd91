package alarms

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A talker is a bridge of a test: its clock stands so far at the host's nought,
// and runs so much fast.
type talker struct {
	n      int
	clock0 int64
	ppm    float64
	seq    uint16
}

// line is what it sends at a time of the host.
func (b *talker) line(tag decode.Tag, host int64) *decode.Sample {
	own := b.clock0 + host + int64(math.Round(float64(host)*b.ppm/1e6))
	s := &decode.Sample{Tag: tag, Seq: b.seq, Time: uint32(own)}
	b.seq++
	return s
}

func stateSample(b *talker, host int64, armed float64) *decode.Sample {
	s := b.line(decode.State, host)
	for i := range 8 {
		s.Put(i, 0)
	}
	s.Put(decode.Armed, armed)
	s.Put(decode.ControlOK, 1)
	return s
}

// The law: without delays, a line of the second bridge gets the engine time that
// a line of the first one taken at the same moment gets, to the microsecond of
// either clock's reading, whatever its clock shows and however it runs. Both
// clocks go round here.
func TestTwoClocksWithoutDelay(t *testing.T) {
	for _, c := range []struct {
		zeroA, zeroB int64
		ppmA, ppmB   float64
	}{{0, 0, 0, 0}, {0, 777, 0, 0}, {1<<32 - 3_000_000, 12, 0, 0}, {0, 1<<32 - 9_000_000, 0, 0}, {5, 1 << 31, 0, 100}, {5, 1 << 31, -100, 0}, {0, 9, 100, -100}} {
		k := NewClock()
		a, b := talker{n: 1, clock0: c.zeroA, ppm: c.ppmA}, talker{n: 2, clock0: c.zeroB, ppm: c.ppmB}
		worst := int64(0)
		for host := int64(0); host < 200_000_000; host += 5_000 {
			if host%20_000 == 0 {
				k.Tick(host / 1000)
			}
			k.From(1, host)
			at := k.Sample(a.line(decode.Axes, host))
			k.From(2, host)
			bt := k.Sample(b.line(decode.Load, host))
			if host > 20_000_000 {
				worst = max(worst, max(at-bt, bt-at))
			}
		}
		assert.LessOrEqual(t, worst, int64(4), "%+v", c)
		if c.ppmA == 0 && c.ppmB == 0 {
			assert.Zero(t, worst)
		}
	}
}

// With true delays: the second bridge's lines stay evenly spaced, never go back,
// and lie where they were taken.
func TestTwoClocksWithDelays(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	k := NewClock()
	a, b := talker{n: 1, clock0: 123}, talker{n: 2, clock0: 1 << 30, ppm: 60}
	wa, wb := wire{rng: rng, mean: 1000, frame: 8000}, wire{rng: rng, mean: 1000, frame: 16_000, phase: 3000}
	type sent struct {
		from int
		host int64 // when it was taken
	}
	var queue [3][]sent
	last, tick, worst := int64(-1), int64(0), int64(0)
	var base int64
	for now := int64(0); now < 120_000_000; now += 1000 {
		if now%2000 == 0 {
			queue[1] = append(queue[1], sent{1, now})
		}
		if now%10_000 == 0 {
			queue[2] = append(queue[2], sent{2, now})
		}
		for n, w := range []*wire{&wa, &wb} {
			n++
			if len(queue[n]) == 0 || now < w.arrives(queue[n][0].host) {
				continue
			}
			k.From(n, now)
			for _, q := range queue[n] {
				if q.host+200 > now {
					break
				}
				queue[n] = queue[n][1:]
				if n == 1 {
					if at := k.Sample(a.line(decode.Axes, q.host)); q.host == 0 {
						base = at
					}
					continue
				}
				at := k.Sample(b.line(decode.Load, q.host))
				require.GreaterOrEqual(t, at, last, "it goes back")
				last = at
				if now > 30_000_000 {
					worst = max(worst, at-base-q.host, q.host-at+base)
				}
			}
		}
		if now >= tick {
			k.Tick(now / 1000)
			tick += 20_000
		}
	}
	t.Log("worst error:", worst, "us")
	assert.Less(t, worst, int64(5000))
}

// twoBridges is an engine with two bridges: axes and state at 100 a second from
// the first, load at 50 from the second, over so many seconds.
type twoBridges struct {
	e      *Engine
	a, b   talker
	host   int64
	events []Event
	armed  float64
	slow   int64 // milliseconds between lines of the second; 0: 20
	unused bool  // the second sends what is another's
	swing  bool  // roll swings, and grows
}

func newTwoBridges() *twoBridges {
	return &twoBridges{
		e: New(craft.Craft{MassG: 655}, Options{Sources: []string{"nose", "stand"}, Bauds: []int{921600, 0}}),
		a: talker{n: 1}, b: talker{n: 2, clock0: 1 << 28, ppm: 40},
	}
}

func (r *twoBridges) run(seconds float64, a, b bool) {
	for end := r.host + int64(seconds*1e6); r.host < end; r.host += 10_000 {
		if a {
			r.e.From(1, r.host+3000)
			r.e.Sample(stateSample(&r.a, r.host, r.armed), 50)
			x := r.a.line(decode.Axes, r.host)
			for i := range decode.MaxNum {
				x.Put(i, 0.01*float64(r.host/10_000%7))
			}
			if r.swing {
				at := float64(r.host) / 1e6
				x.Put(decode.ControlRoll, 0.002*math.Exp(0.7*at)*math.Sin(2*math.Pi*8*at))
			}
			r.e.Sample(x, 80)
		}
		if b && r.host%(max(r.slow, 20)*1000) == 0 {
			r.e.From(2, r.host+5000)
			l := r.b.line(decode.Load, r.host)
			l.Put(decode.LoadN, 0.01*float64(r.host/10_000%5))
			if r.unused { // as decode.Owners makes it
				l = &decode.Sample{Seq: l.Seq, Time: l.Time}
			}
			r.e.Sample(l, 30)
		}
		if r.host%20_000 == 0 {
			r.e.Tick(r.host/1000 + 8)
		}
		if a || r.host%20_000 == 0 { // else nothing was done, and they are the same
			r.events = append(r.events, r.e.Events()...)
		}
	}
}

func (r *twoBridges) links() (out []Event) {
	for _, ev := range r.events {
		if ev.Kind == detect.StaleLink || ev.Kind == detect.BadLink {
			out = append(out, ev)
		}
	}
	return out
}

func TestOneOfTwoBridgesGoesSilent(t *testing.T) {
	for _, c := range []struct {
		name     string
		a, b     bool
		armed    float64
		priority detect.Priority
		text     string
	}{
		{"the craft's, armed", false, true, 1, detect.High, "no good line from nose"},
		{"the stand's, armed", true, false, 1, detect.Medium, "no good line from stand"},
		{"the stand's, disarmed", true, false, 0, detect.Low, "no good line from stand"},
		{"both", false, false, 1, detect.High, "no good line for"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newTwoBridges()
			r.armed = c.armed
			r.run(5, true, true)
			require.Empty(t, r.links())
			before := r.e.Now()
			r.run(1, c.a, c.b)
			got := r.links()
			require.Len(t, got, 1)
			assert.Equal(t, Raised, got[0].Change)
			assert.Equal(t, c.priority, got[0].Priority)
			assert.Contains(t, got[0].Story.Text, c.text)
			assert.InDelta(t, 0.33, float64(got[0].T-before)/1e6, 0.05, "after the beginning of the silence")
			assert.InDelta(t, 1e6, r.e.Now()-before, 60_000, "engine time goes on")
			r.run(2, true, true)
			got = r.links()
			assert.Equal(t, Cleared, got[len(got)-1].Change)
			n := 0
			for _, ev := range got {
				if ev.Change == Raised {
					n++
				}
			}
			assert.Equal(t, 1, n)
		})
	}
}

// However seldom the other one talks, a dead bridge is named in time; and where
// both fell silent and one comes again, the other has been silent all the while.
func TestADeadBridgeBesideASlowOne(t *testing.T) {
	for _, slow := range []int64{20, 140, 160, 200, 240, 280, 500, 1000} {
		r := newTwoBridges()
		r.armed, r.slow = 1, slow
		r.run(8, true, true)
		require.Empty(t, r.links())
		before := r.e.Now()
		r.run(6, false, true)
		got := r.links()
		require.NotEmpty(t, got, "a line each %d ms", slow)
		assert.Equal(t, detect.High, got[0].Priority)
		assert.InDelta(t, 0.33, float64(got[0].T-before)/1e6, 0.05, "a line each %d ms", slow)
	}
	r := newTwoBridges()
	r.armed = 1
	r.run(8, true, true)
	before := r.e.Now()
	r.run(0.28, false, false)
	r.run(2, false, true)
	require.NotEmpty(t, r.links())
	assert.InDelta(t, 0.33, float64(r.links()[0].T-before)/1e6, 0.05)
	assert.Contains(t, r.links()[0].Story.Text, "nose")
}

// A bridge that restarts is told by name; the other's lines keep their place, and
// what came from it alone starts anew, also where its clock is the engine's.
func TestOneOfTwoBridgesRestarts(t *testing.T) {
	for which, name := range []string{"nose", "stand"} {
		r := newTwoBridges()
		r.armed = 1
		r.run(5, true, true)
		if which == 0 {
			r.a = talker{n: 1, clock0: -r.host}
		} else {
			r.b = talker{n: 2, clock0: -r.host}
		}
		before := r.e.Now()
		r.run(2, true, true)
		got := r.links()
		require.NotEmpty(t, got)
		assert.Contains(t, got[0].Story.Text, "bridge restarted while the craft was armed, on "+name)
		assert.Equal(t, [...]detect.Priority{detect.High, detect.Medium}[which], got[0].Priority)
		assert.Contains(t, got[0].Story.Text, [...]string{"what is made of axes, state starts anew", "what is made of load starts anew"}[which])
		assert.Equal(t, which == 1, r.e.bench.Streams[decode.Axes].Count > 500, "windows go on")
		assert.Equal(t, which == 0, r.e.bench.Streams[decode.Load].Count > 300, "windows go on")
		assert.InDelta(t, 2e6, r.e.Now()-before, 10_000)
		assert.Equal(t, 1, r.e.restarts)
	}
}

// A stand whose bridge restarts again and again hides no shake of the craft,
// whichever was heard first.
func TestRestartingStandHidesNoShake(t *testing.T) {
	raised := func(standFirst bool, every float64) (at int64) {
		r := newTwoBridges()
		if standFirst {
			r.run(0.1, false, true)
		}
		r.armed, r.swing = 1, true
		for i := 0; r.host < 7_200_000; i++ {
			if every > 0 && i > 0 {
				r.b = talker{n: 2, clock0: -r.host}
			}
			r.run(max(every, 0.3), true, true)
		}
		for _, ev := range r.events {
			if ev.Kind == detect.RisingOscillation && ev.Where == detect.Roll && ev.Priority >= detect.Medium {
				return ev.T
			}
		}
		return -1
	}
	for _, standFirst := range []bool{false, true} {
		calm := raised(standFirst, 0)
		require.Positive(t, calm)
		for _, every := range []float64{0.3, 0.5, 0.9, 2} {
			got := raised(standFirst, every)
			if standFirst { // its clock is the engine's: by the microsecond another
				assert.InDelta(t, calm, got, 10_000, "each %.1f s", every)
				continue
			}
			assert.Equal(t, calm, got, "each %.1f s", every)
		}
	}
}

// One that matters more is told, whichever came first.
func TestBothBridgesRestart(t *testing.T) {
	for _, first := range []string{"nose", "stand"} {
		r := newTwoBridges()
		r.armed = 1
		r.run(5, true, true)
		restart := map[string]func(){
			"nose":  func() { r.a = talker{n: 1, clock0: -r.host} },
			"stand": func() { r.b = talker{n: 2, clock0: -r.host} },
		}
		second := "nose"
		if first == second {
			second = "stand"
		}
		restart[first]()
		r.run(0.3, true, true)
		restart[second]()
		r.run(0.3, true, true)
		assert.Equal(t, 2, r.e.restarts)
		got := r.links()
		last := got[len(got)-1]
		assert.Equal(t, detect.High, last.Priority, first)
		assert.Contains(t, last.Story.Text, "bridge restarted while the craft was armed, on nose", first)
	}
}

// A bridge of which nothing is taken restarts: low, and nothing is forgotten. It is
// shown with what it sends all the same.
func TestUnusedBridgeRestarts(t *testing.T) {
	r := newTwoBridges()
	r.armed, r.unused = 1, true
	r.run(5, true, true)
	had := r.e.course.bench.Streams[decode.Axes].Count
	r.b = talker{n: 2, clock0: -r.host}
	r.run(2, true, true)
	got := r.links()
	require.NotEmpty(t, got)
	assert.Equal(t, detect.Low, got[0].Priority)
	assert.Contains(t, got[0].Story.Text, "bridge restarted while the craft was armed, on stand")
	assert.Contains(t, got[0].Story.Text, "nothing that is watched comes from it")
	assert.Greater(t, r.e.course.bench.Streams[decode.Axes].Count, had, "windows go on")
	assert.Equal(t, 1, r.e.restarts)
	v := r.e.Bridges()
	assert.False(t, v[0].Unused)
	assert.InDelta(t, 200, v[0].All, 5)
	assert.True(t, v[1].Unused)
	assert.InDelta(t, 50, v[1].All, 3)
	assert.Zero(t, v[1].Rate)
	r.run(4, true, false)
	assert.InDelta(t, 0, r.e.Bridges()[1].All, 20, "it has fallen silent")
}

// The worst share is told, with its bridge: half of the stand's lines are lost,
// which are few among all.
func TestBadLinkNamesItsBridge(t *testing.T) {
	r := newTwoBridges()
	r.armed = 1
	for range 1000 {
		r.run(0.02, true, true)
		r.b.seq++
	}
	got := r.links()
	require.Len(t, got, 1)
	assert.Equal(t, detect.BadLink, got[0].Kind)
	assert.Contains(t, got[0].Story.Text, "stand: ")
	assert.InDelta(t, 0.5, got[0].Value, 0.05)
	v := r.e.Bridges()
	assert.Zero(t, v[0].Lost)
	assert.InDelta(t, 999, v[1].Lost, 2)
	assert.Equal(t, r.e.Summary().Lost, v[1].Lost, "the summary is the sum")
	assert.InDelta(t, float64(1<<28)/1e6, v[1].Offset, 0.01)
	assert.InDelta(t, 40, v[1].Drift, v[1].DriftUnsure)
}

// Lines of several bridges cost no memory.
func TestBridgesAllocateNothing(t *testing.T) {
	r := newTwoBridges()
	r.run(20, true, true)
	x := r.a.line(decode.State, 0)
	for i := range 8 {
		x.Put(i, 0)
	}
	l := r.b.line(decode.Load, 0)
	host, seq, seqB := r.host, r.a.seq, r.b.seq
	n := testing.AllocsPerRun(2000, func() {
		host += 10_000
		seq++
		seqB++
		x.Time, x.Seq = uint32(host), seq
		l.Time, l.Seq = uint32(1<<28+host+host*40/1_000_000), seqB
		r.e.From(1, host+3000)
		r.e.Sample(x, 50)
		r.e.From(2, host+5000)
		r.e.Sample(l, 30)
		r.e.Tick(host/1000 + 6)
		r.e.Events()
	})
	assert.Zero(t, n)
}

// A bridge whose port was named and that never says a good line: nobody knows what
// it carries. It rings, the louder while armed, names itself, stands in what is not
// watched, and hides no other that falls silent.
func TestABridgeThatIsNeverHeard(t *testing.T) {
	for _, c := range []struct {
		armed    float64
		bad      int
		priority detect.Priority
		text     string
	}{
		{1, 0, detect.Medium, "nothing was ever heard from stand"},
		{0, 0, detect.Low, "nothing was ever heard from stand"},
		{1, 7, detect.Medium, "no good line was ever heard from stand"},
	} {
		r := newTwoBridges()
		r.armed = c.armed
		r.run(2, true, false)
		for range c.bad {
			r.e.From(2, r.host)
			r.e.Bad(20)
		}
		assert.Empty(t, r.links())
		assert.Empty(t, r.e.mute())
		r.run(3, true, false)
		got := r.links()
		require.NotEmpty(t, got)
		assert.Equal(t, c.priority, got[0].Priority)
		assert.Contains(t, got[0].Story.Text, c.text)
		assert.InDelta(t, 3, float64(got[0].T)/1e6, 0.1)
		lacks := r.e.Summary().NotWatched
		assert.Equal(t, "stand", lacks[len(lacks)-1].Name)
		var s Snapshot
		r.e.Snapshot(&s)
		assert.Len(t, s.Mute, 1)
		r.run(3, true, true)
		cleared := slices.ContainsFunc(r.links(), func(e Event) bool { return e.Kind == detect.StaleLink && e.Change == Cleared })
		assert.True(t, cleared)
		assert.Empty(t, r.e.mute())
	}
}

func TestANeverHeardBridgeHidesNoOther(t *testing.T) {
	r := newTwoBridges()
	r.e = New(craft.Craft{MassG: 655}, Options{Sources: []string{"nose", "stand", "third"}, Bauds: []int{921600, 0, 0}})
	r.armed = 1
	r.run(6, true, true)
	require.Len(t, r.links(), 1)
	assert.Contains(t, r.links()[0].Story.Text, "from third")
	r.run(1, true, false)
	got := r.links()
	assert.Contains(t, got[len(got)-1].Story.Text, "no good line from stand")
	assert.Equal(t, detect.Medium, got[len(got)-1].Priority)
	r.run(1, false, true)
	got = r.links()
	assert.Contains(t, got[len(got)-1].Story.Text, "no good line from nose")
	assert.Equal(t, detect.High, got[len(got)-1].Priority)
}

// Bridges that a recording has and does not name are waited for by nobody.
func TestBridgesThatNobodyNamed(t *testing.T) {
	r := newTwoBridges()
	r.e = New(craft.Craft{MassG: 655}, Options{})
	r.armed = 1
	r.run(8, true, true)
	assert.Empty(t, r.links())
	assert.Empty(t, r.e.mute())
}
