// Command hearing measures how early, how surely and how falsely a rising
// oscillation is heard, beside three published detectors on the same drawn
// benches, and prints the tables.
package main

import (
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"tetherbell/alarms/hearing"
)

const usage = `hearing measures how early, how surely and how falsely a rising oscillation is
heard, beside three published detectors on the same drawn benches, and prints
the tables in markdown. As it stands it takes some five minutes on two cores; an
hour without cause takes 20 seconds.

`

func main() {
	growing := flag.Int("growing", 300, "growing runs on each background")
	hours := flag.Float64("hours", 5, "simulated hours without cause")
	fair := flag.Float64("fair", 2, "simulated hours that set the other detectors' thresholds")
	classes := flag.String("classes", "", "of the benches without cause these alone, by name, with commas between")
	fits := flag.Int("fits", 1000, "runs of each row of the estimator's table")
	seed := flag.Uint64("seed", 20_000_000, "first seed")
	pictures := flag.String("pictures", "", "folder for the pictures (SVG)")
	flag.Usage = func() {
		fmt.Fprint(flag.CommandLine.Output(), usage)
		flag.PrintDefaults()
	}
	flag.Parse()
	if flag.NArg() > 0 {
		fmt.Fprintf(os.Stderr, "hearing: unknown argument %q; see -help\n", flag.Arg(0))
		os.Exit(2)
	}
	begin := time.Now()
	var only []string
	if *classes != "" {
		only = strings.Split(*classes, ",")
	}
	for _, name := range only {
		if !slices.ContainsFunc(hearing.Classes, func(c hearing.Class) bool { return c.Name == name }) {
			fmt.Fprintf(os.Stderr, "hearing: no class of benches is called %q\n", name)
			os.Exit(2)
		}
	}
	s := hearing.Study{Classes: only, Growing: *growing, Hours: *hours, Fair: *fair, Fits: *fits, Seed: *seed, Note: func(what string) {
		fmt.Fprintf(os.Stderr, "%6.0f s  %s\n", time.Since(begin).Seconds(), what)
	}}
	if err := s.Run(os.Stdout, *pictures); err != nil {
		fmt.Fprintln(os.Stderr, "hearing:", err)
		os.Exit(1)
	}
}
