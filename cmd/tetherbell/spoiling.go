package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"tetherbell/simulator/spoil"
)

// addFault adds the flag that spoils the line.
func (p *play) addFault(cmd *cobra.Command) {
	cmd.Flags().StringArrayVar(&p.fault, "fault", nil,
		"spoil the line: `"+spoil.Form+"`, as in flipped-bits=1e-3@10-20; may be given more than once. "+kindNames())
}

// kindNames names all kinds of fault.
func kindNames() string {
	var names []string
	for k := range spoil.KindCount {
		names = append(names, k.String())
	}
	return "Kinds: " + strings.Join(names, ", ")
}

// completeFault offers the kinds of fault to the shell, each with what its value
// means.
func completeFault(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	var out []string
	for k := range spoil.KindCount {
		a := k.About()
		out = append(out, cobra.CompletionWithDesc(fmt.Sprintf("%s=%v", a.Name, a.Usual), a.What+" ("+a.Unit+")"))
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}

// faultHelp explains the kinds of fault.
func faultHelp() string {
	var b strings.Builder
	b.WriteString("With --fault the line is spoilt on its way: KIND, =VALUE, and @FROM-TO in seconds\nsince the start. What is left out is as usual, from the start to the end:\n\n")
	for k := range spoil.KindCount {
		a := k.About()
		when := ""
		if a.Once {
			when = ", once, usually @10"
		}
		fmt.Fprintf(&b, "  %-14s %s (%s, usually %v%s)\n", a.Name, a.What, a.Unit, a.Usual, when)
	}
	return b.String()
}

// faults reads what was asked for.
func (p *play) faults() ([]spoil.Fault, error) {
	var out []spoil.Fault
	for _, text := range p.fault {
		f, err := spoil.Parse(text)
		if err != nil {
			hint := "it is written " + spoil.Form + ", as in --fault lost-bytes=1e-3@10-20; all kinds: tetherbell simulate --help"
			return nil, hinted(usagef("--fault %v", err), hint)
		}
		out = append(out, f)
	}
	return out, nil
}

// tellIdle tells of faults that did nothing. It is asked for once nothing is sent
// any more.
func (s *scenario) tellIdle(con *console) {
	if s.spoil == nil {
		return
	}
	for _, f := range s.spoil.Idle() {
		con.note("--fault %v did nothing: %s", f.Fault, f.Why)
	}
}

// A plug is a writer whose cable can be pulled.
type plug interface {
	io.Writer
	plugged(in bool) error
}

// A cord is a source that knows whether its cable is out.
type cord interface{ Away() bool }

// followCord pulls the writer's cable where the source's is out, and puts it back.
func followCord(src lineSource, w io.Writer) error {
	if sc, ok := src.(*scenario); ok {
		src = sc.lineSource
	}
	c, ok := src.(cord)
	if !ok {
		return nil
	}
	if p, ok := w.(plug); ok {
		return p.plugged(!c.Away())
	}
	return nil
}

// A socket is a pseudo-terminal that can go and come back, as an adapter does
// whose cable is pulled. Its bytes go through a dropWriter.
type socket struct {
	*pseudo
	link    string
	drops   *dropWriter
	dropped uint64
	moved   func(path string) error // it came back under another path
	out     bool
}

func newSocket(p *pseudo, link string, moved func(path string) error) *socket {
	return &socket{pseudo: p, link: link, drops: newDropWriter(p.master, p.discard), moved: moved}
}

// Write queues bytes; while the cable is out they are gone.
func (s *socket) Write(p []byte) (int, error) {
	if s.out {
		return len(p), nil
	}
	return s.drops.Write(p)
}

// plugged makes the pseudo-terminal go, or come back.
func (s *socket) plugged(in bool) error {
	if in != s.out {
		return nil
	}
	if s.out = !in; s.out {
		s.pseudo.discard() // frees a write that nobody reads
		s.drops.close()
		s.dropped += s.drops.dropped.Load()
		s.pseudo.close()
		return nil
	}
	p, err := openPseudo(s.link)
	if err != nil {
		return err
	}
	was := s.pseudo.path
	s.pseudo, s.drops = p, newDropWriter(p.master, p.discard)
	if p.path != was {
		return s.moved(p.path)
	}
	return nil
}

// end waits a little for what is queued and what is unread, and returns how many
// bytes nobody read.
func (s *socket) end(drain bool) uint64 {
	if s.out {
		return s.dropped
	}
	s.drops.close()
	if drain {
		s.drain()
	}
	s.pseudo.close()
	return s.dropped + s.drops.dropped.Load()
}
