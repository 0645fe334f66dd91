package dashboard

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard/sound"
	"tetherbell/decode"
)

func reading(v float64) detect.Reading { return detect.Reading{V: v, OK: true} }

// benchFrame is Marsh Heron at a calm hover on its tether.
func benchFrame() *Frame {
	s := &alarms.Snapshot{
		T: 62_340_000, Lines: 81_234, Bad: 12, Lost: 4, SilentUS: 2_000, BadShare: 0.004, BytesPerSecond: 9_800,
		Boot: 42, Bridge: "bench-1", CraftName: "Marsh Heron", Layout: "quad-x", Held: true, Hold: "tether",
		Armed: detect.Yes, Stopped: detect.No, Ground: detect.Yes, ControlOK: detect.Yes, ArmedForUS: 21_400_000,
		StickThrottle: reading(0.42), Throttle: reading(0.404),
		LiftN: reading(2.31), LiftShare: reading(0.36), LiftOf: "weight",
		Volts: reading(15.24), Amps: reading(11.4), VoltsPerCell: reading(3.81),
		IdleReady: reading(0.08), IdleLeast: reading(0.06),
	}
	rates := [decode.TagCount]float64{decode.Hello: 1, decode.Craft: 0.1, decode.Axes: 500, decode.Out: 200,
		decode.ERPM: 20, decode.Load: 50, decode.Pack: 10, decode.State: 20}
	for tag, rate := range rates {
		if rate > 0 {
			s.LinesPerSecond += rate
			s.Streams[tag] = detect.Stream{Count: uint64(rate * 62), Last: s.T - 2_000, Period: 1e6 / rate, Steady: true}
		}
	}
	s.Axes = [3]alarms.AxisView{
		{Rate: reading(12), Demand: reading(10), Ctrl: reading(0.021), Watched: true, Amplitude: 0.011, Limit: 0.1, Unit: "1", FrequencyHz: 4.2},
		{Rate: reading(-7), Demand: reading(0), Ctrl: reading(-0.004), Watched: true, Amplitude: 0.008, Limit: 0.1, Unit: "1", FrequencyHz: 9.6, GrowthPerS: -0.8},
		{Rate: reading(1), Demand: reading(0), Ctrl: reading(0.001), Watched: true, Amplitude: 0.002, Limit: 0.1, Unit: "1"},
	}
	for i := range 4 {
		k := float64(i)
		s.Motors = append(s.Motors, alarms.MotorView{Out: reading(0.392 + 0.011*k), RPM: reading(8040 + 110*k), Temp: reading(38 + k), Share: reading(0.96 + 0.027*k)})
	}
	watched(s)
	return &Frame{
		Snap: s,
		Status: Status{Source: "/dev/ttyUSB0", Baud: 115200, Port: "open", Recording: "20261125T074111Z.bell",
			RecordedBytes: 604_000, Sound: "audio: sound server"},
		Journal: []Entry{
			{T: 1_000, Text: "first line, bridge bench-1"},
			{T: 40_940_000, Text: "armed"},
			{T: 52_100_000, Priority: detect.Note, Text: "mark 1"},
		},
	}
}

func oscillation() alarms.AlarmView {
	return alarms.AlarmView{
		Kind: detect.RisingOscillation, Where: detect.Pitch, Priority: detect.High, Active: true, First: true,
		Since: 59_140_000, Value: 0.074, Limit: 0.1,
		Story: detect.Story{Text: "pitch shakes at 11.2 Hz, 0.074 of 0.100, and grows: limit in 1.4 s",
			Cause: "pitch gains too high", Action: "cut throttle", Unit: "1",
			More: []detect.Fact{{Name: "frequency_hz", Value: 11.2}, {Name: "growth_per_s", Value: 0.21}}},
	}
}

func imbalance() alarms.AlarmView {
	return alarms.AlarmView{
		Kind: detect.OutputImbalance, Where: detect.M3, Priority: detect.Medium, Active: true, Since: 57_000_000,
		Value: 0.27, Limit: 0.25,
		Story: detect.Story{Text: "m3 works 27 % harder than the mean", Cause: "weak motor or propeller",
			Action: "land, then look at m3", Unit: "1"},
	}
}

func slip() alarms.AlarmView {
	return alarms.AlarmView{
		Kind: detect.SettingsSlip, Where: detect.Craft, Priority: detect.Medium, Active: true, First: true,
		Since: 52_000_000, Value: 0.8, Limit: 0.15,
		Story: detect.Story{Text: "armed idle is set to 0.8 of full output, over 0.15 is dangerous",
			Cause: "decimal point slipped", Action: "do not arm; correct idle_ready", Unit: "1"},
	}
}

func thrust() alarms.AlarmView {
	return alarms.AlarmView{
		Kind: detect.GroundThrust, Where: detect.Craft, Priority: detect.High, Active: true, Since: 54_000_000,
		Value: 1.85, Limit: 0.3,
		Story: detect.Story{Text: "lift is 1.85 of the weight with the stick at zero, armed idle allows 0.30",
			Cause: "thrust with the stick at zero", Action: "press stop; keep clear", Unit: "1"},
	}
}

const wrongBaud = "nothing but bad lines from /dev/ttyUSB0 for 2 s: is 57600 the bridge's baud? try another, for example --baud 115200"

// state is a frame together with what the person has opened.
type state struct {
	name  string
	frame func() *Frame
	board func(b *board)
}

// with makes a frame that differs from the calm bench by one change.
func with(change func(*Frame)) func() *Frame {
	return func() *Frame {
		f := benchFrame()
		change(f)
		return f
	}
}

// untoldFrame is of a watch that began on a bridge which runs: what the craft is it
// will say within its ten seconds.
func untoldFrame() *Frame {
	f := benchFrame()
	f.Snap.T, f.Snap.CraftName = 4_600_000, ""
	f.Snap.Armed, f.Snap.Stopped, f.Snap.ArmedForUS = detect.No, detect.Yes, 0
	f.Snap.NotWatched = []alarms.Lack{{Name: "settings-slip", Why: "idle_ready not known"},
		{Name: "near-lift", Why: "mass of the craft not known"}, {Name: "pack-sag", Why: "number of cells not known"}}
	f.Snap.Untold, f.Snap.Awaited = f.Snap.NotWatched, true
	f.Snap.LiftShare, f.Snap.VoltsPerCell = detect.Reading{}, detect.Reading{}
	return f
}

// doubtFrame is a craft whose load cells show less as the rotors turn faster.
func doubtFrame() *Frame {
	f := benchFrame()
	why := "lift falls as the rotors turn faster: are the load cells' wires swapped, or craft or propellers upside down?"
	f.Snap.NotWatched = []alarms.Lack{{Name: "near-lift", Why: why}, {Name: "hold-lost", Why: why}}
	f.Snap.Left, f.Snap.Doubted = f.Snap.NotWatched, []decode.Tag{decode.Load}
	f.Snap.LiftN.V, f.Snap.LiftShare.V = -1.7, -0.26
	return f
}

func states() []state {
	high := with(func(f *Frame) {
		f.Snap.Alarms = []alarms.AlarmView{oscillation(), imbalance()}
		f.Snap.Axes[1].Amplitude, f.Snap.Axes[1].FrequencyHz = 0.074, 11.2
		f.Snap.Axes[1].GrowthPerS, f.Snap.Axes[1].TimeToLimitS = 0.21, 1.4
		f.Snap.Reaches[0] = detect.Reach{Kind: detect.RisingOscillation, Where: detect.Pitch, Share: 0.74, Value: 0.074, Limit: 0.1, Unit: "1"}
		f.Snap.Trails[1] = swell(0.074)
		f.Snap.NotWatched = []alarms.Lack{{Name: "near-lift", Why: "take-off mass not known"}}
		f.Journal = append(f.Journal, FromEvent(&alarms.Event{T: 59_140_000, Kind: detect.RisingOscillation,
			Priority: detect.High, Where: detect.Pitch, First: true, Story: oscillation().Story}))
	})
	all := []state{
		{"calm", benchFrame, nil},
		{"medium", with(func(f *Frame) { f.Snap.Alarms = []alarms.AlarmView{imbalance()} }), nil},
		{"high", high, nil},
		{"acknowledged", with(func(f *Frame) {
			a := oscillation()
			a.Acknowledged = true
			f.Snap.Alarms, f.Snap.PausedUS = []alarms.AlarmView{a}, 43_000_000
		}), nil},
		{"over", with(func(f *Frame) {
			a := oscillation()
			a.Active = false
			f.Snap.Alarms = []alarms.AlarmView{a}
		}), nil},
		{"stale", with(func(f *Frame) {
			f.Snap.SilentUS, f.Snap.T = 3_200_000, f.Snap.T+3_200_000
			f.Snap.Alarms = []alarms.AlarmView{{Kind: detect.StaleLink, Where: detect.Link, Priority: detect.High, Active: true,
				Since: 62_640_000, Value: 3.2, Limit: 0.3, Story: detect.Story{Text: "no good line for 3.2 s while armed",
					Cause: "cable, radio or bridge", Action: "cut throttle, press stop", Unit: "s"}}}
		}), nil},
		{"left", with(func(f *Frame) { // the load cells' field has become empty in flight
			why := "load lines come, but lift in them is empty"
			f.Snap.NotWatched = []alarms.Lack{{Name: "near-lift", Why: why}, {Name: "hold-lost", Why: why}}
			f.Snap.Left = f.Snap.NotWatched[:1]
			f.Snap.LiftN, f.Snap.LiftShare = detect.Reading{}, detect.Reading{}
		}), nil},
		{"disconnected", with(func(f *Frame) {
			f.Snap.Armed, f.Snap.SilentUS, f.Snap.ArmedForUS = detect.No, 9_100_000, 0
			f.Snap.T += 9_100_000
			f.Status.Lost, f.Status.Port = true, "lost: trying again in 1.2 s (4th try)"
			f.Status.Hint = "plug the bridge in again; it is found by itself"
		}), nil},
		{"not-watched-many", with(func(f *Frame) {
			for k := range detect.KindCount {
				f.Snap.NotWatched = append(f.Snap.NotWatched, alarms.Lack{Name: k.String(), Why: "no such lines for 3 s"})
			}
			f.Snap.Armed, f.Snap.Ground, f.Snap.Motors = detect.Unknown, detect.Unknown, nil
			f.Snap.Axes, f.Snap.Reaches, f.Snap.Spectrum = [3]alarms.AxisView{}, nil, detect.LineSpectrum{}
			f.Snap.LiftN, f.Snap.LiftShare, f.Snap.Volts, f.Snap.Amps = detect.Reading{}, detect.Reading{}, detect.Reading{}, detect.Reading{}
			f.Snap.Streams[decode.Load] = detect.Stream{}
			f.Snap.LinesPerSecond -= 50
		}), nil},
		{"unheard", with(func(f *Frame) {
			f.Status.Sound = "terminal bell (sound server closed the connection)"
			f.Status.Heard = sound.State{Way: sound.BellOnly, Lost: true, Why: "sound server closed the connection"}
		}), nil},
		{"blind", with(func(f *Frame) {
			f.Status.Ended, f.Status.Blind, f.Status.Port = true, true, "input ended"
			f.Snap.Alarms = []alarms.AlarmView{oscillation()}
		}), nil},
		{"disk-full", with(func(f *Frame) {
			f.Status.RecordError, f.Status.RecordMissing = "write 20261125T074111Z.bell: no space left on device", 412
		}), nil},
		{"waiting", func() *Frame {
			return &Frame{Snap: &alarms.Snapshot{Boot: -1}, Status: Status{Source: "/dev/ttyUSB0", Port: "open", Hint: "is the bridge powered?"}}
		}, nil},
		{"cautions", with(func(f *Frame) { f.Snap.Armed = detect.No }), func(b *board) { b.cautioned = false }},
		{"help", high, func(b *board) { b.help = true }},
		{"lists", high, func(b *board) { b.view = viewAll }},
		{"axes", high, func(b *board) { b.view = viewAxes }},
		{"motors", high, func(b *board) { b.view = viewMotors }},
		{"spectrum", benchFrame, func(b *board) { b.view = viewSpectrum }},
		{"spectrum-folded", with(foldedLines), func(b *board) { b.view = viewSpectrum }},
		{"journal", high, func(b *board) { b.view = viewJournal }},
		{"leave", benchFrame, func(b *board) { b.leave() }},
	}
	return slices.Concat(all, nextStates(), untoldStates(), rareStates(), drillStates())
}

// nextStates are those in which what is next is not what an alarm asks for.
func nextStates() []state {
	return []state{
		{"doubt", doubtFrame, nil},
		{"leaving", with(func(f *Frame) {
			f.Status.Leaving = "ended by a signal (hangup) while the craft may be ARMED: the watch ends"
		}), nil},
		{"at-rest", func() *Frame {
			f := restFrame(detect.RisingOscillation, "cut throttle")
			f.Snap.Armed, f.Snap.ArmedForUS = detect.No, 0
			return f
		}, nil},
	}
}

// untoldStates are of a watch that began on a bridge which runs.
func untoldStates() []state {
	return []state{
		{"untold", untoldFrame, nil},
		{"untold-armed", func() *Frame {
			f := untoldFrame()
			f.Snap.Armed, f.Snap.Stopped, f.Snap.ArmedForUS = detect.Yes, detect.No, 2_300_000
			return f
		}, nil},
	}
}

// rareStates are those that a person seldom meets.
func rareStates() []state {
	return []state{
		{"replay", with(func(f *Frame) {
			f.Status = Status{Source: "20261125T074111Z.bell", Port: "a recording", Sound: "terminal bell: no sound server",
				Replay: true, ReplayAt: 62.3, ReplayLength: 184, Speed: 0.5, Paused: true}
		}), nil},
		{"replay-loop", with(func(f *Frame) {
			f.Snap.Alarms = []alarms.AlarmView{oscillation()}
			f.Status = Status{Source: "20261125T074111Z.bell", Port: "a recording", Replay: true, ReplayAt: 1862.3, ReplayLength: 3600, Speed: 1,
				JudgedFrom: 1840, Loop: []float64{1858, 1870.5}, Hint: "2 s before: high rising-oscillation pitch"}
		}), nil},
		{"replay-help", with(func(f *Frame) { f.Status.Replay, f.Status.Speed, f.Status.JudgedFrom = true, 1, 1840 }), func(b *board) { b.help = true }},
		{"over-and-on", with(func(f *Frame) {
			over, on := thrust(), slip()
			over.Active = false
			f.Snap.Alarms = []alarms.AlarmView{over, on}
			f.Snap.Armed, f.Snap.Stopped, f.Snap.ArmedForUS = detect.No, detect.Yes, 0
		}), nil},
		{"wrong-baud", func() *Frame {
			return &Frame{Snap: &alarms.Snapshot{Boot: -1, Bad: 143}, Status: Status{Source: "/dev/ttyUSB0", Baud: 57600, Port: "open", Hint: wrongBaud}}
		}, nil},
		{"sees", ailing, nil},
		{"sees-lists", ailing, func(b *board) { b.view = viewAll }},
		{"ended", with(func(f *Frame) {
			a := oscillation()
			a.Active = false
			f.Snap.Alarms, f.Status.Ended, f.Status.Port = []alarms.AlarmView{a}, true, "input ended"
		}), nil},
		{"long-words", with(func(f *Frame) {
			a := imbalance()
			a.Story.Text = "output of m3 is 1.32 times the mean of the motors: it pulls less than the others, or weight lies off centre, forward and to the left"
			a.Story.Action = "ease off; check propeller and motor m3, then move weight forward and to the left"
			f.Snap.Alarms = []alarms.AlarmView{a}
			f.Journal = append(f.Journal, Entry{T: a.Since, Priority: a.Priority, Text: "raised output-imbalance m3: " + a.Story.Text})
		}), nil},
		{"listening", with(func(f *Frame) {
			f.Snap.T = 1_900_000
			f.Snap.NotWatched = []alarms.Lack{{Name: "near-lift", Why: "no load lines"}}
			f.Snap.Axes[0].Watched = false
			f.Journal = f.Journal[:1]
		}), nil},
		{"engine-still", with(func(f *Frame) {
			f.Status.EngineStill = 2300 * time.Millisecond
			f.Snap.Alarms = []alarms.AlarmView{imbalance()}
		}), nil},
		{"engine-broken", with(func(f *Frame) {
			f.Status.EngineStill, f.Status.EngineBroken, f.Snap.Armed = 2300*time.Millisecond, true, detect.No
		}), nil},
		{"sound-still", benchFrame, func(b *board) { b.others.sound = fixedTime.Add(-2300 * time.Millisecond) }},
		{"sound-still-high", with(func(f *Frame) { f.Snap.Alarms = []alarms.AlarmView{oscillation()} }),
			func(b *board) { b.others.sound = fixedTime.Add(-2300 * time.Millisecond) }},
		{"misnamed", misnamed, nil},
		{"misnamed-disarmed", func() *Frame {
			f := misnamed()
			f.Snap.Armed, f.Snap.ArmedForUS = detect.No, 0
			return f
		}, nil},
		{"misnamed-low", func() *Frame {
			f := misnamed()
			a := imbalance()
			a.Priority = detect.Low
			f.Snap.Alarms, f.Snap.PausedUS = []alarms.AlarmView{a}, 20_000_000
			return f
		}, nil},
		{"misnamed-axes", misnamed, func(b *board) { b.view = viewAxes }},
		{"misnamed-lists", misnamed, func(b *board) { b.view = viewAll }},
		{"no-beacon", with(func(f *Frame) { f.Status.BeaconError = "set DTR of /dev/ttyUSB1: input/output error" }), nil},
		{"octo", with(func(f *Frame) {
			f.Snap.Motors = append(f.Snap.Motors, f.Snap.Motors...)
			f.Snap.NotWatched = []alarms.Lack{{Name: "near-lift", Why: "take-off mass not known"}}
		}), nil},
	}
}

// fixedTime is the host's clock of all pictures.
var fixedTime = time.Date(2026, 11, 25, 7, 41, 11, 0, time.UTC)

// still makes a board with a standing clock.
func still(f *Frame) *board {
	b := newBoard(func(Act) {}, func() {}, func(error) {}, func() time.Time { return fixedTime })
	b.cautioned = true
	b.show(f)
	return b
}

// A strictScreen fails the test when a cell outside of it is set, or one that
// is not a single printable cell wide.
type strictScreen struct {
	tcell.SimulationScreen
	t       testing.TB
	colours int
	charset string
}

func newStrict(t testing.TB, w, h int) *strictScreen {
	s := &strictScreen{SimulationScreen: tcell.NewSimulationScreen("UTF-8"), t: t, colours: 256, charset: "UTF-8"}
	require.NoError(t, s.Init())
	s.SetSize(w, h)
	s.Clear()
	return s
}

func (s *strictScreen) Colors() int          { return s.colours }
func (s *strictScreen) CharacterSet() string { return s.charset }

func (s *strictScreen) Put(x, y int, str string, st tcell.Style) (string, int) {
	if w, h := s.Size(); x < 0 || y < 0 || x >= w || y >= h {
		s.t.Fatalf("cell %d,%d is outside of %dx%d", x, y, w, h)
	}
	if s.charset == "US-ASCII" && str != "" && str[0] > 0x7E {
		s.t.Fatalf("%q is no ASCII", str)
	}
	rest, wide := s.SimulationScreen.Put(x, y, str, st)
	if wide != 1 || rest != "" {
		s.t.Fatalf("%q takes %d cells and leaves %q", str, wide, rest)
	}
	return rest, wide
}

// picture reads the screen as text.
func picture(s tcell.Screen) string {
	var out strings.Builder
	w, h := s.Size()
	for y := range h {
		var line strings.Builder
		for x := range w {
			str, _, _ := s.Get(x, y)
			line.WriteString(str)
		}
		out.WriteString(strings.TrimRight(line.String(), " "))
		out.WriteByte('\n')
	}
	return out.String()
}

var errTest = errors.New("no such thing")

// ailing is a line on which two faults were seen, one of them just now.
func ailing() *Frame {
	f := benchFrame()
	f.Status.Sights = []Sight{
		{Name: "flipped bits", Count: 12, First: f.Snap.T - 40_000_000, Last: f.Snap.T - 9_000_000,
			Text: "12 lines with a turned bit, by their checksums", Action: "look for noise on the cable"},
		{Name: "held-up lines", Count: 1, First: f.Snap.T - 1_000_000, Last: f.Snap.T - 1_000_000,
			Text: "1 heap of late lines, the latest 0.41 s late", Action: "end what keeps this machine busy"},
	}
	return f
}
