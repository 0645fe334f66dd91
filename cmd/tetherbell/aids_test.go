package main

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard/sound"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// looks plays a scenario as fast as it goes and hands over what is seen every
// 50 ms.
func looks(t *testing.T, name string, look func(s *alarms.Snapshot)) {
	t.Helper()
	var p play
	sc, err := p.open(t.Context(), name)
	require.NoError(t, err)
	defer sc.close()
	d := newDesk(sc.told, 0, nil, nil)
	var buf []byte
	for due := int64(0); ; {
		out, until, done := sc.Next(buf[:0])
		buf = out
		d.feed(out)
		for due < until {
			due += 50_000
			d.tick(due / 1000)
			var s alarms.Snapshot
			d.eng.Snapshot(&s)
			look(&s)
		}
		if done {
			return
		}
	}
}

// TestTickTellsCalmFromShaking: sound craft hardly tick, one whose gains are
// too high ticks for seconds before the alarm, and faster towards it.
func TestTickTellsCalmFromShaking(t *testing.T) {
	for _, name := range []string{"calm", "hexa", "tri", "stand", "weak-motor", "old-pack"} {
		ticks, seconds := 0.0, 0.0
		looks(t, name, func(s *alarms.Snapshot) {
			rate, _ := sound.TickOf(worstAxis(s))
			ticks += rate * 0.05
			seconds += 0.05
		})
		t.Logf("%s: %.1f ticks in %.0f s", name, ticks, seconds)
		assert.Less(t, ticks, seconds/5, name)
	}
	var early, late []float64 // rates from 10 to 5 s before the alarm, and in its last second
	rang := false
	var rates []float64
	looks(t, "gains-high", func(s *alarms.Snapshot) {
		if rang = rang || s.Sounding != detect.None; !rang {
			rate, _ := sound.TickOf(worstAxis(s))
			rates = append(rates, rate)
		}
	})
	require.True(t, rang)
	n := len(rates)
	early, late = rates[n-200:n-100], rates[n-20:]
	t.Logf("gains-high: %.1f a second 10 to 5 s before the alarm, %.1f in the last second", mean(early), mean(late))
	assert.Greater(t, mean(early), 1.0)
	assert.Greater(t, mean(late), 1.5*mean(early))
}

func mean(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

func TestWorstAxis(t *testing.T) {
	swing := func(share, hz float64, watched bool) alarms.AxisView {
		return alarms.AxisView{Watched: watched, Limit: 0.1, Amplitude: 0.1 * share, FrequencyHz: hz, GrowthPerS: share}
	}
	for name, tt := range map[string]struct {
		axes [3]alarms.AxisView
		want float64
	}{
		"nothing":        {},
		"the worst":      {[3]alarms.AxisView{swing(0.2, 8, true), swing(0.6, 12, true), swing(0.1, 8, true)}, 0.6},
		"no tone":        {[3]alarms.AxisView{swing(0.9, 0, true), swing(0.3, 9, true)}, 0.3},
		"is not watched": {[3]alarms.AxisView{swing(0.9, 9, false)}, 0},
	} {
		share, growth := worstAxis(&alarms.Snapshot{Axes: tt.axes})
		assert.InDelta(t, tt.want, share, 1e-9, name)
		assert.InDelta(t, tt.want, growth, 1e-9, name)
	}
}

func TestAlarmWords(t *testing.T) {
	for want, v := range map[string]alarms.AlarmView{
		"pitch. cut throttle":         {Kind: detect.RisingOscillation, Where: detect.Axis(1), Story: detect.Story{Action: "cut throttle"}},
		"motor 3. cut throttle":       {Kind: detect.RotorLost, Where: detect.Motor(2), Story: detect.Story{Action: "cut throttle; keep clear of m3"}},
		"motor 1 and motor 2. check":  {Kind: detect.OutputImbalance, Where: detect.Motor(0) | detect.Motor(1), Story: detect.Story{Action: "check"}},
		"ground thrust. press stop":   {Kind: detect.GroundThrust, Where: detect.Craft, Story: detect.Story{Action: "press stop; keep clear"}},
		"late stop. throttle to zero": {Kind: detect.LateStop, Where: detect.Motor(0) | detect.Motor(1) | detect.Motor(2), Story: detect.Story{Action: "throttle to zero; slack the tether"}},
		"stale link":                  {Kind: detect.StaleLink, Where: detect.Link},
	} {
		assert.Equal(t, want, alarmWords(&v, v.Story.Action))
	}
}

// TestEveryStoryIsShortInWords: what the scenarios raise is said in few words.
func TestEveryStoryIsShortInWords(t *testing.T) {
	seen := map[string]bool{}
	for _, name := range []string{"gains-high", "motor-locks", "idle-slip", "stop-late", "noisy-link"} {
		looks(t, name, func(s *alarms.Snapshot) {
			for i := range s.Alarms {
				words := alarmWords(&s.Alarms[i], s.ActionOf(i))
				seen[words] = true
				assert.LessOrEqual(t, len(strings.Fields(words)), 12, words)
			}
		})
	}
	assert.NotEmpty(t, seen)
	for words := range seen {
		t.Log(words)
	}
}

func TestTurning(t *testing.T) {
	at := func(rpm float64, at int64, ok bool) alarms.MotorView {
		return alarms.MotorView{RPM: detect.Reading{V: rpm, OK: ok, At: at}}
	}
	var a audience
	s := alarms.Snapshot{T: 5_000_000, Motors: []alarms.MotorView{
		at(6000, 4_900_000, true), at(6600, 3_000_000, true), at(7200, 4_900_000, false), at(7800, 4_990_000, true),
	}}
	assert.Equal(t, []float64{100, 130}, a.turning(&s), "old and unknown speeds are left out")
}

// TestHelloIsNoSignOfLife: lines come all the time, and once the bench's own are
// gone the life sign ends within a second and a bit.
func TestHelloIsNoSignOfLife(t *testing.T) {
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	b := simulator.New(sc, 1)
	d := newDesk(craft.Craft{}, 0, nil, nil)
	now := func() bool {
		var s alarms.Snapshot
		d.eng.Snapshot(&s)
		return alive(&s)
	}
	var until int64
	for until < 12_000_000 {
		var out []byte
		out, until, _ = b.Next(nil)
		d.feed(out)
		d.tick(until / 1000)
		if until > 3_000_000 {
			require.True(t, now(), "at %d us", until)
		}
	}
	for range 30 { // three seconds in which the bridge goes on saying hello
		var out []byte
		var to int64
		out, to, _ = b.Next(nil)
		for to < until+100_000 {
			var more []byte
			more, to, _ = b.Next(nil)
			out = append(out, more...)
		}
		until = to
		for line := range bytes.Lines(out) {
			if bytes.HasPrefix(line, []byte("hello,")) {
				d.feed(line)
			}
		}
		d.tick(until / 1000)
	}
	require.False(t, now())
}

// TestNamings: every alarm that nobody acknowledged is listed, also in a sound
// pause, and told anew when it is worse or another happening.
func TestNamings(t *testing.T) {
	view := func(k detect.Kind, p detect.Priority, since int64) alarms.AlarmView {
		return alarms.AlarmView{Kind: k, Where: detect.Craft, Priority: p, Active: true, Since: since}
	}
	var a aids
	ids := func(views ...alarms.AlarmView) (out []uint64) {
		list, fresh := a.namings(&alarms.Snapshot{Alarms: views})
		if !fresh {
			return nil
		}
		for _, n := range list {
			out = append(out, n.ID)
		}
		return out
	}
	stop, thrust := view(detect.LateStop, detect.Medium, 5), view(detect.GroundThrust, detect.High, 7)
	note := view(detect.StaleLink, detect.Note, 1)
	assert.Equal(t, []uint64{1, 2}, ids(thrust, stop, note))
	assert.Nil(t, ids(thrust, stop), "as before")
	worse := stop
	worse.Priority = detect.High
	assert.Equal(t, []uint64{1, 3}, ids(thrust, worse))
	assert.Nil(t, ids(thrust, stop), "eased is not told anew")
	worse.Active = false
	assert.Equal(t, []uint64{1, 3}, ids(thrust, worse), "its condition is gone")
	list, _ := a.namings(&alarms.Snapshot{Alarms: []alarms.AlarmView{thrust, worse}})
	assert.Equal(t, []bool{false, true}, []bool{list[0].Gone, list[1].Gone})
	assert.Equal(t, "ground thrust", list[0].Text)
	thrust.Acknowledged = true
	assert.Equal(t, []uint64{3}, ids(thrust, stop))
	stop.Since = 9
	assert.Equal(t, []uint64{4}, ids(stop), "another happening")
	list, fresh := a.namings(&alarms.Snapshot{})
	assert.True(t, fresh)
	assert.Empty(t, list)
}
