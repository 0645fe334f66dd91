package dashboard

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// TestNothingOutside draws every state over the sizes from 20x6 to 200x60, and
// smaller still: strictScreen fails on a cell outside.
func TestNothingOutside(t *testing.T) {
	for _, st := range states() {
		for w := 20; w <= 200; w += 20 {
			for h := 6; h <= 60; h += 9 {
				drawAt(t, st, w, h)
			}
		}
		for _, size := range [][2]int{{1, 1}, {2, 3}, {5, 2}, {19, 5}, {80, 1}, {3, 60}, {79, 23}, {111, 35}} {
			drawAt(t, st, size[0], size[1])
		}
	}
}

func drawAt(t testing.TB, st state, w, h int) {
	s := newStrict(t, w, h)
	defer s.Fini()
	b := still(st.frame())
	b.fail = func(err error) { t.Fatalf("%s at %dx%d: %v", st.name, w, h, err) }
	if st.board != nil {
		st.board(b)
	}
	b.Draw(s)
}

// TestAnyValues draws frames of wild values: not a number, infinite, huge,
// unknown kinds, texts full of control characters and markup.
func TestAnyValues(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		f := wildFrame(r)
		w, h := rapid.IntRange(1, 200).Draw(r, "w"), rapid.IntRange(1, 60).Draw(r, "h")
		s := newStrict(t, w, h)
		defer s.Fini()
		b := still(f)
		b.fail = func(err error) { r.Fatal(err) }
		b.view, b.help = view(rapid.IntRange(0, int(viewCount)-1).Draw(r, "view")), rapid.Bool().Draw(r, "help")
		b.back, b.from = rapid.IntRange(-3, 999).Draw(r, "back"), rapid.IntRange(-3, 999).Draw(r, "from")
		b.Draw(s)
		for _, c := range picture(s) {
			require.False(t, c < 0x20 && c != '\n' || c == 0x7F || c >= 0x80 && c < 0xA0, "control %x", c)
		}
	})
}

func wildFrame(r *rapid.T) *Frame {
	value := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.Inf(-1), -1, 1e308, 1}))
	read := rapid.Custom(func(r *rapid.T) detect.Reading {
		return detect.Reading{V: value.Draw(r, "v"), OK: rapid.Bool().Draw(r, "ok")}
	})
	text := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "[red]x[-]", "\x1b[2J", "\r\n\a", "日本語", strings.Repeat("long ", 90)}))
	s := &alarms.Snapshot{
		T: rapid.Int64().Draw(r, "t"), SilentUS: rapid.Int64().Draw(r, "silent"), Lines: rapid.Uint64().Draw(r, "lines"),
		Bad: rapid.Uint64().Draw(r, "bad"), BadShare: value.Draw(r, "share"), BytesPerSecond: value.Draw(r, "bps"),
		CraftName: text.Draw(r, "craft"), Hold: text.Draw(r, "hold"), Held: rapid.Bool().Draw(r, "held"), Bridge: text.Draw(r, "bridge"),
		Armed: detect.Tri(rapid.Uint8().Draw(r, "armed")), Stopped: detect.Tri(rapid.Uint8().Draw(r, "stopped")),
		LiftN: read.Draw(r, "lift"), LiftShare: read.Draw(r, "liftshare"), LiftOf: text.Draw(r, "of"),
		Volts: read.Draw(r, "volts"), Amps: read.Draw(r, "amps"), ArmedForUS: rapid.Int64().Draw(r, "for"),
		PausedUS: rapid.Int64().Draw(r, "paused"), Restarts: rapid.Int().Draw(r, "restarts"),
	}
	for i := range s.Axes {
		s.Axes[i] = alarms.AxisView{Rate: read.Draw(r, "rate"), Ctrl: read.Draw(r, "ctrl"), Watched: rapid.Bool().Draw(r, "watched"),
			Amplitude: value.Draw(r, "amp"), Limit: value.Draw(r, "limit"), Unit: text.Draw(r, "unit"),
			FrequencyHz: value.Draw(r, "f"), GrowthPerS: value.Draw(r, "g"), TimeToLimitS: value.Draw(r, "ttl")}
	}
	for range rapid.IntRange(0, 12).Draw(r, "motors") {
		s.Motors = append(s.Motors, alarms.MotorView{Out: read.Draw(r, "out"), RPM: read.Draw(r, "rpm"), Temp: read.Draw(r, "temp"), Share: read.Draw(r, "share")})
	}
	for range rapid.IntRange(0, 9).Draw(r, "alarms") {
		s.Alarms = append(s.Alarms, alarms.AlarmView{Kind: detect.Kind(rapid.Uint8().Draw(r, "kind")), Where: detect.Where(rapid.Uint16().Draw(r, "where")),
			Priority: detect.Priority(rapid.IntRange(0, 5).Draw(r, "p")), Active: rapid.Bool().Draw(r, "active"),
			Acknowledged: rapid.Bool().Draw(r, "ack"), Value: value.Draw(r, "value"),
			Story: detect.Story{Text: text.Draw(r, "text"), Action: text.Draw(r, "action"), Cause: text.Draw(r, "cause"), Unit: text.Draw(r, "u"),
				More: []detect.Fact{{Name: text.Draw(r, "fact"), Value: value.Draw(r, "fv")}}}})
	}
	s.LinesPerSecond = value.Draw(r, "lines a second")
	for i := range s.Streams {
		s.Streams[i] = detect.Stream{Count: rapid.Uint64().Draw(r, "count"), Period: value.Draw(r, "period")}
	}
	for range rapid.IntRange(0, 12).Draw(r, "lacks") {
		s.NotWatched = append(s.NotWatched, alarms.Lack{Name: text.Draw(r, "lack"), Why: text.Draw(r, "why")})
	}
	wildDistances(r, s, value, text)
	f := &Frame{Snap: s, Status: Status{Source: text.Draw(r, "source"), Port: text.Draw(r, "port"), Hint: text.Draw(r, "hint"),
		Recording: text.Draw(r, "rec"), RecordError: text.Draw(r, "err"), Sound: text.Draw(r, "sound"),
		Replay: rapid.Bool().Draw(r, "replay"), ReplayAt: value.Draw(r, "at"), Speed: value.Draw(r, "speed")}}
	for range rapid.IntRange(0, 9).Draw(r, "entries") {
		f.Journal = append(f.Journal, Entry{T: rapid.Int64().Draw(r, "et"), Priority: detect.Priority(rapid.IntRange(0, 9).Draw(r, "ep")), Text: text.Draw(r, "etext")})
	}
	return f
}

// wildDistances fills what the newer views draw: distances, trails, spectrum.
func wildDistances(r *rapid.T, s *alarms.Snapshot, value *rapid.Generator[float64], text *rapid.Generator[string]) {
	for range rapid.IntRange(0, 40).Draw(r, "reaches") {
		s.Reaches = append(s.Reaches, detect.Reach{Kind: detect.Kind(rapid.Uint8().Draw(r, "rk")), Where: detect.Where(rapid.Uint16().Draw(r, "rw")),
			Share: value.Draw(r, "rs"), Value: value.Draw(r, "rv"), Limit: value.Draw(r, "rl"), Unit: text.Draw(r, "ru")})
	}
	for i := range s.Trails {
		for k := rapid.IntRange(0, alarms.TrailLength).Draw(r, "tk"); k < alarms.TrailLength; k += 37 {
			s.Trails[i][k] = float32(value.Draw(r, "tv"))
		}
	}
	s.Spectrum = detect.LineSpectrum{Tag: decode.Tag(rapid.IntRange(0, int(decode.TagCount)-1).Draw(r, "stag")), At: rapid.Int64().Draw(r, "sat"),
		BinHz: value.Draw(r, "bin"), TurnHz: value.Draw(r, "turn"), Unit: text.Draw(r, "su"), Amp: make([]float32, rapid.IntRange(0, 300).Draw(r, "bins"))}
	for k := range s.Spectrum.Amp {
		if k%17 == 0 {
			s.Spectrum.Amp[k] = float32(value.Draw(r, "sa"))
		}
	}
	v := &s.RotorLines
	v.Orders, v.Stated, v.Poles = rapid.IntRange(0, 9).Draw(r, "orders"), rapid.Int().Draw(r, "stated"), rapid.Int().Draw(r, "poles")
	v.G, v.MMS, v.Trend, v.TrendOK = value.Draw(r, "g"), value.Draw(r, "mms"), value.Draw(r, "trend"), rapid.Bool().Draw(r, "trendok")
	for k := range v.Order {
		v.Order[k] = value.Draw(r, "order")
	}
	for m := range v.Lines {
		v.Lines[m][m%3] = detect.Line{Hz: value.Draw(r, "lhz"), SeenHz: value.Draw(r, "lseen"), Folded: rapid.Bool().Draw(r, "lf"), Seen: rapid.Bool().Draw(r, "ls"), Rate: value.Draw(r, "lr")}
	}
}

// TestMarkupIsText: what looks like markup of the terminal library is shown
// as it came.
func TestMarkupIsText(t *testing.T) {
	f := benchFrame()
	f.Status.Source = "[red]tty[-:-:b]"
	f.Journal = []Entry{{Text: "note: [::b]hooked[\"x\"] \x1b[31mred\x07"}}
	s := newStrict(t, 140, 45)
	defer s.Fini()
	still(f).Draw(s)
	require.Contains(t, picture(s), "[red]tty[-:-:b] open")
	require.Contains(t, picture(s), `[::b]hooked["x"] [31mred`)
}

// TestOldPicture: a monitor that hands over nothing new is told of in the
// highest words, but not where nothing new can come.
func TestOldPicture(t *testing.T) {
	now := fixedTime
	draw := func(change func(*Status), age time.Duration) string {
		f := benchFrame()
		change(&f.Status)
		b := still(f)
		b.now = func() time.Time { return now.Add(age) }
		s := newStrict(t, 80, 24)
		defer s.Fini()
		b.Draw(s)
		return picture(s)
	}
	const words = "THE MONITOR STANDS STILL"
	none := func(*Status) {}
	require.NotContains(t, draw(none, time.Second), words)
	require.Contains(t, draw(none, 1100*time.Millisecond), words)
	require.NotContains(t, draw(func(s *Status) { s.Ended = true }, time.Hour), words)
	require.NotContains(t, draw(func(s *Status) { s.Replay, s.Paused = true, true }, time.Hour), words)
	require.Contains(t, draw(func(s *Status) { s.Replay = true }, time.Hour), words)
}

// BenchmarkDraw draws a changing picture into the cells of a screen; sending
// what changed to the terminal is not in it.
func BenchmarkDraw(b *testing.B) {
	for _, size := range [][2]int{{80, 24}, {140, 45}, {200, 60}} {
		b.Run(fmt.Sprintf("%dx%d", size[0], size[1]), func(b *testing.B) {
			s := newStrict(b, size[0], size[1])
			defer s.Fini()
			f := states()[2].frame()
			bo := still(f)
			b.ReportAllocs()
			for b.Loop() {
				f.Snap.T += 50_000
				f.Snap.Axes[1].Amplitude += 1e-5
				s.Clear()
				bo.Draw(s.SimulationScreen)
			}
		})
	}
}
