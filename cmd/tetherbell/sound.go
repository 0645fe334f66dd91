package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"tetherbell/dashboard/sound"
)

func newSound(con *console) *cobra.Command {
	var wav, mode string
	cmd := &cobra.Command{
		Use:   "sound",
		Short: "Play each alarm pattern once, and say through what",
		Long: `Plays the patterns of high, medium and low priority once each and says what
makes the sound: the system's audio, or the terminal's bell where there is none.
With --wav they are written to a file and nothing is played.`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if wav != "" {
				if err := sound.WriteWAV(wav); err != nil {
					return hinted(err, "give a file in a folder that is there and may be written to")
				}
				con.note("wrote %s", wav)
				return nil
			}
			return playAll(cmd.Context(), con, mode)
		},
	}
	cmd.Flags().StringVar(&wav, "wav", "", "write the patterns to this `FILE` instead")
	cmd.Flags().StringVar(&mode, "sound", "auto", "what may be used: auto, bell or off")
	return cmd
}

// soundMode reads what --sound was given.
func soundMode(name string) (sound.Mode, error) {
	m, err := sound.ModeNamed(name)
	if err != nil {
		return m, hinted(usagef("%v", err), "one of: auto, bell, off")
	}
	return m, nil
}

// noSound begins what the player says when nothing can be heard.
const noSound = sound.Unheard

// playAll plays the patterns. Silence is an error, unless it was asked for:
// who tries the sound wants to know before the propellers turn.
func playAll(ctx context.Context, con *console, mode string) error {
	m, err := soundMode(mode)
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
	opts := sound.Options{Mode: m, Bell: terminalBell(con)}
	err = sound.PlayAll(ctx, opts, func(line string) {
		if why, ok := strings.CutPrefix(line, noSound); ok {
			silent, line = why, soundWords(line)
		} else if !strings.Contains(line, " pulses of ") {
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
	if why, ok := strings.CutPrefix(status, noSound); ok {
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
		Mode: m, Bell: strike, Speak: f.speak, Life: time.Duration(f.life * float64(time.Second)),
	})
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
