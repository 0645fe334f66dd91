package main

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/cable"
	"tetherbell/decode/craft"
	"tetherbell/link"
	"tetherbell/simulator"
	"tetherbell/simulator/spoil"
)

// A range is one bench after another under fire: a scenario whose lines are
// spoilt on their way to a desk, with a tick of the host's clock every 20 ms.
type fireRange struct {
	desk    *desk
	spoiler *spoil.Spoiler
	sent    map[string]bool // lines of the bridge; nil: nobody asks
	strange []string        // good lines that the bridge never sent
}

// A witness notes what a source gives.
type witness struct {
	spoil.Source
	sent map[string]bool
}

func (w *witness) Next(dst []byte) (out []byte, until int64, done bool) {
	from := len(dst)
	out, until, done = w.Source.Next(dst)
	if w.sent != nil {
		for l := range strings.Lines(string(out[from:])) {
			w.sent[strings.TrimSuffix(l, "\n")] = true
		}
	}
	return out, until, done
}

// underFire runs a scenario under some faults.
func underFire(tb testing.TB, name string, baud int, seed uint64, values bool, faults ...spoil.Fault) *fireRange {
	tb.Helper()
	sc, err := simulator.Load(name)
	require.NoError(tb, err)
	r := &fireRange{desk: newDesk(craft.Craft{}, baud, nil, nil)}
	if values {
		r.sent = map[string]bool{}
		r.desk.onLine = func(l []byte) {
			before := r.desk.good
			text := string(l)
			r.desk.line(l)
			if r.desk.good > before && !r.sent[text] {
				r.strange = append(r.strange, text)
			}
		}
	}
	r.spoiler = spoil.New(&witness{simulator.New(sc, seed), r.sent}, faults, seed)
	var buf []byte
	for ms, done := int64(0), false; !done; {
		var until int64
		buf, until, done = r.spoiler.Next(buf[:0])
		for ; ms*1000 < until; ms += 20 {
			r.desk.tick(ms)
		}
		r.desk.feed(buf)
	}
	r.desk.finish()
	return r
}

func (r *fireRange) saw() (kinds [cable.KindCount]uint64) {
	for _, s := range r.desk.cables[0].Sights() {
		kinds[s.Kind] = s.Count
	}
	return kinds
}

// after returns when a kind was seen first, engine seconds.
func (r *fireRange) after(k cable.Kind) float64 {
	for _, s := range r.desk.cables[0].Sights() {
		if s.Kind == k {
			return float64(s.First) / 1e6
		}
	}
	return -1
}

func parsed(tb testing.TB, text string) spoil.Fault {
	f, err := spoil.Parse(text)
	require.NoError(tb, err)
	return f
}

// named is what each fault of the range shall be called.
var named = [spoil.KindCount]cable.Kind{
	spoil.FlippedBits: cable.FlippedBits, spoil.LostBytes: cable.LostBytes, spoil.DoubledBytes: cable.DoubledBytes,
	spoil.DoubledLines: cable.DoubledLines, spoil.MergedLines: cable.MergedLines, spoil.HeldUp: cable.HeldUp,
	spoil.WrongBaud: cable.WrongBaud, spoil.Restart: cable.Restart, spoil.Unplugged: cable.Unplugged, spoil.Flood: cable.Flood,
	spoil.Trickle: cable.Trickle, spoil.ClockDrift: cable.ClockDrift, spoil.ClockStep: cable.ClockStep,
}

// fires are the faults from the least strength on that is promised, see
// alarms/cable/README.md.
var fires = []string{
	"flipped-bits=5e-6", "flipped-bits=1e-4", "flipped-bits=1e-3",
	"lost-bytes=5e-6", "lost-bytes=1e-4", "lost-bytes=1e-3",
	"doubled-bytes=5e-6", "doubled-bytes=1e-4", "doubled-bytes=1e-3",
	"doubled-lines=0.0003", "doubled-lines=0.01", "doubled-lines=0.5",
	"merged-lines=0.0005", "merged-lines=0.01", "merged-lines=0.1",
	"held-up=250", "held-up=400", "held-up=1500",
	"wrong-baud=0.5@10", "wrong-baud=0.75@10", "wrong-baud=0.0625", "wrong-baud=0.125", "wrong-baud=0.25@10", "wrong-baud=0.9@10", "wrong-baud=1.1@10",
	"restart=0", "restart=0.5", "restart=8",
	"unplugged=0.5", "unplugged=2", "unplugged=15",
	"flood=4@12-20", "flood=10@12-20", "flood=40@12-16",
	"trickle=4000@12-24", "trickle=1000@12-24", "trickle=200@12-24",
	"clock-drift=400", "clock-drift=-400", "clock-drift=2000", "clock-drift=-10000",
	"clock-step=150", "clock-step=-60", "clock-step=-3000", "clock-step=3000", "clock-step=30000",
}

// TestFiresAreNamed: each fault is named, and no other. With -v it prints who was
// taken for what, and how long that took: the table of alarms/cable/README.md.
func TestFiresAreNamed(t *testing.T) {
	seeds := 2
	if testing.Short() {
		seeds = 1
	}
	head := fmt.Sprintf("%-22s", "")
	for k := range cable.KindCount {
		head += fmt.Sprintf(" %9.9s", k)
	}
	t.Log(head)
	for _, text := range fires {
		f := parsed(t, text)
		for seed := range seeds {
			r := underFire(t, "calm", 0, uint64(seed+1), false, f)
			saw := r.saw()
			row := fmt.Sprintf("%-22s", text)
			for k := range cable.KindCount {
				row += fmt.Sprintf(" %9d", saw[k])
				if k != cable.Unclear {
					assert.Equal(t, k == named[f.Kind], saw[k] > 0, "%s, seed %d: %s seen %d times", text, seed+1, k, saw[k])
				}
			}
			after := "never"
			if saw[named[f.Kind]] > 0 {
				after = fmt.Sprintf("after %.1f s", max(0, r.after(named[f.Kind])-float64(f.From)/1e6))
			}
			t.Log(row, " ", after)
		}
	}
}

// spoilt is all that a cable does at once.
var spoilt = []string{
	"flipped-bits=2e-3", "lost-bytes=1e-3", "doubled-bytes=1e-3", "doubled-lines=0.05", "merged-lines=0.05",
	"held-up=300", "wrong-baud=0.9@14-15", "unplugged=1@20", "trickle=9000@22-26", "flipped-bits=0.2@30-31",
}

// TestNoSpoiltValueIsTaken: whatever the cable does, each line that the engine
// takes is one that the bridge has sent, to the last byte.
func TestNoSpoiltValueIsTaken(t *testing.T) {
	for seed := range uint64(2) {
		var faults []spoil.Fault
		for _, text := range spoilt {
			faults = append(faults, parsed(t, text))
		}
		r := underFire(t, "calm", 0, seed, true, faults...)
		assert.Empty(t, r.strange)
		assert.Greater(t, r.desk.good, uint64(15_000))
		assert.Greater(t, r.desk.bad, uint64(5_000))
		for _, f := range faults {
			assert.Positive(t, r.spoiler.Count(f.Kind), f)
		}
	}
}

// TestCountsOfFire: of what was done to the line, so many are seen. Where faults
// are rare each spoils a line of its own.
func TestCountsOfFire(t *testing.T) {
	for _, c := range []struct {
		fault string
		least float64 // share that is seen at least
	}{
		// A line end that is turned spoils two lines and is one sight; a lost one is
		// no lost byte of a line.
		{"flipped-bits=5e-5", 0.95}, {"lost-bytes=5e-5", 0.93},
		{"doubled-bytes=5e-5", 0.93}, // a doubled line end spoils nothing
		{"doubled-lines=0.01", 0.99}, {"merged-lines=0.01", 0.97}, {"held-up=400", 0.9}, {"restart", 1}, {"unplugged", 1},
	} {
		f := parsed(t, c.fault)
		r := underFire(t, "calm", 0, 7, false, f)
		done, seen := float64(r.spoiler.Count(f.Kind)), float64(r.saw()[named[f.Kind]])
		assert.GreaterOrEqual(t, seen, c.least*done, c.fault)
		assert.LessOrEqual(t, seen, done, c.fault)
	}
}

// TestFiguresOfFire: the figures of the sentences are those of the fault.
func TestFiguresOfFire(t *testing.T) {
	for _, c := range []struct{ fault, says string }{
		{"clock-step=-3000", "the last by 3000 ms back"},
		{"held-up=1500", "the latest 1.4"},
		{"unplugged=2", "2.0 s in all"},
		{"trickle=1000@12-24", "kB/s, late and with gaps, for 11 seconds, usually 4"},
	} {
		f := parsed(t, c.fault)
		r := underFire(t, "calm", 0, 3, false, f)
		sights := r.desk.cables[0].Sights()
		require.Len(t, sights, 1, c.fault)
		assert.Contains(t, sights[0].Text, c.says)
	}
	r := underFire(t, "calm", 0, 3, false, parsed(t, "clock-drift=1000"))
	sights := r.desk.cables[0].Sights()
	require.Len(t, sights, 1)
	var ppm float64
	_, err := fmt.Sscanf(sights[0].Text, "the bridge's clock is %f ppm fast", &ppm)
	require.NoError(t, err)
	assert.InDelta(t, 1000, ppm, 60)
}

// TestSoundLinesSayNothing: whatever the craft does, a line that is sound has
// nothing the matter with it.
func TestSoundLinesSayNothing(t *testing.T) {
	for _, sc := range simulator.List() {
		if sc.Name == "noisy-link" || testing.Short() && sc.Name != "calm" && sc.Name != "slow-stream" {
			continue
		}
		r := underFire(t, sc.Name, 921600, 5, false)
		assert.Empty(t, r.desk.cableLines(), sc.Name)
	}
}

// TestSoundRecordingsSayNothing: nor do the recordings that several packages use,
// but for the one of a noisy link.
func TestSoundRecordingsSayNothing(t *testing.T) {
	files, err := filepath.Glob("../../testdata/sessions/*.bell")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		k := checker{con: &console{err: io.Discard}}
		f, err := openInput(t.Context(), file)
		require.NoError(t, err)
		d, err := k.play(t.Context(), link.NewSession(f), file, nil)
		require.NoError(t, err)
		assert.Equal(t, strings.Contains(file, "noisy"), len(d.cableLines()) > 0, "%s: %v", file, d.cableLines())
		f.Close()
	}
}

// TestRecordingTellsTheSame: what a recording of a line under fire tells, through
// the goroutines of check, is what the day told, sentence by sentence.
func TestRecordingTellsTheSame(t *testing.T) {
	var faults []spoil.Fault
	for _, text := range append(spoilt, "clock-step=500@33", "restart@36", "flood@26-29") {
		faults = append(faults, parsed(t, text))
	}
	sc, err := simulator.Load("calm")
	require.NoError(t, err)
	src := spoil.New(simulator.New(sc, 4), faults, 4)
	day := newDesk(craft.Craft{}, 0, nil, nil)
	var news, again []string
	day.ailing = func(at int64, _, text, _ string) { news = append(news, fmt.Sprint(at, text)) }
	var tape bytes.Buffer
	day.onLine = func(l []byte) {
		if bytes.HasPrefix(l, []byte("#")) {
			tape.WriteString("#wire ")
		}
		tape.Write(append(bytes.Clone(l), '\n'))
		day.line(l)
	}
	for ms, done := int64(0), false; !done; {
		var buf []byte
		var until int64
		buf, until, done = src.Next(nil)
		for ; ms*1000 < until; ms += 20 {
			fmt.Fprintf(&tape, "#at %d.%03d\n", ms/1000, ms%1000)
			day.tick(ms)
		}
		day.feed(buf)
	}
	day.finish()
	s := link.NewSession(&tape)
	var first link.Item
	err = s.Next(&first)
	eng, scouts := alarms.NewScouted(craft.Craft{}, alarms.Options{})
	d := deskOf(eng, nil, nil)
	d.ailing = func(at int64, _, text, _ string) { again = append(again, fmt.Sprint(at, text)) }
	require.ErrorIs(t, newRelay(s, scouts).run(t.Context(), d, &first, err), io.EOF)
	assert.Equal(t, day.cableLines(), d.cableLines())
	assert.Equal(t, news, again)
	assert.Greater(t, len(news), 6)
	assert.Less(t, len(news), 30, "not one for each bad byte")
}
