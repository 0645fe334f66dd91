package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"tetherbell/link"
	"tetherbell/simulator"
)

// ptyAlone is the value of --pty that asks for no link. A link of that name
// is given as ./true.
const ptyAlone = "true"

// A ptyValue is what --pty was given. It passes for a switch, so that the help
// text shows it as one.
type ptyValue string

func (p *ptyValue) String() string     { return string(*p) }
func (p *ptyValue) Set(v string) error { *p = ptyValue(v); return nil }
func (p *ptyValue) Type() string       { return "bool" }

func newSimulate(con *console) *cobra.Command {
	s := &simulation{con: con}
	cmd := &cobra.Command{
		Use:   "simulate [SCENARIO]",
		Short: "Stand in for the bench bridge",
		Long: `Sends the lines of a bench bridge, at their own pace, to standard output, a
pseudo-terminal or a serial port, and ends with the scenario. The same seed
gives the same bytes.

SCENARIO is one of --list (calm when none is named), a scenario file (TOML), or
a recording, whose lines are played as the bridge sent them.

With --pty the path of the pseudo-terminal is the first line of output; with
--pty=LINK it can also be reached by LINK, which keeps its name when the
simulator is started again.

With --pty2 there are two bridges, one on the craft and one on the stand: load,
temperatures and pack come from the second, whose clock is its own. The paths
are the first two lines of output.

With --hands you are the person of the scenario: what goes wrong in it stays,
but the stick is yours. It takes the keys of this terminal, so the lines go to
--pty or --port. ` + handsHelp + "\n\n" + faultHelp(),
		Example: `  tetherbell simulate --list
  tetherbell simulate --pty=/tmp/bench gains-high
  tetherbell simulate --fast --seed 7 calm > calm.bell
  tetherbell simulate --set craft.mass_g=900 --set gains.scale=1.3 calm
  tetherbell simulate --pty=/tmp/craft --pty2=/tmp/stand gains-high
  tetherbell simulate --hands --pty=/tmp/bench gains-high
  tetherbell simulate --pty=/tmp/bench --fault unplugged=3@12 --fault clock-drift=800 calm`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) > 1 {
				return hinted(usagef("simulate takes one scenario, not %d", len(args)), "a link is given as --pty=LINK, with the equals sign")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := notBoth(cmd, "pty", "port"); err != nil {
				return err
			}
			if cmd.Flags().Changed("pty") && s.pty == "" {
				return hinted(usagef("--pty= lacks the name of the link"), "--pty alone makes no link; --pty=LINK does")
			}
			if s.list {
				return listScenarios(con.out)
			}
			if err := s.checkSecond(); err != nil {
				return err
			}
			if err := s.checkHands(); err != nil {
				return err
			}
			return s.run(cmd.Context(), nameOr(args, "calm"))
		},
	}
	fl := cmd.Flags()
	fl.Var((*ptyValue)(&s.pty), "pty", "make a pseudo-terminal; --pty=LINK makes a link to it too")
	fl.Lookup("pty").NoOptDefVal = ptyAlone
	fl.Var((*ptyValue)(&s.pty2), "pty2", "make a pseudo-terminal for a second bridge; --pty2=LINK makes a link to it too")
	fl.Lookup("pty2").NoOptDefVal = ptyAlone
	fl.StringVar(&s.tags2, "tags2", "load,temp,pack", "`STREAMS` that the second bridge sends")
	fl.Float64Var(&s.ppm2, "ppm2", 30, "so many millionths is the second bridge's clock fast")
	fl.StringVar(&s.port, "port", "", "send to this serial `PORT`")
	fl.IntVar(&s.baud, "baud", link.DefaultBaud, "of the serial port, 8N1")
	fl.BoolVar(&s.list, "list", false, "list the scenarios")
	fl.BoolVar(&s.fast, "fast", false, "not paced: as fast as the reader takes it")
	s.addTo(cmd)
	return cmd
}

func nameOr(args []string, name string) string {
	if len(args) > 0 {
		return args[0]
	}
	return name
}

func listScenarios(out io.Writer) error {
	w := tabwriter.NewWriter(out, 0, 8, 2, ' ', 0)
	for _, s := range simulator.List() {
		fmt.Fprintf(w, "%s\t%s\n", s.Name, s.Lesson)
	}
	return w.Flush()
}

// A simulation is what simulate was asked for.
type simulation struct {
	con       *console
	pty, port string
	pty2      string // of a second bridge
	tags2     string
	ppm2      float64
	baud      int
	list      bool
	fast      bool
	play
}

func (s *simulation) run(ctx context.Context, name string) error {
	src, err := s.open(ctx, name)
	if err != nil {
		return err
	}
	defer src.close()
	switch {
	case s.pty != "":
		err = s.toPseudo(ctx, src)
	case s.port != "":
		err = s.toPort(ctx, src)
	case s.fast:
		out := bufio.NewWriterSize(s.con.out, 64<<10)
		err = errors.Join(pump(ctx, src, out, true), out.Flush())
	default:
		err = pump(ctx, src, s.con.out, false)
	}
	src.tellIdle(s.con)
	if err == nil && src.tape != nil && src.tape.err != nil {
		err = readError(ctx, "recording", name, src.tape.err)
	}
	return err
}

func (s *simulation) toPseudo(ctx context.Context, src *scenario) error {
	linkPath := s.pty
	if linkPath == ptyAlone {
		linkPath = ""
	}
	p, err := openPseudo(linkPath)
	if err != nil {
		return err
	}
	told := func(path string) error {
		if _, err := fmt.Fprintln(s.con.out, path); err != nil {
			return fmt.Errorf("tell the path: %w", err)
		}
		return nil
	}
	if err := told(p.path); err != nil {
		p.close()
		return err
	}
	if s.pty2 != "" {
		return s.toBoth(ctx, src, p)
	}
	if s.fast { // as fast as it is read: nothing may be dropped
		defer p.close()
		stop := context.AfterFunc(ctx, func() { p.discard() }) // frees a write that nobody reads
		defer stop()
		err = pump(ctx, src, p.master, true)
		if ctx.Err() == nil {
			p.drain()
		}
		return err
	}
	plug := newSocket(p, linkPath, told)
	err = s.steered(ctx, src, func(ctx context.Context) error { return pump(ctx, src, plug, false) })
	s.tellDropped(plug.end(ctx.Err() == nil))
	return err
}

func (s *simulation) toPort(ctx context.Context, src *scenario) error {
	port, err := link.OpenSender(s.port, s.baud)
	if err != nil {
		return err
	}
	defer port.Close()
	d := newDropWriter(port, nil)
	err = s.steered(ctx, src, func(ctx context.Context) error { return pump(ctx, src, d, s.fast) })
	d.close()
	s.tellDropped(d.dropped.Load())
	return err
}

func (s *simulation) tellDropped(n uint64) {
	if n > 0 {
		s.con.note("%d bytes were dropped: nobody read them", n)
	}
}
