// Command tetherbell watches a multirotor on its tether and rings before the
// limit.
//
// In come lines of a bench bridge: from a serial port, standard input, a
// recording, or the simulator. Out go a screen, a sound, events as text or
// JSON, and a recording. This package only ties the others together: what a
// line means, when an alarm rings and how it sounds is decided elsewhere.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"

	"tetherbell/decode/craft"
)

// version is what --version and recordings say.
const version = "0.1.0"

// Exit codes, as the command line promises them.
const (
	exitOK      = 0
	exitAlarm   = 1 // check: an alarm of medium or high priority
	exitTrouble = 2 // wrong use, unreadable input, or a fault of ours
)

func main() {
	ctx, stop := untilSignal(context.Background())
	// A reader that goes away is noticed by the write that fails: the signal
	// would end us before a recording is whole.
	signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE)
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// A console is where a command reads and writes.
type console struct {
	in       io.Reader
	out, err io.Writer
	code     int               // what a command that ran without error ends with
	known    *[]craft.Baseline // baselines kept by name, once they were looked for
}

// note tells something that is no error, on standard error.
func (c *console) note(format string, args ...any) {
	fmt.Fprintf(c.err, "tetherbell: %s\n", printable(fmt.Sprintf(format, args...)))
}

// say tells a line on standard output.
func (c *console) say(line string) { fmt.Fprintln(c.out, printable(line)) }

// hint tells the next step.
func (c *console) hint(text string) {
	if text != "" {
		fmt.Fprintf(c.err, "hint: %s\n", printable(text))
	}
}

// run is the program without its process: it returns the exit code.
func run(ctx context.Context, args []string, in io.Reader, out, errs io.Writer) (code int) {
	con := &console{in: in, out: out, err: errs}
	defer func() {
		if p := recover(); p != nil {
			complain(errs, newFault(p))
			code = exitTrouble
		}
	}()
	root := newRoot(con)
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errs)
	cmd, err := root.ExecuteContextC(ctx)
	switch {
	case err == nil:
		return con.code
	case errors.Is(err, syscall.EPIPE): // nobody reads on: a quiet end
		return con.code
	}
	if hintOf(err) == "" && !errors.Is(err, errInterrupted) {
		err = hinted(err, "see: "+cmd.CommandPath()+" --help")
	}
	complain(errs, err)
	return exitTrouble
}

// usagef words wrong use of a command.
func usagef(format string, args ...any) error { return fmt.Errorf(format, args...) }

func newRoot(con *console) *cobra.Command {
	root := &cobra.Command{
		Use:   "tetherbell",
		Short: "Hear a multirotor on its tether go wrong before it does",
		Long: `tetherbell watches a multirotor that is spun up on a tether or a stand, over
the serial port of its bench bridge, and rings before the limit is reached.

It advises. It is no certified safety device and it stops no motor.`,
		Example: `  tetherbell demo                     everything, with no hardware
  tetherbell watch /dev/ttyUSB0       the bench itself
  tetherbell check session.bell       a recording: what rang, and the verdict`,
		Version:           version,
		SilenceUsage:      true,
		SilenceErrors:     true,
		DisableAutoGenTag: true,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			return noCommand(cmd, args[0])
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SetVersionTemplate("tetherbell {{.Version}}\n" + buildText(buildInfo()))
	root.SuggestionsMinimumDistance = 2
	root.AddCommand(newDemo(con), newWatch(con), newReplay(con), newCheck(con),
		newReport(con), newExport(con), newSessions(con), newAccept(con), newSettings(con), newCraft(con), newCard(con), newSimulate(con), newPorts(con), newSound(con), newMan(con))
	completions(root)
	root.SetOut(con.out) // the library keeps it for the completion scripts
	ownWords(root)
	return root
}
