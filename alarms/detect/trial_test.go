package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"testing"

	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// no stands for a field that is not measured.
var no = math.NaN()

// heron is the invented craft of the tests.
var heron = craft.Craft{
	Name: "Marsh Heron", Layout: "quad-x", Motors: 4, Poles: 14, Blades: 3,
	DiameterMM: 178, MassG: 655, Cells: 4, Hold: craft.Tether,
}

// A stream is one tag of a trial: its values as a function of seconds.
type stream struct {
	tag    decode.Tag
	hz     float64
	jitter float64 // of the step, 0..0.4
	loss   float64 // share of lines lost
	value  func(t float64) []float64
}

// A change is what the reduced life of an alarm said.
type change struct {
	at           float64
	word         string // raised, worsened, eased, cleared
	where        Where
	level        Priority
	value, limit float64
	story        Story
}

func (c change) String() string {
	return fmt.Sprintf("%.3f %s %s %s %.4g/%.4g", c.at, c.word, c.where, c.level, c.value, c.limit)
}

type bell struct {
	level Priority
	gone  int64
	seen  bool
}

// A trial feeds one detector with generated lines and lives its alarms: a
// reduced engine, so that a detector is judged by itself.
type trial struct {
	b     Bench
	d     Detector
	rng   *rand.Rand
	up    map[Where]*bell
	said  []change
	found []Finding
	next  int64
	doubt Doubts
	word  []byte // name of the setting that the set stream speaks of
}

// clearTrial is the delay of the reduced life.
const clearTrial = Second / 2

func newTrial(d Detector, c craft.Craft) *trial {
	t := &trial{d: d, up: map[Where]*bell{}, rng: rand.New(rand.NewPCG(7, 11)), found: make([]Finding, 0, 16), word: []byte("idle_ready")}
	t.b = Bench{
		Craft: c, Limits: c.Limits.WithDefaults(c.DiameterMM), Motors: c.Motors,
		ArmedAt: -1, DisarmedAt: -1, StoppedAt: -1, RestartAt: -1, OutAt: -1, RPMAt: -1,
	}
	t.b.IdleReady = Reading{V: c.IdleReady, OK: c.IdleReady > 0}
	t.b.IdleLeast = Reading{V: c.IdleLeast, OK: c.IdleLeast > 0}
	return t
}

// line is one line on its way.
type line struct {
	at int64
	s  *stream
}

// run feeds the streams from one second to another, and ticks on where they
// are silent.
func (t *trial) run(from, to float64, streams ...stream) {
	var lines []line
	for i := range streams {
		s := &streams[i]
		step := 1 / s.hz
		for n := 0; ; n++ {
			at := from + float64(n)*step
			if at >= to-1e-9 {
				break
			}
			if s.jitter > 0 {
				at += step * s.jitter * (2*t.rng.Float64() - 1)
			}
			if s.loss > 0 && t.rng.Float64() < s.loss {
				continue
			}
			lines = append(lines, line{max(int64(math.Round(at*1e6)), int64(from*1e6)), s})
		}
	}
	sort.SliceStable(lines, func(i, j int) bool { return lines[i].at < lines[j].at })
	for _, l := range lines {
		t.tick(l.at)
		t.feed(l.at, l.s.tag, l.s.hz, l.s.value(float64(l.at)/1e6))
	}
	t.tick(int64(to * 1e6))
}

// tick lives through silence up to at.
func (t *trial) tick(at int64) {
	for t.next < at {
		t.b.Now = max(t.b.Now, t.next)
		t.judge()
	}
	t.b.Now = max(t.b.Now, at)
}

// feed gives one line.
func (t *trial) feed(at int64, tag decode.Tag, hz float64, v []float64) {
	s := decode.Sample{Tag: tag}
	for i, x := range v {
		if !math.IsNaN(x) {
			s.Put(i, x)
		}
	}
	if tag == decode.Set {
		s.Word = t.word
	}
	t.b.Now = max(t.b.Now, at)
	t.learn(&s, at, hz)
	t.doubt.See(&t.b, tag, at)
	t.d.Observe(&t.b, &Input{S: &s, At: at})
	if t.b.Now >= t.next {
		t.judge()
	}
}

func (t *trial) learn(s *decode.Sample, at int64, hz float64) {
	b := &t.b
	st := &b.Streams[s.Tag]
	st.Count++
	st.Last = at
	if st.Count > 9 { // the engine too needs some lines to know a pace
		st.Period, st.Steady = 1e6/hz, true
	}
	get := func(i int) Reading {
		v, ok := s.Get(i)
		return Reading{V: v, OK: ok, At: at}
	}
	switch s.Tag {
	case decode.Axes:
		for i := range 3 {
			b.Rate[i], b.Demand[i], b.Ctrl[i] = get(i), get(i+3), get(i+6)
		}
		b.Thr = get(decode.Throttle)
	case decode.Out:
		b.OutAt = at
		for i := range b.Out {
			b.Out[i] = get(i)
		}
	case decode.ERPM:
		for i := range b.ERPM {
			b.ERPM[i] = get(i)
			b.RPM[i] = Reading{At: at}
			if b.Craft.Poles > 0 {
				b.RPM[i] = get(i)
				b.RPM[i].V /= float64(b.Craft.Poles) / 2
			}
		}
		b.RPMAt = at
	case decode.Load:
		b.Load = get(0)
	case decode.Temp:
		for i := range b.Temp {
			b.Temp[i] = get(i)
		}
	case decode.Pack:
		b.Volts, b.Amps = get(0), get(1)
	case decode.Accel:
		for i := range b.Force {
			b.Force[i] = get(i)
		}
	case decode.Air:
		b.Pascal, b.AirC = get(0), get(1)
	case decode.Set:
		if b.Craft.IdleReady == 0 && string(s.Word) == "idle_ready" {
			b.IdleReady = get(0)
		}
	case decode.State:
		t.state(s, at)
	}
}

// state learns what a state line says.
func (t *trial) state(s *decode.Sample, at int64) {
	b := &t.b
	flag := func(i int) Tri {
		v, ok := s.Get(i)
		if !ok {
			return Unknown
		}
		if v != 0 {
			return Yes
		}
		return No
	}
	stopped := b.Stopped
	b.Armed, b.Stopped, b.Ground, b.ControlOK = flag(0), flag(1), flag(2), flag(7)
	if b.Stopped == Yes && stopped != Yes {
		b.StoppedAt = at
	}
	switch {
	case b.Armed == Yes && b.LastArmed != Yes:
		b.ArmedAt, b.EverArmed = at, true
	case b.Armed == No && b.LastArmed != No:
		b.DisarmedAt = at
	}
	for i := range b.Stick {
		v, ok := s.Get(3 + i)
		b.Stick[i] = Reading{V: v, OK: ok, At: at}
	}
	if b.Armed != Unknown {
		b.LastArmed = b.Armed
	}
}

// judge asks the detector and lets the alarms live.
func (t *trial) judge() {
	now := t.b.Now
	t.next = now - now%10_000 + 10_000
	t.found = t.d.Judge(&t.b, t.found[:0])
	for _, u := range t.up {
		u.seen = false
	}
	for _, f := range t.found {
		u := t.up[f.Where]
		if u == nil {
			if f.Level > None {
				t.up[f.Where] = &bell{level: f.Level, gone: -1, seen: true}
				t.say("raised", f)
			}
			continue
		}
		u.seen, u.gone = true, -1
		if f.Level > u.level {
			t.say("worsened", f)
		} else if f.Level < u.level && f.Level > None {
			t.say("eased", f)
		}
		if f.Level > None {
			u.level = f.Level
		}
	}
	for w, u := range t.up {
		if u.seen {
			continue
		}
		if u.gone < 0 {
			u.gone = now
		}
		if now-u.gone >= clearTrial {
			t.said = append(t.said, change{at: float64(now) / 1e6, word: "cleared", where: w, level: u.level})
			delete(t.up, w)
		}
	}
}

func (t *trial) say(word string, f Finding) {
	t.said = append(t.said, change{float64(t.b.Now) / 1e6, word, f.Where, f.Level, f.Value, f.Limit, t.d.Describe(&t.b, f)})
}

// raised returns what was raised.
func (t *trial) raised() []change {
	var out []change
	for _, c := range t.said {
		if c.word == "raised" {
			out = append(out, c)
		}
	}
	return out
}

func (t *trial) list() string {
	var b strings.Builder
	for _, c := range t.said {
		fmt.Fprintf(&b, "\n  %s: %s", c, c.story.Text)
	}
	return b.String()
}

// silent fails the test where anything was said.
func (t *trial) silent(tt *testing.T) {
	tt.Helper()
	if len(t.said) > 0 {
		tt.Errorf("must stay silent, said:%s", t.list())
	}
}

// one fails the test unless exactly one alarm was raised, there and in time,
// with a story that tells something.
func (t *trial) one(tt *testing.T, w Where, l Priority, from, to float64) change {
	tt.Helper()
	r := t.raised()
	if len(r) != 1 {
		tt.Fatalf("must raise once, said:%s", t.list())
	}
	c := r[0]
	if c.where != w || c.level != l || c.at < from-1e-9 || c.at > to+1e-9 {
		tt.Errorf("want %s %s from %.3f to %.3f, got %s", w, l, from, to, c)
	}
	if c.story.Text == "" || c.story.Action == "" || c.story.Unit == "" {
		tt.Errorf("story lacks a part: %+v", c.story)
	}
	return c
}

// steady is a stream value that never changes.
func steady(v ...float64) func(float64) []float64 {
	return func(float64) []float64 { return v }
}

// from switches from one value to another at a time.
func from(at float64, before, after []float64) func(float64) []float64 {
	return func(t float64) []float64 {
		if t < at-1e-9 {
			return before
		}
		return after
	}
}

// state makes the fields of a state line.
func state(armed, stopped, ground, stick float64) []float64 {
	return []float64{armed, stopped, ground, stick, 0, 0, 0, 1}
}

func all4(v float64) []float64 { return []float64{v, v, v, v} }

// paces are the streams that every detector must serve: slow and fast, even
// and with jitter and loss.
var paces = []struct {
	hz, jitter, loss float64
}{
	{50, 0, 0}, {200, 0, 0}, {1000, 0, 0}, {50, 0.3, 0.05}, {200, 0.3, 0.05}, {1000, 0.3, 0.05}, {2000, 0.3, 0.05},
}

// watchful reports whether Missing is empty.
func watchful(tt *testing.T, t *trial, want bool) {
	tt.Helper()
	if m := t.d.Missing(&t.b); (m == "") != want {
		tt.Errorf("watched: got %q, want watched %v", m, want)
	}
}
