package alarms

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
)

// A fullBench sends every stream of an armed craft that hovers at half its weight.
type fullBench struct {
	e       *Engine
	us      int64
	s       decode.Sample
	armed   float64
	cut     map[decode.Tag]bool
	blank   map[decode.Tag]uint32 // fields that are empty, a bit each
	wrong   map[decode.Tag]string // tags that are written wrongly
	noHello bool
}

func newFullBench() *fullBench {
	return &fullBench{
		e: New(craft.Craft{
			Motors: 4, Poles: 14, DiameterMM: 178, MassG: 655, Layout: "quad-x", Cells: 4, RatedA: 40,
			IdleReady: 0.08, IdleLeast: 0.06,
		}, Options{}),
		armed: 1, cut: map[decode.Tag]bool{}, blank: map[decode.Tag]uint32{},
	}
}

func (f *fullBench) send(tag decode.Tag, v ...float64) {
	if f.cut[tag] {
		return
	}
	f.s = decode.Sample{Tag: tag, Seq: f.s.Seq + 1, Time: uint32(f.us)}
	if name := f.wrong[tag]; name != "" {
		f.s.Tag, f.s.Word = decode.Unknown, []byte(name)
		f.e.Sample(&f.s, 60)
		return
	}
	for i, x := range v {
		if f.blank[tag]&(1<<i) == 0 {
			f.s.Put(i, x)
		}
	}
	f.e.Sample(&f.s, 60)
}

// run goes on for so many seconds, axes at 500 a second.
func (f *fullBench) run(seconds float64) {
	for to := f.us + int64(seconds*1e6); f.us < to; f.us += 2000 {
		t := float64(f.us) / 1e6
		a, fuzz := math.Sin(2*math.Pi*3*t), float64(f.us/2000*7919%997)/997-0.5
		every := func(us int64) bool { return f.us%us == 0 }
		if every(1_000_000) && !f.noHello {
			f.send(decode.Hello, 1, 0, 42)
		}
		f.send(decode.Axes, 5*a+fuzz, 4*a-fuzz, 3*a+fuzz, 0, 0, 0, 0.01*a+0.002*fuzz, 0.01*a, 0.01*a, 0.3)
		if every(4000) {
			f.send(decode.Accel, 0.1+fuzz, 0.2-fuzz, -9.8+fuzz)
		}
		if every(10_000) {
			o := 0.3 + 0.001*fuzz
			f.send(decode.Out, o, o, o, o)
			f.send(decode.ERPM, 60000+10*fuzz, 60000+9*fuzz, 60000-9*fuzz, 60000-10*fuzz)
		}
		if every(50_000) {
			f.send(decode.State, f.armed, 0, 1, 0.3, 0, 0, 0, 1)
			f.send(decode.Load, 3.2+0.01*fuzz)
			f.send(decode.Pack, 16+0.01*fuzz, 12+0.1*fuzz)
			f.send(decode.Air, 101_000+fuzz, 20)
		}
		if every(250_000) {
			f.send(decode.Temp, 30, 31, 32, 33)
		}
		if every(20_000) {
			f.e.Tick(f.us / 1000)
		}
		f.e.Events()
	}
}

// why is what a snapshot says of each kind that is not watched.
func (f *fullBench) why() map[string]string {
	var s Snapshot
	f.e.Snapshot(&s)
	out := map[string]string{}
	for _, l := range s.NotWatched {
		out[l.Name] = l.Why
	}
	return out
}

func (f *fullBench) reaches(k detect.Kind) bool {
	var s Snapshot
	f.e.Snapshot(&s)
	return slices.ContainsFunc(s.Reaches, func(r detect.Reach) bool { return r.Kind == k })
}

// TestDeadStreamIsNotWatched cuts each stream in turn: what cannot do without it
// says so, and has no gauge, and all else goes on.
func TestDeadStreamIsNotWatched(t *testing.T) {
	for tag, kinds := range map[decode.Tag][]detect.Kind{
		decode.Load:  {detect.NearLift, detect.HoldLost},
		decode.Pack:  {detect.PackSag, detect.OverCurrent},
		decode.Temp:  {detect.MotorHeat},
		decode.Air:   {detect.PressureDip},
		decode.ERPM:  {detect.RotorLost, detect.RotorLine},
		decode.Out:   {detect.OutputImbalance, detect.RotorLost, detect.Runaway},
		decode.Axes:  {detect.RisingOscillation, detect.LowMargin, detect.TipOver, detect.Windup, detect.ThrottleMismatch, detect.ReversedResponse},
		decode.State: {detect.ControlLost, detect.GroundThrust, detect.StickHigh, detect.Runaway, detect.SpinDisarmed, detect.LateStop, detect.ThrottleMismatch, detect.ReversedResponse},
		decode.Accel: {},
	} {
		t.Run(tag.String(), func(t *testing.T) {
			f := newFullBench()
			f.run(8)
			before := f.why()
			f.cut[tag] = true
			f.run(4)
			after := f.why()
			for _, k := range kinds {
				assert.Contains(t, after[k.String()], "the "+tag.String()+" stream has stopped", "%s; before: %s", k, before[k.String()])
				assert.False(t, f.reaches(k), "%s shows a last value", k)
			}
			for name, why := range after {
				if strings.Contains(why, "stopped") {
					k, _ := detect.KindNamed(name)
					assert.False(t, f.reaches(k), "%s shows a last value", name)
				}
			}
			told := ""
			for _, l := range f.e.AllLosses() {
				told += l.String() + "\n"
			}
			for _, k := range kinds {
				if before[k.String()] == "" {
					assert.Contains(t, told, k.String(), "nobody was told")
				}
			}
			for _, l := range f.e.Summary().NotWatched {
				if k, _ := detect.KindNamed(l.Name); slices.Contains(kinds, k) {
					assert.Contains(t, l.Why, "(since ", l.Name)
				}
			}
		})
	}
}

// TestEmptyFieldIsTold: a value that was alive and becomes an empty field is told
// once, with when and why, and again when it is back.
func TestEmptyFieldIsTold(t *testing.T) {
	for _, c := range []struct {
		name   string
		tag    decode.Tag
		fields uint32
		kind   detect.Kind
		why    string
	}{
		{"lift", decode.Load, 1, detect.NearLift, "load lines come, but lift in them is empty"},
		{"amps", decode.Pack, 2, detect.OverCurrent, "pack lines come, but the current in them is empty"},
		{"volts", decode.Pack, 1, detect.PackSag, "pack lines come, but the voltage in them is empty"},
		{"speed of m2", decode.ERPM, 2, detect.RotorLost, "m2: output and rotor speed are not both measured"},
		{"temperature of m3", decode.Temp, 4, detect.MotorHeat, "m3: the temperature is not measured"},
		{"all temperatures", decode.Temp, 15, detect.MotorHeat, "temp lines come, but every temperature in them is empty"},
		{"armed", decode.State, 1, detect.SpinDisarmed, "state lines come, but whether it is armed is empty in them"},
		{"stick", decode.State, 8, detect.GroundThrust, "state lines come, but the throttle stick in them is empty"},
		{"pressure", decode.Air, 1, detect.PressureDip, "air lines come, but the pressure in them is empty"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFullBench()
			f.run(8)
			require.Empty(t, f.e.Losses(), "nothing is lost yet")
			f.blank[c.tag] = c.fields
			f.run(0.3) // one field that is empty for a moment is no news
			f.blank[c.tag] = 0
			f.run(3)
			require.Empty(t, f.e.Losses(), "a moment")
			f.blank[c.tag] = c.fields
			f.run(4)
			lost := f.e.Losses()
			of := func(l Loss) bool { return slices.Contains(l.Names, c.kind.String()) }
			i := slices.IndexFunc(lost, of)
			require.GreaterOrEqual(t, i, 0, "%v", lost)
			assert.Equal(t, c.why, lost[i].Why)
			assert.InDelta(t, 11.3, float64(lost[i].Since)/1e6, 0.8)
			assert.Less(t, lost[i].T-lost[i].Since, 2*detect.Second)
			f.blank[c.tag] = 0
			f.run(3)
			back := f.e.Losses()
			i = slices.IndexFunc(back, of)
			require.GreaterOrEqual(t, i, 0, "%v", back)
			assert.Empty(t, back[i].Why)
			assert.Regexp(t, "^watched again since 1[56]\\.", back[i].String())
		})
	}
}

// TestNothingIsLostDisarmed: a bench at rest may be unplugged piece by piece; the
// list says what is not watched, and that is enough.
func TestNothingIsLostDisarmed(t *testing.T) {
	f := newFullBench()
	f.armed = 0
	f.run(6)
	f.cut[decode.Load] = true
	f.run(5)
	assert.Empty(t, f.e.AllLosses())
	assert.Contains(t, f.why()["near-lift"], "stopped")
}

// TestFlickerIsBounded: a value that comes and goes for long fills no journal.
func TestFlickerIsBounded(t *testing.T) {
	f := newFullBench()
	f.run(4)
	for range 60 {
		f.cut[decode.Load] = !f.cut[decode.Load]
		f.run(2.6)
	}
	assert.LessOrEqual(t, len(f.e.AllLosses()), maxLosses)
	assert.Greater(t, len(f.e.AllLosses()), 4)
}

// TestNoHelloIsSaid: without a boot number restarts are a guess.
func TestNoHelloIsSaid(t *testing.T) {
	for _, without := range []bool{false, true} {
		f := newFullBench()
		f.noHello = without
		f.run(5)
		all := f.e.AllLosses()
		if !without {
			assert.Empty(t, all)
			continue
		}
		if assert.Len(t, all, 1) {
			assert.Equal(t, noHello("the bridge"), all[0].String())
		}
		var s Snapshot
		f.e.Snapshot(&s)
		assert.Contains(t, s.Absent, Lack{"hello", noHello("the bridge")})
	}
}

// Of several bridges each is asked for its hello, and named, whichever is the
// reference; one that comes late is given its time.
func TestNoHelloOfOneOfSeveral(t *testing.T) {
	for _, c := range []struct{ a, b bool }{{true, false}, {false, true}, {false, false}, {true, true}} {
		r := newTwoBridges()
		hello := func() {
			for _, k := range []struct {
				of   *talker
				says bool
			}{{&r.a, c.a}, {&r.b, c.b}} {
				if k.says && (k.of == &r.a || r.host >= 4_000_000) {
					r.e.From(k.of.n, r.host+3000)
					r.e.Sample(k.of.line(decode.Hello, r.host), 30)
				}
			}
		}
		var want []string
		for n := range 10 {
			hello()
			r.run(1, true, n >= 4)
			if n == 6 && !c.b { // heard for 3 s, but not yet looked at so long
				for _, l := range r.e.AllLosses() {
					assert.NotContains(t, l.String(), "no hello comes from stand")
				}
			}
		}
		if !c.a {
			want = append(want, noHello("nose"))
		}
		if !c.b {
			want = append(want, noHello("stand"))
		}
		var got []string
		for _, l := range r.e.AllLosses() {
			if strings.HasPrefix(l.String(), "no hello") {
				got = append(got, l.String())
			}
		}
		assert.Equal(t, want, got)
		var s Snapshot
		r.e.Snapshot(&s)
		for _, text := range want {
			assert.Contains(t, s.Absent, Lack{"hello", text})
		}
		assert.Len(t, s.Absent, len(want))
	}
}

func TestLackingKinds(t *testing.T) {
	assert.Equal(t, 2, LackingKinds([]Lack{{"near-lift", "x"}, {"over-current", "y"}, {"temp", "promised"}, {"/dev/b", "never heard"}}))
}
