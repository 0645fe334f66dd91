// Command sweep shows, alarm by alarm, from which size of its cause on it
// rings, and how often sound craft ring. It prints the tables.
package main

import (
	"flag"
	"fmt"
	"os"
	"runtime"
	"time"

	"tetherbell/alarms/sweep"
)

const usage = `sweep plays every alarm's cause at growing sizes, at three stream rates, with
whole lines and with 5 % of them spoilt, and then sound craft with all stick
patterns, and prints the tables in markdown. As it stands it takes some twenty
minutes on two cores.

`

func main() {
	seeds := flag.Int("seeds", 3, "plays of each size and rate")
	seed := flag.Uint64("seed", 1, "first seed")
	kind := flag.String("alarm", "", "this alarm alone, by name")
	calm := flag.Int("calm", 20, "seeds of the sound craft; 0 leaves them out")
	flag.Usage = func() {
		fmt.Fprint(flag.CommandLine.Output(), usage)
		flag.PrintDefaults()
	}
	flag.Parse()
	if flag.NArg() > 0 {
		fmt.Fprintf(os.Stderr, "sweep: unknown argument %q; see -help\n", flag.Arg(0))
		os.Exit(2)
	}
	begin := time.Now()
	s := sweep.Study{Seeds: *seeds, Seed: *seed, Kind: *kind, Workers: runtime.NumCPU(), Note: func(what string) {
		fmt.Fprintf(os.Stderr, "%6.0f s  %s\n", time.Since(begin).Seconds(), what)
	}}
	err := s.Write(os.Stdout)
	if err == nil && *calm > 0 && *kind == "" {
		study := sweep.CalmStudy{Seeds: *calm, Seed: *seed, Workers: runtime.NumCPU()}
		var r sweep.CalmResult
		if r, err = study.Run(); err == nil {
			fmt.Println("### Sound craft")
			fmt.Println()
			r.Write(os.Stdout)
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "sweep:", err)
		os.Exit(1)
	}
}
