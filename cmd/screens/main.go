// Command screens keeps the dashboard as a real terminal shows it: it runs
// tetherbell in tmux on recordings of testdata/sessions, at a moment where
// they stand still, and writes what stands on the screen as text, or as
// pictures for the README.
//
// It needs tmux, and a Go toolchain to build tetherbell with.
package main

import (
	"flag"
	"fmt"
	"os"
)

const usage = `screens captures the dashboard from tmux, at 80x24, 140x45 and 200x60, calm, in
alarm, stale and paused, and writes it to dashboard/testdata/tmux. Run it in the
repository's first folder.

`

func main() {
	pictures := flag.Bool("pictures", false, "write the README's pictures (SVG) to testdata/pictures instead")
	flag.Usage = func() {
		fmt.Fprint(flag.CommandLine.Output(), usage)
		flag.PrintDefaults()
	}
	flag.Parse()
	if flag.NArg() > 0 {
		fmt.Fprintf(os.Stderr, "screens: unknown argument %q; see -help\n", flag.Arg(0))
		os.Exit(2)
	}
	write := writeScreens
	if *pictures {
		write = writePictures
	}
	if err := write("."); err != nil {
		fmt.Fprintln(os.Stderr, "screens:", err)
		os.Exit(1)
	}
}
