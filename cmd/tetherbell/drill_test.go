package main

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard"
	"tetherbell/simulator/drill"
)

const drillSet = "../../testdata/drill"

// answerOf examines a recording.
func answerOf(t *testing.T, path string) answer {
	t.Helper()
	r := openReplay(t, path)
	a := examine(context.Background(), path, &r.about, r.craft)
	require.NoError(t, a.err)
	return a
}

// TestDrillSetTruth holds the set to what it is for: what its sealed answers say
// is what the engine finds, sound craft ring for nothing, and nothing in name,
// header or first line tells.
func TestDrillSetTruth(t *testing.T) {
	rang := map[string]string{
		"d01": "vibration-step craft", "d03": "rising-oscillation roll", "d04": "settings-slip craft", "d05": "rotor-lost m4",
		"d07": "rising-oscillation pitch", "d08": "stale-link link", "d09": "reversed-response pitch", "d11": "output-imbalance m3",
		"d12": "near-lift craft",
	}
	names, err := drillFiles([]string{drillSet})
	require.NoError(t, err)
	require.Len(t, names, 12)
	heads := map[string]bool{}
	for _, path := range names {
		a, name := answerOf(t, path), strings.TrimSuffix(filepath.Base(path), ".bell")
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Less(t, len(text), 400_000, name)
		head, _, _ := bytes.Cut(text, []byte("\n"))
		heads[string(head)] = true
		assert.NotContains(t, string(text), a.lesson, "%s: sealed", name)
		assert.NotEmpty(t, a.lesson, name)
		assert.False(t, a.Spent, "%s: there is something to stop", name)
		what, fault := rang[name]
		assert.Equal(t, fault, a.Fault, name)
		if !fault {
			assert.Nil(t, a.alarm, name)
			assert.Equal(t, drill.Truth{Began: drill.Never, Alarm: drill.Never, Limit: drill.Never, End: a.End}, a.Truth, name)
			continue
		}
		require.NotNil(t, a.alarm, name)
		assert.Equal(t, what, a.alarm.Kind.String()+" "+a.alarm.Where.String(), name)
		assert.GreaterOrEqual(t, a.Began, 3.0, "%s: there is time to settle", name)
		assert.LessOrEqual(t, a.Began, a.Alarm, name)
		assert.Less(t, a.Alarm-a.Began, 3.0, "%s: it rings soon", name)
		assert.Greater(t, a.End, a.Alarm+5, "%s: and goes on", name)
		if a.Limit >= 0 {
			assert.GreaterOrEqual(t, a.Limit, a.Alarm, name)
		}
	}
	assert.Len(t, heads, 1, "all begin alike")
	assert.NotContains(t, fmt.Sprint(heads), "simulator idle-slip")
}

// Without a sealed answer, the engine's is the truth: an oscillation is seen
// before it rings, and has its limit where it gets there.
func TestAnswerWithoutSeal(t *testing.T) {
	a := answerOf(t, "../../testdata/sessions/gains-high.bell")
	require.True(t, a.Fault)
	assert.Equal(t, detect.RisingOscillation, a.alarm.Kind)
	assert.Empty(t, a.lesson)
	assert.LessOrEqual(t, a.Began, a.Alarm)
	assert.GreaterOrEqual(t, a.Limit, a.Alarm)
	sound := answerOf(t, "../../testdata/sessions/calm.bell")
	assert.False(t, sound.Fault)
	assert.Nil(t, sound.alarm)
	slip := answerOf(t, "../../testdata/sessions/idle-slip.bell")
	assert.Equal(t, slip.Began, slip.Alarm)
	assert.Greater(t, slip.Limit, slip.Alarm, "dangerous once it is armed")
}

// What the screen shows past its limit can be seen, although its alarm waits for a
// steady hold: a stop there is no false one. One on the way there is.
func TestEvidenceBeginsWhereItIsShown(t *testing.T) {
	a := answerOf(t, drillSet+"/d11.bell")
	require.Equal(t, detect.OutputImbalance, a.alarm.Kind)
	assert.InDelta(t, 1.9, a.Alarm-a.Began, 0.2, "the throttle goes up until it rings")
	assert.Equal(t, drill.InTime, drill.Judge(a.Truth, 10.1))
	assert.Equal(t, drill.NoCause, drill.Judge(a.Truth, a.Began-0.1))
}

// Where the stop was pressed, or the craft disarmed, before there was anything to
// be seen, no stop is called for.
func TestSpentAnswer(t *testing.T) {
	a := answerOf(t, "../../testdata/sessions/stop-late.bell")
	require.True(t, a.Fault)
	assert.True(t, a.Spent)
	assert.Equal(t, "the stop was pressed already: keep clear", a.spent)
	assert.Equal(t, drill.Clear, drill.Judge(a.Truth, drill.Never))
	for _, name := range []string{"gains-high", "idle-slip", "weak-motor"} {
		assert.False(t, answerOf(t, "../../testdata/sessions/"+name+".bell").Spent, name)
	}
	state := func(t float64, armed, stopped detect.Tri) craftState {
		return craftState{t, alarms.State{Armed: armed, Stopped: stopped}}
	}
	armed, off, stop := state(1, detect.Yes, detect.No), state(5, detect.No, detect.No), state(5, detect.Yes, detect.Yes)
	unknown := state(0, detect.Unknown, detect.Unknown)
	for _, c := range []struct {
		name   string
		states []craftState
		began  float64
		want   string
	}{
		{"armed to the end", []craftState{unknown, armed}, 3, ""},
		{"stopped after the evidence", []craftState{unknown, armed, stop}, 4.9, ""},
		{"stopped with it", []craftState{unknown, armed, stop}, 5, "the stop was pressed already: keep clear"},
		{"disarmed before", []craftState{armed, off}, 6, "the craft was disarmed already: keep clear"},
		{"then stopped too", []craftState{armed, off, state(7, detect.No, detect.Yes)}, 6, "the craft was disarmed already: keep clear"},
		{"armed again", []craftState{armed, off, state(8, detect.Yes, detect.No)}, 6, ""},
		{"nobody knows the state", []craftState{unknown}, 6, ""},
		{"nor when it began", []craftState{armed, off}, drill.Never, ""},
		{"nothing was said", nil, 6, ""},
	} {
		assert.Equal(t, c.want, spentBy(c.states, c.began), c.name)
	}
}

func TestBeganSwing(t *testing.T) {
	at := func(shares ...float64) (s []swing) {
		for i, v := range shares {
			s = append(s, swing{float64(i) * 0.1, v})
		}
		return s
	}
	for _, c := range []struct {
		name  string
		s     []swing
		alarm float64
		want  float64
	}{
		{"nothing to be seen", at(0.1, 0.1, 0.1), 0.2, 0.2},
		{"grows from what cannot be seen", at(0.1, 0.15, 0.2, 0.3, 0.5, 0.9), 0.4, 0.2},
		{"a short dip is the same swing", at(0, 0.3, 0.1, 0.1, 0.1, 0.3, 0.6), 0.6, 0.1},
		{"an earlier one is another", at(0.3, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.3, 0.6), 0.8, 0.7},
		{"from the beginning on", at(0.4, 0.4, 0.4), 0.2, 0},
		{"what comes later does not count", at(0.1, 0.3, 0.3, 0.9), 0.1, 0.1},
		{"not watched", nil, 3, 3},
	} {
		assert.InDelta(t, c.want, beganSwing(c.s, c.alarm), 1e-9, c.name)
	}
	assert.InDelta(t, 0.3, reached(at(0.1, 1, 0.2, 1.1), 0.15), 1e-9)
	assert.EqualValues(t, drill.Never, reached(at(0.1, 0.9), 0))
	for _, c := range [][3]float64{{1, 2, 1}, {2, 1, 1}, {drill.Never, 2, 2}, {2, drill.Never, 2}, {drill.Never, drill.Never, drill.Never}} {
		assert.Equal(t, c[2], sooner(c[0], c[1]))
	}
}

// An examiner keeps the first alarm that counts, since it was up in whatever
// priority, and the first that is high.
func TestExaminerTells(t *testing.T) {
	x := &examiner{up: map[alarmPlace]float64{}, began: drill.Never, limit: drill.Never}
	say := func(ms int64, k detect.Kind, c alarms.Change, p detect.Priority) {
		x.tell([]alarms.Event{{T: ms * 1000, Kind: k, Where: detect.M3, Change: c, Priority: p}})
	}
	say(100, detect.OutputImbalance, alarms.Raised, detect.Low)
	say(900, detect.OutputImbalance, alarms.Cleared, detect.Low)
	say(1000, detect.OutputImbalance, alarms.Raised, detect.Low)
	say(1100, detect.PressureDip, alarms.Raised, detect.Note)
	assert.Nil(t, x.first)
	say(2000, detect.OutputImbalance, alarms.Worsened, detect.Medium)
	say(2500, detect.OutputImbalance, alarms.Eased, detect.Low)
	say(3000, detect.MotorHeat, alarms.Raised, detect.High)
	require.NotNil(t, x.first)
	assert.Equal(t, detect.OutputImbalance, x.first.Kind)
	assert.Equal(t, []float64{1, 3}, []float64{x.began, x.limit})
}

func TestSeal(t *testing.T) {
	s, err := openSeal([]byte(base64.StdEncoding.EncodeToString([]byte(`{"fault":true,"cause_s":4.5,"lesson":"x","more":1}`))))
	require.NoError(t, err)
	assert.Equal(t, &sealedTruth{Fault: true, Cause: 4.5, Lesson: "x"}, s)
	for _, bad := range []string{"", "%", base64.StdEncoding.EncodeToString([]byte("[]")),
		base64.StdEncoding.EncodeToString([]byte("null")), base64.StdEncoding.EncodeToString([]byte(`{"lesson":"x"}`))} {
		_, err := openSeal([]byte(bad))
		assert.Error(t, err, bad)
	}
	path := filepath.Join(t.TempDir(), "x.bell")
	require.NoError(t, os.WriteFile(path, []byte("#drill %%%\n"+benchLine("note,1,0,x")), 0o600))
	r := openReplay(t, path)
	a := examine(context.Background(), path, &r.about, r.craft)
	require.NoError(t, a.err, "the drill goes on")
	assert.Contains(t, a.lesson, "sealed answer is damaged")
}

// What rings calls for a stop, whatever a sealed answer says.
func TestSealTakesNothingAway(t *testing.T) {
	text, err := os.ReadFile("../../testdata/sessions/gains-high.bell")
	require.NoError(t, err)
	head, rest, _ := bytes.Cut(text, []byte("\n"))
	for seal, lesson := range map[string]string{`{"fault":false,"lesson":"all is well"}`: "calls it sound, but it rang", `null`: "is damaged"} {
		path := filepath.Join(t.TempDir(), "x.bell")
		line := "\n#drill " + base64.StdEncoding.EncodeToString([]byte(seal)) + "\n"
		require.NoError(t, os.WriteFile(path, slices.Concat(head, []byte(line), rest), 0o600))
		r := openReplay(t, path)
		a := examine(context.Background(), path, &r.about, r.craft)
		require.NoError(t, a.err)
		assert.True(t, a.Fault, seal)
		assert.Positive(t, a.Alarm, seal)
		assert.Contains(t, a.lesson, lesson)
	}
}

func TestDrillOrders(t *testing.T) {
	for line, want := range map[string]drillOrder{
		"stop": {now: true}, " pass ": {pass: true}, "stop 12.5": {at: 12.5}, "stop 0": {},
	} {
		o, err := parseDrillOrder(line)
		require.NoError(t, err)
		assert.Equal(t, want, o, line)
	}
	for _, line := range []string{"stop soon", "stop -1", "stop 1e99", "stop NaN", "pass 3", "go"} {
		_, err := parseDrillOrder(line)
		assert.Error(t, err, line)
	}
}

// What is kept only ever grows, and a torn line costs only itself.
func TestKeepAttempt(t *testing.T) {
	path := filepath.Join(t.TempDir(), "deep", "attempts.jsonl")
	rows, bad, err := readAttempts(path)
	require.NoError(t, err)
	assert.Zero(t, len(rows)+bad, "nothing kept yet")
	row := drill.Row{When: "2026-11-25T07:41:11Z", File: "a.bell", Stop: 3}
	require.NoError(t, keepAttempt(path, &row))
	require.NoError(t, keepAttempt(path, &row))
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, text[:len(text)-5], 0o600)) // torn
	row.File = "b.bell"
	require.NoError(t, keepAttempt(path, &row))
	rows, bad, err = readAttempts(path)
	require.NoError(t, err)
	assert.Equal(t, 1, bad)
	require.Len(t, rows, 2)
	assert.Equal(t, []string{"a.bell", "b.bell"}, []string{rows[0].File, rows[1].File})

	dir := t.TempDir()
	err = keepAttempt(dir, &row) // a folder
	assert.ErrorContains(t, err, "keep attempt")
	assert.Contains(t, hintOf(err), "--attempts FILE")
	_, _, err = readAttempts(dir)
	assert.Error(t, err)
	d := &driller{path: dir}
	assert.ErrorContains(t, d.keep(row), `"file":"b.bell"`, "what could not be kept is told")
	assert.Len(t, d.rows, 1)
}

// TestDrillOnScreen leads through two recordings as a screen does: pages between
// them, a stop that counts once, and no key that steers.
func TestDrillOnScreen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		out := filepath.Join(t.TempDir(), "a.jsonl")
		con := &console{out: io.Discard, err: io.Discard}
		d := &driller{con: con, f: &flags{sound: "off"}, names: []string{drillSet + "/d03.bell", drillSet + "/d10.bell"},
			path: out, like: drill.Row{Of: 2, Speed: 10, Who: "Ann"}}
		d.r = &replayer{con: con, speed: 10, drill: d, acts: make(chan dashboard.Act, 64), paused: true}
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		require.NoError(t, d.look(ctx))
		require.NoError(t, d.r.aud.openSound(ctx, con, d.f, nil))
		defer d.r.aud.sound.Close()
		done := make(chan error, 1)
		go func() { done <- d.through(ctx, cancel) }()
		sees := func(what string, is func(f *dashboard.Frame) bool) *dashboard.Frame {
			t.Helper()
			soon(t, func() bool {
				f := d.r.aud.latest()
				return f != nil && f.Status.Drill != nil && is(f)
			}, what)
			return d.r.aud.latest()
		}
		head := func(head string) func(*dashboard.Frame) bool {
			return func(f *dashboard.Frame) bool { p := f.Status.Drill.Page; return p != nil && p.Head == head }
		}
		send := func(k dashboard.ActKind) { d.r.acts <- dashboard.Act{Kind: k, Seconds: 10} }
		sees("the page before the first", head("DRILL"))
		send(dashboard.DrillStop) // nothing runs yet
		send(dashboard.DrillNext)
		f := sees("the bench", func(f *dashboard.Frame) bool { return f.Status.Drill.Page == nil && f.Snap.T > 2_000_000 })
		assert.Equal(t, "drill", f.Status.Source)
		assert.Zero(t, f.Status.ReplayLength, "it does not tell when it ends")
		assert.True(t, f.Status.Drill.AlarmsOff)
		for _, k := range []dashboard.ActKind{dashboard.ReplayJump, dashboard.ReplayPause, dashboard.ReplayFaster, dashboard.ReplaySight, dashboard.ReplayLoop} {
			send(k)
		}
		f = sees("the shake, and no alarm", func(f *dashboard.Frame) bool { return f.Snap.Axes[0].Amplitude > 0.1 })
		assert.Empty(t, f.Snap.Alarms)
		assert.Zero(t, f.Snap.Sounding)
		for _, e := range f.Journal {
			if !strings.HasPrefix(e.Text, "armed with ") { // what is not watched is told, what rings is not
				assert.NotContains(t, e.Text, "oscillation")
			}
		}
		send(dashboard.DrillStop)
		send(dashboard.DrillStop) // once more, in haste
		f = sees("the verdict", func(f *dashboard.Frame) bool { p := f.Status.Drill.Page; return p != nil && p.Next == "next recording" })
		assert.Contains(t, f.Status.Drill.Page.Text, "you stopped at 1")
		send(dashboard.DrillNext)
		f = sees("the second is let run", head("RIGHT"))
		assert.Equal(t, 2, f.Status.Drill.Attempt)
		assert.Equal(t, "ends the drill", f.Status.Drill.Page.Next)
		send(dashboard.DrillNext)
		require.NoError(t, <-done)
		rows, bad, err := readAttempts(out)
		require.NoError(t, err)
		assert.Zero(t, bad)
		require.Len(t, rows, 2)
		assert.Equal(t, []string{"d03.bell", "d10.bell"}, []string{rows[0].File, rows[1].File})
		assert.Greater(t, rows[0].Stop, rows[0].Began)
		assert.Equal(t, "let run", rows[1].Verdict)
		assert.Len(t, rows[0].Sum, 64)
	})
}

// The page says what the verdict was, and by how much.
func TestResultPage(t *testing.T) {
	a := &answer{lesson: "look", alarm: &alarms.Event{Story: detect.Story{Text: "it shakes", Cause: "gains", Action: "cut throttle"}}}
	a.Fault = true
	fault := drill.Row{Fault: true, Began: 10, Alarm: 12, Limit: 16, End: 25}
	spent := fault
	a.spent, spent.Spent = "the stop was pressed already: keep clear", true
	for _, c := range []struct {
		name              string
		row               drill.Row
		stop              float64
		wrong             bool
		head, order, text string
	}{
		{"after the alarm", fault, 12.84, false, "IN TIME", "0.8 S REACTION", "you stopped at 12.84 s, 0.84 s after the alarm"},
		{"before it", fault, 11, false, "IN TIME", "BEFORE THE ALARM", "you stopped at 11.00 s, 1.00 s before the alarm"},
		{"late", fault, 17.2, true, "LATE", "1.2 S TOO LATE", "you stopped at 17.20 s, 5.20 s after the alarm"},
		{"early", fault, 9, true, "NO CAUSE", "TOO EARLY", "you stopped at 9.00 s"},
		{"missed", fault, drill.Never, true, "MISSED", "NO STOP", "you did not stop"},
		{"kept clear", spent, drill.Never, false, "RIGHT", "KEEP CLEAR", "you did not stop"},
		{"pressed once more", spent, 20, false, "IN TIME", "8.0 S REACTION", "you stopped at 20.00 s, 8.00 s after the alarm"},
		{"nothing rang", drill.Row{Fault: true, Began: 10, Alarm: drill.Never, Limit: drill.Never}, 11, false, "IN TIME", "RIGHT STOP", "you stopped at 11.00 s"},
		{"false stop", drill.Row{Began: drill.Never, Alarm: drill.Never, Limit: drill.Never}, 9, true, "NO CAUSE", "IT WAS SOUND", "you stopped at 9.00 s"},
		{"let run", drill.Row{Began: drill.Never, Alarm: drill.Never, Limit: drill.Never}, drill.Never, false, "RIGHT", "LET IT RUN", "you did not stop"},
	} {
		c.row.Stop = c.stop
		b := *a
		b.Fault = c.row.Fault
		p := resultPage(&c.row, &b, "my/d.bell")
		assert.Equal(t, []string{c.head, c.order, c.text}, []string{p.Head, p.Order, p.Text}, c.name)
		assert.Equal(t, c.wrong, p.Wrong, c.name)
		assert.Contains(t, p.Lines, "lesson: look", c.name)
		assert.Equal(t, map[bool]string{true: "see it again: tetherbell replay --at 8.0 my/d.bell", false: "see it again: tetherbell replay my/d.bell"}[c.row.Fault],
			p.Lines[len(p.Lines)-1], c.name)
		if c.row.Spent {
			assert.Equal(t, "the stop was pressed already: keep clear", p.More, c.name)
		}
		if c.row.Fault {
			assert.Contains(t, p.Lines, "to be seen: it shakes", c.name)
			assert.Contains(t, p.Lines, "first action: cut throttle", c.name)
		} else {
			assert.NotContains(t, p.Lines, "to be seen: it shakes", c.name)
		}
	}
}
