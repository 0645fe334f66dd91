package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"tetherbell/dashboard/sound"
	"tetherbell/decode/craft"
)

// tryout is what the sound command was asked for.
type tryout struct {
	wav, mode     string
	level         bool
	times, blades int
	rotors        float64 // Hz
}

func newSound(con *console) *cobra.Command {
	var t tryout
	cmd := &cobra.Command{
		Use:   "sound",
		Short: "Play each alarm pattern once, and say through what",
		Long: `Plays the patterns of high, medium and low priority once each and says what
makes the sound: the system's audio, or the terminal's bell where there is none.
With --wav they are written to a file and nothing is played.

With --level the high pattern is played every few seconds, until you interrupt
it, to set the amplifier by. With --rotors the patterns have the pitches that
they would have among rotors of that speed.`,
		Example: `  tetherbell sound
  tetherbell sound --level
  tetherbell sound --rotors 180 --blades 3`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := t.check(cmd); err != nil {
				return err
			}
			switch {
			case t.wav != "":
				if err := maySound(t.wav); err != nil {
					return err
				}
				if err := sound.WriteWAV(t.wav); err != nil {
					return hinted(err, "give a file in a folder that is there and may be written to")
				}
				con.note("wrote %s", t.wav)
				return nil
			case t.level:
				return t.setLevel(cmd.Context(), con)
			}
			return t.playAll(cmd.Context(), con)
		},
	}
	cmd.Flags().StringVar(&t.wav, "wav", "", "write the patterns to this `FILE` instead")
	cmd.Flags().StringVar(&t.mode, "sound", "auto", "what may be used: auto, bell or off")
	cmd.Flags().BoolVar(&t.level, "level", false, "repeat the high pattern, to set the amplifier by")
	cmd.Flags().IntVar(&t.times, "times", 0, "with --level: so many times; 0 until interrupted")
	cmd.Flags().Float64Var(&t.rotors, "rotors", 0, "choose pitches for rotors of this speed, turns a second (`HZ`)")
	cmd.Flags().IntVar(&t.blades, "blades", 0, "with --rotors: blades of a propeller, 0 where not known")
	return cmd
}

// check refuses what cannot be meant.
func (t *tryout) check(cmd *cobra.Command) error {
	set := cmd.Flags().Changed
	switch {
	case set("rotors") && !(t.rotors >= 5 && t.rotors <= 2000):
		return hinted(usagef("rotors of %v Hz are not within 5 to 2000", t.rotors), "turns a second: 10800 a minute are --rotors 180")
	case set("blades") && !(t.blades >= craft.MinBlades && t.blades <= craft.MaxBlades):
		return hinted(usagef("%d blades are not within %d to %d", t.blades, craft.MinBlades, craft.MaxBlades), "count those of one propeller")
	case set("blades") && !set("rotors"):
		return hinted(usagef("--blades is of no use without --rotors"), "tetherbell sound --rotors 180 --blades 3")
	case set("times") && !t.level:
		return hinted(usagef("--times is of no use without --level"), "tetherbell sound --level --times 5")
	case t.times < 0:
		return hinted(usagef("a pattern cannot be played %d times", t.times), "tetherbell sound --level --times 5")
	}
	if err := notBoth(cmd, "wav", "level"); err != nil {
		return err
	}
	return notBoth(cmd, "wav", "rotors")
}

// maySound refuses to write sounds over a file that is none, such as the only
// recording of a run. What else is wrong with the place is told as it is written.
func maySound(path string) error {
	s, err := os.Stat(path)
	if err != nil || !s.Mode().IsRegular() || s.Size() == 0 {
		return nil
	}
	head, err := headOfFile(path)
	if err == nil && !(bytes.HasPrefix(head, []byte("RIFF")) && bytes.HasPrefix(head[min(8, len(head)):], []byte("WAVE"))) {
		err = errors.New("a file is there that is no WAV")
	}
	if err != nil {
		return hinted(fmt.Errorf("write sounds to %s: %w", path, err), "name another file, or remove that one first")
	}
	return nil
}

// options are those of a player that tries the sound.
func (t *tryout) options(con *console, m sound.Mode) sound.Options {
	opts := sound.Options{Mode: m, Bell: terminalBell(con), Blades: t.blades}
	if t.rotors > 0 {
		opts.Rotors = []float64{t.rotors}
	}
	return opts
}

// soundMode reads what --sound was given.
func soundMode(name string) (sound.Mode, error) {
	m, err := sound.ModeNamed(name)
	if err != nil {
		return m, hinted(usagef("%v", err), "one of: auto, bell, off")
	}
	return m, nil
}

// levelHelp is told before a level test. The 15 dB and the 65 dB are those of
// ISO 7731 (secondary source, from memory); 100 dB is common practice, no
// source.
const levelHelp = `This plays the high pattern again and again, for you to set its level.
1. Nobody in danger: craft tethered, nobody in the plane of the propellers,
   stop switch in the hand. Then let the propellers spin as loud as they will.
2. The level is that of your own amplifier: turn it up until the alarm stands
   clearly over everything else, by at least 15 dB.
3. With a sound level meter (A-weighted, fast, where your head will be): measure
   the propellers alone, then the alarm alone with the propellers still. The
   alarm must read at least 15 dB more, and at least 65 dB.
4. Hearing protection stays on, and you must hear the alarm with it. If that
   takes more than 100 dB or so, wear the alarm in a headset instead.
`

// setLevel repeats the high pattern for a person who sets the amplifier.
func (t *tryout) setLevel(ctx context.Context, con *console) error {
	return t.play(con, func(opts sound.Options, say func(string)) error {
		for line := range strings.Lines(levelHelp) {
			say(strings.TrimSuffix(line, "\n"))
		}
		if t.rotors > 0 {
			high := sound.Choices(opts.Rotors, opts.Blades)[0]
			say(fmt.Sprintf("pitch among these rotors: %.0f Hz", high.Pitch))
		}
		n, err := sound.PlayLevel(ctx, opts, t.times, say)
		if n > 0 {
			say(fmt.Sprintf("bursts played: %d", n))
		}
		return err
	})
}

// playAll plays the patterns.
func (t *tryout) playAll(ctx context.Context, con *console) error {
	return t.play(con, func(opts sound.Options, say func(string)) error {
		return sound.PlayAll(ctx, opts, say)
	})
}

// play has something played. Silence is an error, unless it was asked for: who
// tries the sound wants to know before the propellers turn.
func (t *tryout) play(con *console, play func(opts sound.Options, say func(string)) error) error {
	m, err := soundMode(t.mode)
	if err != nil {
		return err
	}
	if m == sound.Off {
		con.say("nothing is played: the sound is off")
		return nil
	}
	end := "\n"
	if _, ok := asTerminal(con.out); ok {
		end = "\r\n" // right also on a terminal that a program left in raw mode
	}
	var silent string // why nothing was heard at the last look
	err = play(t.options(con, m), func(line string) {
		if why, ok := strings.CutPrefix(line, sound.Unheard); ok {
			silent, line = why, soundWords(line)
		} else if strings.HasPrefix(line, sound.Heard) || strings.HasPrefix(line, sound.Rung) {
			silent = ""
		}
		fmt.Fprint(con.out, printable(line), end)
	})
	if errors.Is(err, context.Canceled) {
		return errInterrupted
	}
	if err != nil || silent == "" {
		return err
	}
	return hinted(fmt.Errorf("play the patterns: no sound came (%s)", silent),
		"run it in a terminal, whose bell can ring, or where the system's audio works")
}

// soundWords words the player's status for a line of its own.
func soundWords(status string) string {
	if why, ok := strings.CutPrefix(status, sound.Unheard); ok {
		return "nothing can be heard: " + why
	}
	return "sound: " + status
}

// openSound starts the sound of a monitor. With a screen its bell goes through
// the screen, else to the terminal that shows our messages.
func (a *audience) openSound(ctx context.Context, con *console, f *flags, bell chan<- struct{}) error {
	m, err := soundMode(f.sound)
	if err != nil {
		return err
	}
	strike := terminalBell(con)
	if a.form == asScreen {
		strike = func() {
			select {
			case bell <- struct{}{}:
			default: // one stroke waits already
			}
		}
	}
	a.tick, a.speak = f.tick, f.speak && m != sound.Off
	a.sound = sound.New(ctx, sound.Options{
		Mode: m, Bell: strike, Speak: f.speak, Life: time.Duration(f.life * float64(time.Second)), Watch: a.watch,
	})
	a.announce = announceBy(a.sound)
	return nil
}

// terminalBell rings the terminal that shows our messages; nil where they go
// to no terminal.
func terminalBell(con *console) func() {
	for _, w := range []any{con.err, con.out} {
		if f, ok := asTerminal(w); ok {
			return func() { _, _ = f.WriteString("\a") }
		}
	}
	return nil
}
