// Command release builds what people download: for each platform an archive
// with the program, its manual page, shell completions and papers, and the
// checksums of all.
//
// The same commit gives the same bytes, in any folder, on any day, for anybody
// who has the same version of Go: the program is built from a clone of the
// commit, with settings that are all said here, and an archive holds nothing of
// the machine that made it. So whoever doubts an archive can make it again.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
)

const usage = `release builds the archives of a release, for all platforms or those named with
-platforms, and SHA256SUMS. It takes the commit that is checked out, and
refuses where files differ from it.

SOURCE_DATE_EPOCH, where it is set, is the time of all files in the archives and
of the manual page, in the place of the commit's.

`

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	err := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	switch {
	case errors.Is(err, flag.ErrHelp):
	case err != nil:
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string, out, errs io.Writer) error {
	j := job{tree: ".", epoch: os.Getenv("SOURCE_DATE_EPOCH"), say: func(format string, args ...any) {
		fmt.Fprintf(out, format+"\n", args...)
	}}
	fl := flag.NewFlagSet("release", flag.ContinueOnError)
	fl.SetOutput(errs)
	fl.StringVar(&j.out, "o", "dist", "write into this `folder`")
	names := fl.String("platforms", "", "only these, as in linux/amd64,linux/arm")
	fl.BoolVar(&j.dirty, "dirty", false, "build the files as they lie here, committed or not; not to be handed on")
	fl.Usage = func() {
		fmt.Fprint(fl.Output(), usage)
		fl.PrintDefaults()
	}
	if err := fl.Parse(args); err != nil {
		return err
	}
	if fl.NArg() > 0 {
		return fmt.Errorf("unknown argument %q; see -help", fl.Arg(0))
	}
	var err error
	if j.platforms, err = choose(*names); err != nil {
		return err
	}
	return j.run(ctx)
}

// choose finds platforms by name, all where none is named.
func choose(names string) ([]platform, error) {
	if names == "" {
		return platforms, nil
	}
	var list []platform
next:
	for name := range strings.SplitSeq(names, ",") {
		for _, p := range platforms {
			if p.system+"/"+p.processor == name {
				list = append(list, p)
				continue next
			}
		}
		var all []string
		for _, p := range platforms {
			all = append(all, p.system+"/"+p.processor)
		}
		return nil, fmt.Errorf("no platform %q; there are %s", name, strings.Join(all, ", "))
	}
	return list, nil
}
