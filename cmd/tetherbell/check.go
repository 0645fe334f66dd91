package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"syscall"

	"github.com/spf13/cobra"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
	"tetherbell/decode/craft"
	"tetherbell/link"
)

func newCheck(con *console) *cobra.Command {
	var craftFile string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check FILE...",
		Short: "Judge recordings as fast as the machine can",
		Long: `Runs recordings through the same engine as a live watch: events, then a
verdict. What a person acknowledged on the day is fed back; nobody else
acknowledges. The craft in the recording's header is used unless --craft says
otherwise.

Exit status: 0 nothing of medium or high priority, 1 an alarm that ever was of
medium or high, 2 wrong use, unreadable, or no good line at all. With several
files the worst counts.`,
		Example: `  tetherbell check sessions/*.bell
  tetherbell check --json session.bell`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return hinted(usagef("check what?"), "name one or more recordings: tetherbell check FILE...")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			k := &checker{con: con, out: bufio.NewWriterSize(&whileRead{w: con.out}, 64<<10), json: asJSON, many: len(args) > 1}
			k.wide, k.high = sizeOf(con.out)
			if craftFile != "" {
				c, err := loadCraft(cmd.Context(), craftFile)
				if err != nil {
					return err
				}
				k.craft = &c
			}
			return k.checkAll(cmd.Context(), args)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "each event as a line of JSON, then the summary")
	cmd.Flags().StringVar(&craftFile, "craft", "", "judge by this craft `FILE` (TOML) instead of the recording's own")
	return cmd
}

// A checker judges recordings.
type checker struct {
	con   *console
	out   *bufio.Writer
	json  bool
	wide  int                                   // columns of the terminal it is told to; 0: none
	high  int                                   // its rows
	many  bool                                  // several files: every event names its file
	craft *craft.Craft                          // nil: the recording's own
	sits  func(d *desk, h *head, c craft.Craft) // before the first line; nil: nobody asks
	line  []byte
}

// checkAll judges one file after the other; the worst decides the exit code.
// A file that cannot be judged is said and does not hide the others.
func (k *checker) checkAll(ctx context.Context, files []string) error {
	for _, file := range files {
		worst, err := k.check(ctx, file)
		switch {
		case ctx.Err() != nil:
			return err
		case err != nil:
			if err := k.out.Flush(); err != nil {
				return err
			}
			complain(k.con.err, err)
			k.con.code = exitTrouble
		case worst >= detect.Medium:
			k.con.code = max(k.con.code, exitAlarm)
		}
	}
	return k.out.Flush()
}

// whileRead is an output whose reader may go, as head and grep -q do: what comes
// after goes nowhere. The exit status is the verdict, and whoever has read enough of
// the words still asks for that.
type whileRead struct {
	w    io.Writer
	gone bool
}

func (o *whileRead) Write(p []byte) (int, error) {
	if o.gone {
		return len(p), nil
	}
	n, err := o.w.Write(p)
	if errors.Is(err, syscall.EPIPE) {
		o.gone = true
		return len(p), nil
	}
	return n, err
}

// say tells a line to people, folded where they read it on a terminal.
func (k *checker) say(line string) { tellFolded(k.out, printable(line), k.wide) }

// check judges one file.
func (k *checker) check(ctx context.Context, file string) (detect.Priority, error) {
	f, err := openInput(ctx, file)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	s := link.NewSession(f)
	d, err := k.play(ctx, s, file, func(e []alarms.Event) { k.tell(e, file) })
	if err != nil {
		return 0, err
	}
	remarks(k.con, file, s, d)
	return k.close(f, s, file, d)
}

// play runs a recording through an engine and its scouts to its end.
func (k *checker) play(ctx context.Context, s *link.Session, file string, tell func([]alarms.Event)) (*desk, error) {
	var first link.Item
	err := s.Next(&first)
	h := headOf(&first) // the first line says what craft it was
	c := k.craftFor(&h, file)
	eng, scouts := alarms.NewScouted(c, h.options())
	d := deskOf(eng, nil, tell)
	d.useBridges(h.Sources)
	d.useCard(h.card(k.con, file))
	if k.sits != nil {
		k.sits(d, &h, c)
	}
	err = newRelay(s, scouts).run(ctx, d, &first, err)
	var fault *panicked
	switch {
	case errors.Is(err, io.EOF):
		return d, nil
	case errors.As(err, &fault):
		return nil, err
	}
	return nil, readError(ctx, "recording", file, err)
}

func (k *checker) craftFor(h *head, file string) craft.Craft {
	if k.craft != nil {
		return *k.craft
	}
	return h.craft(k.con, file)
}

// close tells the verdict.
func (k *checker) close(f *input, s *link.Session, file string, d *desk) (detect.Priority, error) {
	sum := d.eng.Summary()
	if k.json {
		k.line = sum.AppendJSON(k.line[:0], file)
		k.out.Write(append(k.line, '\n'))
	} else if d.good > 0 {
		for _, l := range inSight(d.verdict(file, &sum), k.wide, k.high) {
			k.say(l)
		}
	}
	if d.good == 0 {
		if err := damaged(file, f); err != nil {
			return 0, err
		}
		if s, ok := d.anySight(); ok {
			return 0, hinted(fmt.Errorf("read recording %s: no good line in it (%d bad): %s", file, d.bad, s.Kind), s.Action)
		}
		return 0, noGoodLine(file, f.Pipe(), s.Bytes() == 0, d.bad, d.causes[decode.OtherVersion])
	}
	return sum.Worst, k.out.Flush()
}

// noGoodLine says why a recording cannot be judged.
func noGoodLine(file string, pipe, empty bool, bad, otherVersion uint64) error {
	switch {
	case empty && pipe:
		return hinted(fmt.Errorf("read recording %s: nothing came through this pipe", file), "start what writes to it first, or give a file")
	case empty:
		return hinted(fmt.Errorf("read recording %s: it is empty", file), "a recording is made with: tetherbell watch PORT --record DIR")
	case otherVersion > 0:
		return hinted(fmt.Errorf("read recording %s: no good line in it; its bridge speaks another protocol version", file), "a newer tetherbell may read it")
	}
	return hinted(fmt.Errorf("read recording %s: no good line in it (%d bad)", file, bad), "is it a recording of a bench bridge?")
}

// remarks says what is odd about a recording.
func remarks(con *console, file string, s *link.Session, d *desk) {
	if d.good == 0 {
		return // one clear line says it all
	}
	for _, odd := range oddities(file, s, &d.notes) {
		con.note("%s", odd)
	}
}

// oddities words what is odd about a recording.
func oddities(file string, s *link.Session, n *notes) (out []string) {
	add := func(n uint64, format string) {
		if n > 0 {
			out = append(out, fmt.Sprintf(format, file, n))
		}
	}
	if err := s.Damage(); err != nil {
		out = append(out, fmt.Sprintf("%s is damaged: %v", file, err))
	}
	add(uint64(s.Torn()), "%s is torn: its last line (%d bytes without a line end) is dropped")
	if n.breaksOff() && !n.left {
		out = append(out, file+" has no end: what wrote it was cut off, found no room, or still writes")
	}
	add(n.lost, "%s lacks %d lines that could not be recorded on the day")
	add(n.strange, "%s has %d lines of the host that are not understood")
	add(s.Dropped(), "%s has lines that are far too long: %d bytes of them are not looked at")
	return out
}

// tell prints events.
func (k *checker) tell(events []alarms.Event, file string) {
	name := ""
	if k.many {
		name = file
	}
	for i := range events {
		if k.json {
			k.line = events[i].AppendJSON(k.line[:0], name)
			k.out.Write(append(k.line, '\n'))
			continue
		}
		line := events[i].Plain()
		if k.many {
			line = file + ": " + line
		}
		k.say(line)
	}
}
