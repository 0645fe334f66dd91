package main

import (
	"context"
	"fmt"

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
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if wav != "" {
				if err := sound.WriteWAV(wav); err != nil {
					return err
				}
				con.note("wrote %s", wav)
				return nil
			}
			m, err := sound.ModeNamed(mode)
			if err != nil {
				return hinted(usagef("%v", err), "one of: auto, bell, off")
			}
			opts := sound.Options{Mode: m, Bell: terminalBell(con)}
			return sound.PlayAll(cmd.Context(), opts, func(line string) { fmt.Fprintln(con.out, line) })
		},
	}
	cmd.Flags().StringVar(&wav, "wav", "", "write the patterns to this `FILE` instead")
	cmd.Flags().StringVar(&mode, "sound", "auto", "what may be used: auto, bell or off")
	return cmd
}

// openSound starts the sound of a monitor. With a screen its bell goes through
// the screen, else to the terminal that shows our messages.
func openSound(ctx context.Context, con *console, mode string, f form, bell chan<- struct{}) (*sound.Player, error) {
	m, err := sound.ModeNamed(mode)
	if err != nil {
		return nil, hinted(usagef("%v", err), "one of: auto, bell, off")
	}
	strike := terminalBell(con)
	if f == asScreen {
		strike = func() {
			select {
			case bell <- struct{}{}:
			default: // one stroke waits already
			}
		}
	}
	return sound.New(ctx, sound.Options{Mode: m, Bell: strike}), nil
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
