package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms/account"
	"tetherbell/alarms/runcard"
	"tetherbell/decode/craft"
	"tetherbell/link"
	"tetherbell/simulator"
)

// accounted tells a recording.
func accounted(t testing.TB, file string, own *craft.Craft, again bool) *account.Account {
	t.Helper()
	a, err := accountOf(context.Background(), &console{out: io.Discard, err: io.Discard}, file, own, again, nil)
	require.NoError(t, err)
	return a
}

// recordedDay records a scenario through a desk, as a watch does, and ends it as
// a watch does.
func recordedDay(t testing.TB, c craft.Craft, name string, seed uint64, sets ...string) string {
	t.Helper()
	sc, err := simulator.Load(name)
	require.NoError(t, err)
	for _, s := range sets {
		require.NoError(t, sc.Set(s))
	}
	rec, err := startRecording(t.TempDir(), link.SessionHeader{Source: "test"}, c, nil)
	require.NoError(t, err)
	d := newDesk(c, 0, rec, nil)
	b := simulator.New(sc, seed)
	var out []byte
	next := int64(0)
	for done := false; !done; {
		var us int64
		out, us, done = b.Next(out[:0])
		d.feed(out)
		for ; next <= us; next += 20_000 {
			d.tick(next / 1000)
			if next == 5_000_000 {
				d.mark("looks steady")
			}
			if next%2_000_000 == 0 {
				d.acknowledgeAll()
			}
		}
	}
	d.finish()
	require.NoError(t, rec.Close(appendEnd(nil, d, "x"), time.Minute))
	return rec.Status().Path
}

// wellFormed checks what is so of every account.
func wellFormed(t *testing.T, a *account.Account) {
	t.Helper()
	_, err := json.Marshal(a) // refuses what is no number
	require.NoError(t, err)
	for name, all := range map[string][]account.Span{"armed": a.Armed, "stopped": a.Stopped, "silent": a.Silent} {
		end := 0.0
		for _, s := range all {
			assert.LessOrEqual(t, end, s.From, name)
			assert.LessOrEqual(t, s.From, s.To, name)
			assert.LessOrEqual(t, s.To, a.LengthS+0.001, name)
			end = s.To
		}
	}
	for _, x := range a.Alarms {
		assert.NotEmpty(t, x.Text)
		assert.LessOrEqual(t, x.At, a.LengthS+0.001)
		if x.Until != nil {
			assert.LessOrEqual(t, x.At, *x.Until, x.Name)
		}
	}
	for i := range a.Axes {
		if s := a.Axes[i].Spectrum; s != nil {
			assert.LessOrEqual(t, len(s.Root), 600)
			for _, o := range s.Orders {
				assert.LessOrEqual(t, 0.0, o.LowHz, o.Order)
				assert.LessOrEqual(t, o.LowHz, o.HighHz, o.Order)
				assert.LessOrEqual(t, o.HighHz, s.TopHz*1.000001, o.Order)
			}
		}
		curveSound(t, a.Axes[i].Control, a.LengthS)
		curveSound(t, a.Axes[i].Rate, a.LengthS)
	}
	for i := range a.Motors {
		curveSound(t, a.Motors[i].Output, a.LengthS)
		curveSound(t, a.Motors[i].RPM, a.LengthS)
		curveSound(t, a.Motors[i].Temp, a.LengthS)
	}
	for _, c := range []*account.Curve{a.Throttle, a.Stick, a.Lift, a.Pack.Volts, a.Pack.Amps, a.Air.Height} {
		curveSound(t, c, a.LengthS)
	}
	assert.NotEmpty(t, a.Verdict.Headline)
	assert.NotEmpty(t, a.Verdict.Why)
}

func curveSound(t *testing.T, c *account.Curve, length float64) {
	t.Helper()
	if c == nil {
		return
	}
	require.Equal(t, len(c.Min), len(c.Max), c.Name)
	assert.LessOrEqual(t, len(c.Min), 1800, c.Name)
	assert.LessOrEqual(t, c.T0+c.Step*float64(len(c.Min)-1), length+0.001, c.Name)
	for i := range c.Min {
		require.Equal(t, c.Min[i] == nil, c.Max[i] == nil, c.Name)
		if c.Min[i] != nil {
			require.LessOrEqual(t, *c.Min[i], *c.Max[i], c.Name)
		}
	}
}

// agrees checks an account against the engine's own summary of the same file.
func agrees(t *testing.T, file string, a *account.Account) {
	t.Helper()
	code, out, errs := told("check", "--json", file)
	require.NotEqual(t, exitTrouble, code, errs)
	lines := bytes.Split(bytes.TrimSpace([]byte(out)), []byte("\n"))
	var s struct {
		Summary struct {
			Lines, Bad, Lost uint64
			Alarms           map[string]int
			NotWatched       map[string]string `json:"not_watched"`
		}
	}
	require.NoError(t, json.Unmarshal(lines[len(lines)-1], &s))
	assert.Equal(t, s.Summary.Lines, a.Link.Lines)
	assert.Equal(t, s.Summary.Bad, a.Link.Bad)
	assert.Equal(t, s.Summary.Lost, a.Link.Lost)
	raised := map[string]int{}
	for _, x := range a.Alarms {
		raised[x.Name]++
	}
	assert.Equal(t, s.Summary.Alarms, raised)
	assert.Len(t, a.NotWatched, len(s.Summary.NotWatched))
}

func TestAccountOfEveryRecording(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(root, "testdata", "sessions", "*.bell"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			a := accounted(t, file, nil, false)
			wellFormed(t, a)
			agrees(t, file, a)
		})
	}
}

func TestAccountOfScenarios(t *testing.T) {
	for _, c := range []struct {
		name, worst, fix, why string
	}{
		{"gains-high", "high", "lower the gains of", "past the limit from"},
		{"near-margin", "low", "halve them", "damping ratio"},
		{"idle-slip", "high", "correct the setting: armed idle is set to 0.8", "armed idle"},
		{"nose-heavy", "medium", "move weight back", "centre of gravity"},
		{"old-pack", "medium", "charge", "; reached 3.3"},
		{"tip-over", "high", "", ""},
		{"propeller-off", "high", "", "m3"},
		{"stop-late", "high", "", "m2"},
		{"first-run-2", "high", "lower the gains of roll", "then see to output-imbalance"}, // as its lesson says
		{"first-run-3", "high", "turn the pitch channel over", "output-imbalance"},
		{"baro-wash", "note", "cover the barometer", "pressure altitude"},
		{"noisy-link", "high", "noise on the cable", "bad or lost"},
		{"hexa", "none", "", "nothing rang; nearest to its limit"},
		{"tri", "none", "", "nothing rang; nearest to its limit"},
		{"slow-stream", "", "", ""},
		{"stand", "none", "", "nothing rang; nearest to its limit"},
	} {
		t.Run(c.name, func(t *testing.T) {
			file := played(t, t.TempDir(), c.name, 3)
			a := accounted(t, file, nil, false)
			wellFormed(t, a)
			agrees(t, file, a)
			t.Log(a.Verdict.Headline, "|", a.Verdict.Fix, "|", a.Verdict.Why)
			if c.worst != "" {
				assert.Equal(t, c.worst, a.Verdict.Worst)
			}
			assert.Contains(t, a.Verdict.Fix, c.fix)
			assert.Contains(t, a.Verdict.Why, c.why)
		})
	}
}

// What was told on the day and what is worked out again are one.
func TestAccountThenIsAccountAgain(t *testing.T) {
	for _, name := range []string{"gains-high", "noisy-link", "windup", "first-run", "stop-late"} {
		t.Run(name, func(t *testing.T) {
			file := recordedDay(t, craft.Craft{Name: "Heron", MassG: 700}, name, 2)
			then, again := accounted(t, file, nil, false), accounted(t, file, nil, true)
			wellFormed(t, then)
			assert.Equal(t, judgedThen, then.Session.Judged)
			assert.Equal(t, judgedAgain, again.Session.Judged)
			then.Session.Judged = again.Session.Judged
			assert.Equal(t, again.Alarms, then.Alarms)
			assert.Equal(t, again.NotWatched, then.NotWatched)
			assert.Equal(t, again.Disagree, then.Disagree)
			one, err := json.Marshal(then)
			require.NoError(t, err)
			other, err := json.Marshal(again)
			require.NoError(t, err)
			assert.Equal(t, string(other), string(one))
			assert.NotEmpty(t, then.Marks)
			acked := 0
			for _, x := range then.Alarms {
				if x.Acknowledged != nil {
					acked++
				}
			}
			assert.NotZero(t, acked)
			assert.NotEmpty(t, then.Disagree)
		})
	}
}

// A card looks on as the engine judges: its recording is judged again, and says
// what came of each step.
func TestAccountOfACard(t *testing.T) {
	const text = "name = \"own\"\ntitle = \"Own\"\n[[step]]\nid = \"look\"\nkind = \"person\"\nsay = \"Look.\"\nif_failed = \"Mend it.\"\n" +
		"[[step]]\nid = \"clear\"\nkind = \"person\"\nsay = \"Clear.\"\nif_failed = \"Wait.\"\n"
	card, err := runcard.Parse([]byte(text))
	require.NoError(t, err)
	rec, err := startRecording(t.TempDir(), link.SessionHeader{Source: "test"}, craft.Craft{}, card)
	require.NoError(t, err)
	d := newDesk(craft.Craft{}, 0, rec, nil)
	d.useCard(card)
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	b := simulator.New(sc, 1)
	for us := int64(0); us < 1_000_000; {
		var out []byte
		out, us, _ = b.Next(nil)
		d.feed(out)
		d.tick(us / 1000)
	}
	d.cardAct(runcard.No, "look")
	d.finish()
	require.NoError(t, rec.Close(appendEnd(nil, d, "x"), time.Minute))

	a := accounted(t, rec.Status().Path, nil, false)
	assert.Equal(t, judgedAgain, a.Session.Judged)
	require.NotNil(t, a.Card)
	assert.Equal(t, "Own", a.Card.Title)
	assert.False(t, a.Card.Passed)
	assert.Equal(t, []account.Step{
		{Name: "look", Text: "Look.", State: "failed", Reason: "not right, says the person; Mend it."},
		{Name: "clear", Text: "Clear.", State: "waiting"},
	}, a.Card.Steps)
	assert.Equal(t, "Mend it.", a.Verdict.Fix)
	assert.NotEmpty(t, a.Marks)
	for _, m := range a.Marks {
		if m.By != "bridge" {
			assert.Equal(t, "card", m.By)
		}
	}
}

// What makes the told alarms worthless has the recording judged again.
func TestAccountJudgesAgain(t *testing.T) {
	file := recordedDay(t, craft.Craft{}, "idle-slip", 2, "rates.axes_hz=50")
	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	end := bytes.LastIndex(whole[:len(whole)-1], []byte("\n")) + 1
	for name, c := range map[string]struct {
		text  []byte
		then  bool
		again bool
	}{
		"whole":            {whole, true, false},
		"asked for":        {whole, false, true},
		"no end":           {whole[:end], false, false},
		"torn":             {whole[:len(whole)-1], false, false},
		"end of nothing":   {append(bytes.Clone(whole[:end]), "#end {}\n"...), false, false},
		"goes on":          {append(bytes.Clone(whole), "#at 99.000\n"...), false, false},
		"lost":             {append(append(bytes.Clone(whole[:end]), "#lost 3\n"...), whole[end:]...), false, false},
		"another version":  {bytes.Replace(whole, []byte(`"version":"`+version), []byte(`"version":"9.9`), 1), false, false},
		"a line cut out":   {cutLine(whole), false, false},
		"an alarm cut out": {cutAlarm(whole), false, false},
		"a strange alarm":  {append(append(bytes.Clone(whole[:end]), "#alarm {}\n"...), whole[end:]...), false, false},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "x.bell")
			require.NoError(t, os.WriteFile(path, c.text, 0o600))
			want := judgedAgain
			if c.then {
				want = judgedThen
			}
			assert.Equal(t, want, accounted(t, path, nil, c.again).Session.Judged)
		})
	}
	assert.Equal(t, judgedAgain, accounted(t, file, &craft.Craft{}, false).Session.Judged)
}

// cutLine takes one line of the bridge out, cutAlarm one that was said.
func cutLine(text []byte) []byte  { return cut(text, "\naxes,") }
func cutAlarm(text []byte) []byte { return cut(text, "\n#alarm ") }

func cut(text []byte, begin string) []byte {
	at := bytes.Index(text, []byte(begin)) + 1
	end := at + bytes.IndexByte(text[at:], '\n') + 1
	return append(bytes.Clone(text[:at]), text[end:]...)
}

// BenchmarkAccountHour tells a recording of an hour at 1000 axes lines a second,
// armed for nine tenths of it.
func BenchmarkAccountHour(b *testing.B) {
	file := hourFile(b)
	info, err := os.Stat(file)
	require.NoError(b, err)
	b.SetBytes(info.Size())
	for b.Loop() {
		a := accounted(b, file, nil, false)
		require.Equal(b, judgedThen, a.Session.Judged)
		require.InDelta(b, 3600, a.LengthS, 10)
	}
}

// hourFile writes an hour of a sound craft, by the simulator.
func hourFile(b *testing.B) string {
	sc, err := simulator.Load("calm")
	require.NoError(b, err)
	for _, s := range []string{"link.baud=3000000", "rates.axes_hz=1000", "craft.pack_mah=100000", "seconds=3600"} {
		require.NoError(b, sc.Set(s))
	}
	sc.Events = nil
	for at := 0.0; at < 3600; at += 120 {
		sc.Events = append(sc.Events, simulator.Event{At: at + 1, Do: "arm"},
			simulator.Event{At: at + 5, Do: "throttle", To: 0.1, Over: 2}, simulator.Event{At: at + 11, Do: "throttle", To: 0.22, Over: 4},
			simulator.Event{At: at + 101, Do: "throttle", To: 0, Over: 3}, simulator.Event{At: at + 111, Do: "disarm"})
	}
	path := filepath.Join(b.TempDir(), "hour.bell")
	f, err := os.Create(path)
	require.NoError(b, err)
	defer f.Close()
	_, err = fmt.Fprintf(f, "#session {\"tool\":\"tetherbell\",\"version\":%q,\"craft\":{}}\n", version)
	require.NoError(b, err)
	lines := 0
	var out []byte
	sim := simulator.New(sc, 1)
	for done := false; !done; {
		out, _, done = sim.Next(out[:0])
		lines += bytes.Count(out, []byte("\n"))
		_, err = f.Write(out)
		require.NoError(b, err)
	}
	_, err = fmt.Fprintf(f, "#end {\"summary\":{\"lines\":%d,\"bad\":0,\"lost\":0,\"not_watched\":{}},\"said_crc32c\":%q}\n", lines, saidSum(0))
	require.NoError(b, err)
	return path
}

// A recording that somebody changed, or that took harm, is judged again: what it
// says of the day may be less than what the day said.
func TestAccountDoesNotBelieveWhatWasChanged(t *testing.T) {
	file := recordedDay(t, craft.Craft{Name: "Heron", MassG: 700}, "gains-high", 2)
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, judgedThen, accounted(t, file, nil, false).Session.Judged)
	whole := accounted(t, file, nil, true)
	at := bytes.Index(text, []byte("#alarm {"))
	require.Positive(t, at)
	end := at + bytes.IndexByte(text[at:], '\n') + 1
	last := bytes.LastIndex(text, []byte("#end "))
	for name, changed := range map[string][]byte{
		"a priority":        bytes.Replace(text, []byte(`"priority":"high"`), []byte(`"priority":"low"`), 1),
		"a lost alarm":      slices.Concat(text[:at], text[end:]),
		"a harmed word":     slices.Concat(text[:at], []byte("#al*rm"), text[at+6:]),
		"a harmed line":     bytes.Replace(text, []byte("\naxes,"), []byte("\naxez,"), 1),
		"an end of old":     slices.Concat(text[:last], []byte(`#end {"summary":{"lines":1,"not_watched":{}}}`+"\n")),
		"an unknown # line": slices.Concat(text[:last], []byte("#what\n"), text[last:]),
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "x.bell")
			require.NoError(t, os.WriteFile(path, changed, 0o600))
			a := accounted(t, path, nil, false)
			assert.Equal(t, judgedAgain, a.Session.Judged)
			assert.Equal(t, whole.Verdict.Worst, a.Verdict.Worst)
			assert.Equal(t, whole.Alarms, a.Alarms)
		})
	}
}

// A recording that a general program compressed has no table of frames, so its end
// is not known at once: it is judged again, and not refused.
func TestAccountOfCompressedWithoutTable(t *testing.T) {
	file := recordedDay(t, craft.Craft{}, "idle-slip", 2, "rates.axes_hz=50")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	enc, err := zstd.NewWriter(nil)
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "x.bell.zst")
	require.NoError(t, os.WriteFile(path, enc.EncodeAll(text, nil), 0o600))
	a := accounted(t, path, nil, false)
	assert.Equal(t, judgedAgain, a.Session.Judged)
	assert.Equal(t, accounted(t, file, nil, true).Alarms, a.Alarms)
}
