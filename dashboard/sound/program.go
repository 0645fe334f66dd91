package sound

import (
	"bytes"
	"context"
	"errors"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"
	"unicode"
)

// A program is one that speaks, on this system.
type program struct {
	name string // as people are told it
	path string
	args []string // before the text
	pipe bool     // the text goes to its standard input, not behind args
}

// programs lists what may speak on a system, the best first. The text is an
// argument of its own or standard input: no shell ever reads it.
func programs(system string) []program {
	switch system {
	case "darwin":
		return []program{{name: "say"}}
	case "windows":
		return []program{{name: "powershell", pipe: true, args: []string{
			"-NoLogo", "-NoProfile", "-NonInteractive", "-Command",
			"Add-Type -AssemblyName System.Speech; " +
				"(New-Object System.Speech.Synthesis.SpeechSynthesizer).Speak([Console]::In.ReadToEnd())",
		}}}
	}
	return []program{
		{name: "espeak-ng", args: []string{"-v", "en", "--"}},
		{name: "espeak", args: []string{"-v", "en", "--"}},
		{name: "spd-say", args: []string{"--wait", "--language", "en", "--"}},
	}
}

// findProgram looks for a program that speaks; the name is empty where there
// is none.
func findProgram() program {
	for _, p := range programs(runtime.GOOS) {
		path, err := exec.LookPath(p.name)
		if err == nil && filepath.IsAbs(path) {
			p.path = path
			return p
		}
	}
	return program{}
}

// noProgram says what is missing.
func noProgram(system string) string {
	var names []string
	for _, p := range programs(system) {
		names = append(names, p.name)
	}
	return "no speech program (" + strings.Join(names, ", ") + ")"
}

// utter speaks a text to its end or that of ctx.
func (p program) utter(ctx context.Context, text string) error {
	args := p.args
	if !p.pipe {
		args = append(append([]string(nil), args...), text)
	}
	cmd := exec.CommandContext(ctx, p.path, args...)
	cmd.WaitDelay = 500 * time.Millisecond
	wholeFamily(cmd)
	if p.pipe {
		cmd.Stdin = bytes.NewReader([]byte(text))
	}
	begin := time.Now()
	if err := cmd.Run(); err != nil {
		return err
	}
	if time.Since(begin) < tooQuick {
		return errMute
	}
	return nil
}

// tooQuick is less than any word takes: a program that ends as soon has said
// nothing. One of them was seen to do so, in peace, on a machine without audio.
const tooQuick = 100 * time.Millisecond

var errMute = errors.New("it ends at once: has it an output?")

// spokenLimit is the most letters that are spoken at a time: some six seconds.
const spokenLimit = 100

// spoken cleans a text for a speech program: letters, digits, blanks and the
// stops between phrases. It never begins with a sign that a program could take
// for an option.
func spoken(text string) string {
	var b strings.Builder
	n := 0
	for _, r := range text {
		switch {
		case n >= spokenLimit:
		case unicode.IsLetter(r), unicode.IsDigit(r):
			b.WriteRune(r)
			n++
		case n == 0:
		case r == '.' || r == ',' || r == '%':
			b.WriteRune(r)
			n++
		case r == ';' || r == ':':
			b.WriteByte('.')
			n++
		case !strings.HasSuffix(b.String(), " "):
			b.WriteByte(' ')
			n++
		}
	}
	return strings.TrimSpace(b.String())
}
