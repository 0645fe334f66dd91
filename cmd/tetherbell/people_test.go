package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/link"
)

func TestPrintable(t *testing.T) {
	for in, want := range map[string]string{
		"":                         "",
		"session one.bell":         "session one.bell",
		`C:\bench\a.bell`:          `C:\bench\a.bell`,
		"Lough Márra 35 °C ±":      "Lough Márra 35 °C ±",
		"a\x1b[2Jb":                `a\x1b[2Jb`,
		"a\nhint: b\r\t\x00\x7f":   `a\x0ahint: b\x0d\x09\x00\x7f`,
		"c1 \u009b31m \u0085":      `c1 \u009b31m \u0085`,
		"\u202egnp.bell\u200b":     `\u202egnp.bell\u200b`,
		"\xff\xc3 broken \xe2\x80": `\xff\xc3 broken \xe2\x80`,
		"\ufffd":                   "\ufffd",
		"\U000e0041":               `\U000e0041`,
	} {
		assert.Equal(t, want, printable(in))
	}
}

func FuzzPrintable(f *testing.F) {
	f.Add("a\x1b\u202e\xff")
	f.Fuzz(func(t *testing.T, text string) {
		out := printable(text)
		for _, r := range out {
			if !unicode.IsPrint(r) {
				t.Fatalf("%q still in %q", r, out)
			}
		}
		if again := printable(out); again != out {
			t.Fatalf("%q is not left alone: %q", out, again)
		}
	})
}

// Nothing that a name holds reaches the terminal as it is, whoever prints it.
func TestNamesCannotForgeLines(t *testing.T) {
	dir := t.TempDir()
	text, err := os.ReadFile(slipRecording(t))
	require.NoError(t, err)
	// In the craft's name too.
	text = append([]byte(`#session {"craft":{"name":"Heron\u001b[2J"},"what":1}`+"\n#ack x\n"), text...)
	path := filepath.Join(dir, "a\x1b[1m\x9b\u202e.bell")
	require.NoError(t, os.WriteFile(path, text, 0o600))
	for _, args := range [][]string{
		{"check", path}, {"check", path, path}, {"check", path + "\nhint: x"}, {"replay", "--plain", "--sound", "off", "--speed", "900", path},
		{"simulate", "no\nscenario"}, {"watch", "/dev/\x1bnowhere"}, {"chek\x1b"}, {"check", "--craft", "x\x1b", path}, {"check", "--\x1b"},
		{"simulate", "--pty=/nowhere/\x1b"}, {"sound", "--wav", "/nowhere/\x1b"}, {"help", "\x1b"}, {"watch", "--baud", "\x1b", "-"},
		{"watch", "-", "--sound", "\x1b"}, {"completion", "\x1b"}, {"ports", "\x1b"},
	} {
		var out, errs bytes.Buffer
		run(context.Background(), args, strings.NewReader(""), &out, &errs)
		for _, r := range out.String() + errs.String() {
			if r != '\n' && !unicode.IsPrint(r) {
				t.Errorf("%q prints %q:\n%q\n%q", args, r, out.String(), errs.String())
				break
			}
		}
		for line := range strings.Lines(errs.String()) {
			assert.True(t, strings.HasPrefix(line, "tetherbell: ") || strings.HasPrefix(line, "hint: "), "%q says %q", args, line)
		}
	}
}

// JSON carries a name as it is: its own escapes keep it apart.
func TestNamesInJSON(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a\x1b.bell")
	text, err := os.ReadFile(slipRecording(t))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, text, 0o600))
	var out, errs bytes.Buffer
	run(context.Background(), []string{"check", "--json", path}, nil, &out, &errs)
	assert.Contains(t, out.String(), `a\u001b.bell"`)
	assert.Empty(t, errs.String())
}

// Every error of a command line names the next step.
func TestEveryErrorHasAHint(t *testing.T) {
	dir := t.TempDir()
	bad := filepath.Join(dir, "bad.toml")
	require.NoError(t, os.WriteFile(bad, []byte("seconds = -1"), 0o600))
	for _, args := range [][]string{
		{"nope"}, {"--nope"}, {"help", "nope"}, {"completion", "tcsh"}, {"completion", "bash", "x"}, {"ports", "x"}, {"sound", "x"},
		{"sound", "--wav", filepath.Join(dir, "no", "a.wav")}, {"sound", "--wav", dir}, {"simulate", bad}, {"simulate", "a", "b"}, {"simulate", dir},
		{"simulate", "--pty=" + filepath.Join(dir, "no", "x")}, {"simulate", "--pty=" + bad}, {"check"}, {"check", dir}, {"check", "--craft", dir, "x"},
		{"check", "--craft", filepath.Join(dir, "no"), "x"}, {"check", "--craft", bad, "x"}, {"check", bad}, {"replay", "--speed", "x", "y"},
		{"watch"}, {"watch", "a", "b"}, {"watch", dir}, {"watch", "-", "--baud", "x"}, {"watch", "-", "--json", "--plain"}, {"demo", "--seed", "-1"},
	} {
		var out, errs bytes.Buffer
		code := run(context.Background(), args, strings.NewReader(""), &out, &errs)
		assert.Equal(t, exitTrouble, code, "%q", args)
		assert.Regexp(t, `^tetherbell: .+\nhint: .+\n$`, errs.String(), "%q", args)
		assert.NotContains(t, errs.String(), "strconv", "%q", args)
		assert.NotContains(t, errs.String(), "symlink", "%q", args)
		assert.Empty(t, out.String(), "%q", args)
	}
}

// Joined errors are told one by one, and an error's own line feed is no end.
func TestComplain(t *testing.T) {
	var errs bytes.Buffer
	complain(&errs, hinted(errors.Join(errors.New("read a\nb"), fmt.Errorf("write c: %w", os.ErrClosed)), "do d"))
	assert.Equal(t, "tetherbell: read a\\x0ab\ntetherbell: write c: file already closed\nhint: do d\n", errs.String())
}

func TestVerdict(t *testing.T) {
	event := func(ms int64, k detect.Kind, w detect.Where, c alarms.Change, p detect.Priority, action string) alarms.Event {
		return alarms.Event{T: ms * 1000, Kind: k, Where: w, Change: c, Priority: p, Story: detect.Story{Action: action}}
	}
	slip := event(5000, detect.SettingsSlip, detect.Craft, alarms.Raised, detect.Medium, "look at it")
	thrust := event(5030, detect.GroundThrust, detect.Craft, alarms.Raised, detect.High, "press stop")
	worse := event(5100, detect.SettingsSlip, detect.Craft, alarms.Worsened, detect.High, "press it")
	low := event(1000, detect.BadLink, detect.Link, alarms.Raised, detect.Low, "")
	for _, c := range []struct {
		name   string
		events []alarms.Event
		lacks  []string
		want   string
	}{
		{"calm", nil, nil, "nothing of medium or high priority"},
		{"low", []alarms.Event{low}, nil, "nothing of medium or high priority; read what is low before you go on"},
		{"the worst first", []alarms.Event{low, slip, thrust, worse}, nil,
			"HIGH priority: ground-thrust at craft, 5.030 s; first action: press stop; what rang before it: settings-slip at craft, 5.000 s"},
		{"it came first", []alarms.Event{thrust, slip}, nil, "HIGH priority: ground-thrust at craft, 5.030 s; first action: press stop"},
		{"the same grew worse", []alarms.Event{slip, worse}, nil, "HIGH priority: settings-slip at craft, 5.100 s; first action: press it"},
		{"medium", []alarms.Event{slip}, nil, "MEDIUM priority: settings-slip at craft, 5.000 s; first action: look at it"},
		{"half blind", nil, []string{"rising-oscillation", "tip-over"},
			"NOT FULLY WATCHED: rising-oscillation, tip-over; nothing of medium or high priority"},
		{"many", nil, []string{"rising-oscillation", "windup", "tip-over", "low-margin"},
			"NOT FULLY WATCHED: 4 of 27 kinds, rising-oscillation among them (no body rates); nothing of medium or high priority"},
		{"many, and the main one is watched", nil, []string{"windup", "tip-over", "low-margin", "pack-sag"},
			"NOT FULLY WATCHED: 4 of 27 kinds, see below; nothing of medium or high priority"},
		{"half blind and loud", []alarms.Event{thrust}, []string{"tip-over"},
			"NOT FULLY WATCHED: tip-over; HIGH priority: ground-thrust at craft, 5.030 s; first action: press stop"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var r rings
			sum := alarms.Summary{Lines: 10}
			for _, e := range c.events {
				r.keep([]alarms.Event{e})
				sum.Worst = max(sum.Worst, e.Priority)
			}
			for _, n := range c.lacks {
				sum.NotWatched = append(sum.NotWatched, alarms.Lack{Name: n, Why: "no body rates"})
			}
			lines := verdictLines("a.bell", &sum, r, &notes{}, nil)
			assert.Equal(t, "a.bell: "+c.want, lines[0])
			assert.Equal(t, len(c.lacks) > 0, strings.Contains(strings.Join(lines, "\n"), "not watched: "))
		})
	}
	lines := verdictLines("a.bell", &alarms.Summary{Lines: 9, NotWatched: []alarms.Lack{{Name: "over-current", Why: "no rated current in the craft file (rated_a)"}}}, rings{}, &notes{}, nil)
	assert.Equal(t, "a.bell: nothing of medium or high priority", lines[0], "nobody expects it to be watched")
	assert.Contains(t, lines[2], "rated_a")
	lines = verdictLines("-", &alarms.Summary{NotWatched: []alarms.Lack{{Name: "tip-over", Why: "no body rates"}}}, rings{}, &notes{}, nil)
	assert.Equal(t, "-: not one good line, so nothing was watched", lines[0])
	assert.Len(t, lines, 2)
}

func TestTellPorts(t *testing.T) {
	var out, errs bytes.Buffer
	con := &console{out: &out, err: &errs}
	require.NoError(t, tellPorts(con, []link.PortInfo{
		{Name: "/dev/ttyACM0", ID: "1234:5678", USB: "bridge\x1b"}, {Name: "/dev/ttyUSB0", Denied: true},
	}))
	assert.Regexp(t, `(?m)^/dev/ttyACM0 +1234:5678 +bridge\\x1b$`, out.String())
	assert.Regexp(t, `(?m)^/dev/ttyUSB0 +permission denied$`, out.String())
	assert.Equal(t, "hint: "+portHint(link.NoPermission)+"\n", errs.String())
	errs.Reset()
	require.NoError(t, tellPorts(con, nil))
	assert.Regexp(t, `^tetherbell: no serial port here\nhint: `, errs.String())
}

func TestSoundWords(t *testing.T) {
	assert.Equal(t, "nothing can be heard: no sound server", soundWords("no sound: no sound server"))
	assert.Equal(t, "sound: audio: default device", soundWords("audio: default device"))
	assert.Equal(t, "sound: off", soundWords("off"))
}
