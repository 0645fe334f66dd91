package dashboard

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "rewrite the pictures in testdata")

// TestPictures compares every state at the smallest and at two large sizes.
func TestPictures(t *testing.T) {
	for _, st := range states() {
		for _, size := range [][2]int{{80, 24}, {140, 45}, {200, 60}} {
			name := fmt.Sprintf("%s-%dx%d", st.name, size[0], size[1])
			t.Run(name, func(t *testing.T) {
				s := newStrict(t, size[0], size[1])
				defer s.Fini()
				b := still(st.frame())
				b.fail = func(err error) { t.Fatal(err) }
				if st.board != nil {
					st.board(b)
				}
				b.Draw(s)
				got := picture(s)
				file := filepath.Join("testdata", name+".screen")
				if *update {
					require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
				}
				want, err := os.ReadFile(file)
				require.NoError(t, err)
				require.Equal(t, string(want), got)
			})
		}
	}
}

// TestEveryStateSaysWhatMatters holds for all sizes from 80x24 up, whatever
// the layout becomes.
func TestEveryStateSaysWhatMatters(t *testing.T) {
	want := map[string][]string{
		"calm":             {"ARMED 0:21", "0.011 of 0.100", "all 27 kinds of alarm are watched", "20261125T074111Z.bell"},
		"medium":           {"NOT ACKNOWLEDGED", "m3 works 27 % harder", "!m3"},
		"high":             {"NOT ACKNOWLEDGED", "limit in 1.4 s", "!pitch", "near-lift", "m3 output-imbal", "likely:"},
		"acknowledged":     {"STILL ON", "SOUND OFF 43 s", "sound paused 43 s, ends at a new HIGH"},
		"over":             {"ENDED, kept", "it was: pitch"},
		"stale":            {"m1  old", "OLD: 3.2 s", "OLD VALUES", "old: it was 0.36 of 0.70", "no good line for 3.2 s", "silent 3.2 s"},
		"left":             {"near-lift", "first: ease off; find out why", "load lines come, but lift in them is empty", "empty in its lines", "NOT ALL WATCHED"},
		"untold":           {"craft and settings come within 10 s", "first: wait for it; not watched until then: settings-slip, near-lift, pack-sag", "NOT ALL WATCHED"},
		"untold-armed":     {"first: throttle down, disarm", "settings-slip, near-lift, pack-sag", "NOT ALL WATCHED", "ARMED 0:02"},
		"doubt":            {"near-lift, hold-lost", "lift falls as the rotors turn faster", "first: ease off, disarm; once rotors", "LOAD IN DOUBT"},
		"leaving":          {"while the craft may be ARMED: the watch ends", "first: cut throttle, press stop; then start", "WATCH ENDS"},
		"at-rest":          {"it was: roll oscillates at 13.6 Hz", "next: do not arm again; find out", "STOP PRESSED"},
		"disconnected":     {"PORT LOST", "trying again in 1.2 s"},
		"not-watched-many": {"NO ALARM CAN RING", "0 of 27 kinds", "ARMED? not known", "no distance is known yet", "no motor has been heard of"},
		"unheard":          {"ALARMS MAY NOT BE HEARD", "ARMED 0:21 │ BELL ONLY", "sound server closed", "somebody else"},
		"blind":            {"INPUT ENDED", "the craft was armed then: no alarm", "first: cut throttle, press stop; a ends", "was ARMED 0:21"},
		"disk-full":        {"NOT RECORDED: write 20261125T0", "THE WATCH GOES ON"},
		"waiting":          {"/dev/ttyUSB0"},
		"cautions":         {"propellers off", "stops no motor", "Stop switch"},
		"help":             {"acknowledge what is named", "asks while armed", "NOT ACKNOWLEDGED"},
		"lists":            {"pitch gains too high", "frequency_hz 11.2", "take-off mass not known", "STREAMS"},
		"leave":            {"q once more leaves"},
		"replay":           {"file 1:02 of 3:04 PAUSED", "1:02.3 watched", "terminal bell: no sound server", "stop/go", "help", "quit", "REPLAY PAUSED │ data good"},
		"replay-loop":      {"LOOP 30:58.0 to 31:10.5", "2 s before: high rising-oscillation pitch"},
		"replay-help":      {"next alarm or mark, previous", "loop: start, then end, off", "stops no motor"},
		"drill":            {"Space STOP", "DRILL 3 of 12", "alarms on", "0:14", "NOT ACKNOWLEDGED"},
		"drill-calm":       {"Space STOP", "DRILL 3 of 12", "alarms on"},
		"drill-fast":       {"DRILL 3 of 12", "×4.00"},
		"drill-off":        {"Space STOP", "alarms OFF: you watch", "nothing rings here"},
		"drill-help":       {"STOP: you would press it now", "go on to the next recording"},
		"drill-begin":      {"Enter begins", "Space is the stop switch"},
		"drill-late":       {"you stopped at 14.30 s, 3.06 s after the alarm", "first action: cut throttle", "Enter next recording", "lesson: roll gains"},
		"drill-right":      {"nothing was wrong", "lesson: a sound craft"},
		"over-and-on":      {"NOT ACKNOWLEDGED", "armed idle is set to 0.8", "first: do not arm; correct idle_ready", "likely: decimal point", "ended HIGH ground-thr", "!idle", "!lift", "!stick"},
		"wrong-baud":       {"bad 143", "no good line yet", "bad+lost 100.0 %", "everything, until lines come"},
		"sees":             {"0.011 of 0.100", "20261125T074111Z.bell"},
		"sees-lists":       {"THE LINE SHOWS", "flipped bits 12, "},
		"ended":            {"INPUT ENDED", "no lines come", "HIGH pitch rising", "AT THE END"},
		"long-words":       {"first: ease off; check", "and to the left", "weak motor", "1.32 times"},
		"listening":        {"listening"},
		"engine-still":     {"THE MONITOR STANDS STILL", "judged nothing for 2.3 s", "first: cut throttle", "NOT JUDGED", "was ARMED"},
		"engine-broken":    {"THE MONITOR HAS BROKEN DOWN", "before anything turns", "NOT JUDGED", "was disarmed"},
		"sound-still":      {"ALARMS ARE NOT HEARD", "the sound stands still, 2.3 s by now", "bell stands in"},
		"sound-still-high": {"NOT ACKNOWLEDGED", "ALARMS ARE NOT HEARD", "limit in 1.4 s"},
		"no-beacon":        {"THE WATCH GOES ON", "set DTR of /dev/ttyUSB1", "the lamp"},
		"misnamed": {"rising-oscillation and 6 more: no axes lines, but axis: is axes meant?", "first: throttle down, disarm; then name that tag axes in the bridge",
			"DATA LACKS axes (axis: is axes meant?)", "ARMED 0:21"},
		"misnamed-disarmed": {"first: name that tag axes in the bridge, before you arm", "DATA LACKS axes (axis: is axes meant?)"},
		"misnamed-low":      {"LOW m3 output-imb", "first: throttle down, disarm; then name that tag axes in the bridge", "SOUND OFF 20 s"},
		"misnamed-axes":     {"yaw    not watched: no axes lines, but axis: is axes meant?"},
		"misnamed-lists":    {"rising-oscillation, tip-over, low-margin", "is axes meant?)", "axis       500.0/s  31000 lines, last 0.0 s ago: not known, is axes meant?"},
		"octo":              {"m8", "near-lift"},
		"axes":              {"pitch  0.074 of 0.100", "11.2 Hz", "grows 0.2/s", "limit ┃", " s   "},
		"motors":            {"m4", "38 of 60 °C", "output-imbalance", "8040"},
		"spectrum":          {"136.0 turns/s", "1x", "3x blades pass", "fold of 2x", "14 poles stated, and heard"},
		"spectrum-folded":   {"fold of 1x", "HEARD 12", "too fast for"},
		"journal":           {"raised rising-oscillation pitch (first)", "limit in 1.4 s", "first line"},
	}
	for _, st := range states() {
		for _, size := range [][2]int{{80, 24}, {100, 30}, {109, 60}, {110, 34}, {140, 45}, {200, 60}} {
			t.Run(fmt.Sprintf("%s-%dx%d", st.name, size[0], size[1]), func(t *testing.T) {
				s := newStrict(t, size[0], size[1])
				defer s.Fini()
				b := still(st.frame())
				b.fail = func(err error) { t.Fatal(err) }
				if st.board != nil {
					st.board(b)
				}
				b.Draw(s)
				got := picture(s)
				require.NotEmpty(t, want[st.name])
				for _, w := range want[st.name] {
					require.Contains(t, got, w)
				}
			})
		}
	}
}

// TestBannerFillsThreeRows: at 80x24 an alarm that nobody acknowledged is a
// bar over the full width, of three rows or more, in its own two colours.
func TestBannerFillsThreeRows(t *testing.T) {
	for _, colours := range []int{0, 8, 16, 256, 1 << 24} {
		s := newStrict(t, 80, 24)
		s.colours = colours
		f := benchFrame()
		f.Snap.Alarms = append(f.Snap.Alarms, oscillation())
		still(f).Draw(s)
		rows := 0
		for y := range 24 {
			full := true
			for x := range 80 {
				_, st, _ := s.Get(x, y)
				_, bg, attr := st.Decompose()
				if bg == tcell.ColorDefault && attr&tcell.AttrReverse == 0 {
					full = false
				}
			}
			if full {
				rows++
			}
		}
		require.GreaterOrEqual(t, rows, 3, "colours %d", colours)
		s.Fini()
	}
}

// TestNoColour: without colours nothing sets one, and the priorities differ by
// word and pattern alone.
func TestNoColour(t *testing.T) {
	for _, st := range states() {
		s := newStrict(t, 80, 24)
		s.colours = 0
		still(st.frame()).Draw(s)
		for y := range 24 {
			for x := range 80 {
				_, style, _ := s.Get(x, y)
				fg, bg, _ := style.Decompose()
				require.Equal(t, tcell.ColorDefault, fg)
				require.Equal(t, tcell.ColorDefault, bg)
			}
		}
		s.Fini()
	}
	l := newLook(0, false)
	seen := map[rune]bool{}
	for p := range l.edges {
		if p >= 2 {
			require.False(t, seen[l.edges[p][0]])
			seen[l.edges[p][0]] = true
		}
	}
}

// TestASCII draws every state where nothing but ASCII can be shown.
func TestASCII(t *testing.T) {
	for _, st := range states() {
		for _, size := range [][2]int{{80, 24}, {140, 45}} {
			s := newStrict(t, size[0], size[1])
			s.charset = "US-ASCII"
			b := still(st.frame())
			b.fail = func(err error) { t.Fatal(err) }
			if st.board != nil {
				st.board(b)
			}
			b.Draw(s)
			require.NotEmpty(t, strings.TrimSpace(picture(s)))
			s.Fini()
		}
	}
}
