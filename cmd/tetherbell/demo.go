package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"tetherbell/link"
)

func newDemo(con *console) *cobra.Command {
	var f flags
	var p play
	cmd := &cobra.Command{
		Use:   "demo [SCENARIO]",
		Short: "The whole tool with no hardware",
		Long: `The simulator feeds a pseudo-terminal (where the system has none: a pipe) and
the monitor watches it as it would watch a bench. Ends when you quit; with
--plain or --json, when the scenario ends.

SCENARIO is one of: tetherbell simulate --list (gains-high when none is named),
a scenario file, or a recording.

With --hands you are the person of the scenario: what goes wrong in it stays,
but the stick is yours. ` + handsHelp + `

` + ordersHelp,
		Example: `  tetherbell demo
  tetherbell demo --hands --set gains.scale=0.5
  tetherbell demo --card first-run by-the-card
  tetherbell demo --plain --sound off calm`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) > 1 {
				return hinted(usagef("demo takes one scenario, not %d", len(args)), "tetherbell demo SCENARIO")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.check(cmd); err != nil {
				return err
			}
			if p.hands && f.form(con) != asScreen {
				return hinted(usagef("--hands takes its keys from the screen, and there is none"),
					"run it in a terminal, without --plain and --json")
			}
			return demo(cmd.Context(), con, nameOr(args, "gains-high"), &p, &f)
		},
	}
	p.addTo(cmd)
	f.addRecord(cmd)
	f.addCraft(cmd)
	f.addCard(cmd)
	f.addTo(cmd)
	return cmd
}

func demo(ctx context.Context, con *console, name string, p *play, f *flags) error {
	c, err := loadCraft(ctx, f.craft)
	if err != nil {
		return err
	}
	if f.craft == "" {
		c.Known = con.baselines(ctx)
	}
	sc, err := p.open(ctx, name)
	if err != nil {
		return err
	}
	defer sc.close()
	if f.craft == "" {
		c = sc.told
	}
	l := &live{con: con, name: "demo " + sc.title, file: "demo " + sc.title, hand: sc.hand, staged: true}
	if sc.moral != "" {
		l.parting = "leaving tells the lesson of " + printable(sc.title)
	}
	if l.card, err = loadCard(ctx, f.card); err != nil {
		return err
	}
	stage, err := l.setStage()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	over := make(chan struct{})
	sent := make(chan error, 1)
	// The simulator: ended by the scenario or ctx, waited for below.
	go func() {
		defer close(over)
		err := stage.play(ctx, sc)
		sent <- err
	}()
	l.src = &endingSource{source: l.src, over: over}
	err = l.watch(ctx, c, 0, f)
	cancel()
	<-over
	stage.close()
	if err == nil && sc.moral != "" { // after the run: a trainee shall find it first
		tellFolded(con.err, fmt.Sprintf("the lesson of %s: %s", printable(sc.title), sc.moral), columns(con.err))
	}
	sc.tellIdle(con)
	return errors.Join(err, <-sent)
}

// A stage is what the simulator plays on.
type stage struct {
	w     io.WriteCloser
	pty   *pseudo
	drops *dropWriter
}

// setStage makes a pseudo-terminal and opens it as a serial port, or a pipe
// where there is none.
func (l *live) setStage() (*stage, error) {
	p, err := openPseudo("")
	if err != nil {
		r, w, err := os.Pipe()
		if err != nil {
			return nil, err
		}
		l.src = r
		return &stage{w: w, drops: newDropWriter(w, nil)}, nil
	}
	port, err := link.OpenPort(p.path, link.DefaultBaud)
	if err != nil {
		p.close()
		return nil, err
	}
	l.src, l.port = port, port
	return &stage{pty: p, drops: newDropWriter(p.master, p.discard)}, nil
}

// play sends the scenario and waits until it is heard to its end.
func (s *stage) play(ctx context.Context, src lineSource) error {
	err := pump(ctx, src, s.drops, false)
	if ctx.Err() != nil && s.pty != nil {
		s.pty.discard() // nobody reads any more: frees a write under way
	}
	s.drops.close()
	if s.pty == nil {
		s.w.Close() // the reader of the pipe sees its end
		return err
	}
	if ctx.Err() == nil {
		s.pty.drain()
	}
	return err
}

func (s *stage) close() {
	if s.pty != nil {
		s.pty.close()
	}
}

// An endingSource ends a port with the scenario: once all was sent, the first
// read that brings nothing is the end.
type endingSource struct {
	source
	over <-chan struct{}
}

func (e *endingSource) Read(p []byte) (int, error) {
	ended := false
	select {
	case <-e.over:
		ended = true
	default:
	}
	n, err := e.source.Read(p)
	if ended && n == 0 && err == nil {
		return 0, io.EOF
	}
	return n, err
}
