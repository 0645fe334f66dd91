package sweep

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"

	"tetherbell/alarms/detect"
)

// A Study says how much is played.
type Study struct {
	Seeds   int          // plays of each cell
	Seed    uint64       // the first
	Kind    string       // this alarm alone, by name; "" all
	Workers int          // plays at a time
	Note    func(string) // told before each case, may be nil
}

// A cell is one size at one rate, whole or spoilt.
type cell struct {
	seen, stray, deaf int // plays that rang, that rang elsewhere, that said not watched
	level             detect.Priority
	why               string
	stray1            string // one of them
}

// A Sweep is what came of one case: cells by size, then rate, then whole and
// spoilt.
type Sweep struct {
	Case  *Case
	Seeds int
	Cells [][][2]cell
}

// Run plays one case.
func (s *Study) Run(c *Case) (*Sweep, error) {
	out := &Sweep{Case: c, Seeds: s.Seeds, Cells: make([][][2]cell, len(c.Sizes))}
	type job struct{ size, rate, bad int }
	var jobs []job
	for i := range c.Sizes {
		out.Cells[i] = make([][2]cell, len(Rates))
		for r := range Rates {
			jobs = append(jobs, job{i, r, 0})
			if !c.Whole {
				jobs = append(jobs, job{i, r, 1})
			}
		}
	}
	todo := make(chan job)
	var group sync.WaitGroup
	var mu sync.Mutex
	var first error
	for range max(s.Workers, 1) {
		group.Go(func() {
			for j := range todo {
				k, err := s.cell(c, c.Sizes[j.size], Rates[j.rate], BadShare*float64(j.bad))
				mu.Lock()
				if err != nil && first == nil {
					first = err
				}
				out.Cells[j.size][j.rate][j.bad] = k
				mu.Unlock()
			}
		})
	}
	for _, j := range jobs {
		todo <- j
	}
	close(todo)
	group.Wait()
	return out, first
}

func (s *Study) cell(c *Case, size, rate, bad float64) (cell, error) {
	var k cell
	for seed := range s.Seeds {
		r, err := c.Play(size, rate, bad, s.Seed+uint64(seed))
		if err != nil {
			return k, err
		}
		if r.Seen {
			k.seen++
			k.level = max(k.level, r.Priority)
		}
		if r.Elsewhere != "" {
			k.stray++
			k.stray1 = r.Elsewhere
		}
		if r.NotWatched != "" {
			k.deaf++
			k.why = r.NotWatched
		}
	}
	return k, nil
}

// Faults lists what a sweep shows that must not be: a run without the fault
// that rang, a run with the largest one that did not and did not say why.
func (w *Sweep) Faults() []string {
	var out []string
	last := len(w.Cells) - 1
	for r, rate := range Rates {
		for bad := range 2 {
			if bad == 1 && w.Case.Whole {
				continue
			}
			at := fmt.Sprintf("%s, %s at %g a second, %s", w.Case.Kind, w.Case.Fault, rate, [...]string{"whole", "spoilt"}[bad])
			if k := &w.Cells[0][r][bad]; k.seen+k.stray > 0 {
				out = append(out, at+": rings without the fault "+k.stray1)
			}
			k := &w.Cells[last][r][bad]
			switch deaf := slices.Contains(w.Case.Deaf, rate); {
			case deaf && k.deaf < w.Seeds:
				out = append(out, at+": does not say that it cannot watch")
			case !deaf && k.seen < w.Seeds:
				out = append(out, fmt.Sprintf("%s: seen in %d of %d at size %g", at, k.seen, w.Seeds, w.Case.Sizes[last]))
			}
		}
	}
	return out
}

// Write prints a sweep as a table in markdown.
func (w *Sweep) Write(to io.Writer) {
	c := w.Case
	fmt.Fprintf(to, "### %s: %s\n\nScenario `%s`; at %s", c.Kind, c.Fault, c.Scenario, places(c.Where))
	if c.Cause != "" {
		fmt.Fprintf(to, ", cause \"%s\"", c.Cause)
	}
	fmt.Fprint(to, ".\n\n| size |")
	for _, rate := range Rates {
		fmt.Fprintf(to, " %g/s | 5 %% bad |", rate)
	}
	fmt.Fprint(to, "\n|---|"+strings.Repeat("---|", 2*len(Rates))+"\n")
	var whys []string
	for i, size := range c.Sizes {
		fmt.Fprintf(to, "| %g |", size)
		for r := range Rates {
			for bad := range 2 {
				k := &w.Cells[i][r][bad]
				if bad == 1 && c.Whole {
					fmt.Fprint(to, " |")
					continue
				}
				fmt.Fprintf(to, " %s |", k.words(w.Seeds))
				if k.deaf == w.Seeds && !slices.Contains(whys, k.why) {
					whys = append(whys, k.why)
				}
			}
		}
		fmt.Fprintln(to)
	}
	for _, why := range whys {
		fmt.Fprintf(to, "\nNot watched: %s.\n", why)
	}
	fmt.Fprintln(to)
}

func (k *cell) words(seeds int) string {
	s := "-"
	switch {
	case k.seen > 0:
		s = fmt.Sprintf("%d/%d %s", k.seen, seeds, k.level)
	case k.deaf == seeds:
		s = "not watched"
	}
	if k.stray > 0 {
		s += fmt.Sprintf(" (elsewhere %d)", k.stray)
	}
	return s
}

// places names where an alarm may be.
func places(w detect.Where) string {
	return strings.ReplaceAll(w.String(), "+", " or ")
}

// Write plays the cases and prints their tables, and what must not be at the
// end.
func (s *Study) Write(to io.Writer) error {
	var faults []string
	cases := Cases()
	for i := range cases {
		c := &cases[i]
		if s.Kind != "" && c.Kind.String() != s.Kind {
			continue
		}
		if s.Note != nil {
			s.Note(fmt.Sprintf("%s: %s", c.Kind, c.Fault))
		}
		w, err := s.Run(c)
		if err != nil {
			return err
		}
		w.Write(to)
		faults = append(faults, w.Faults()...)
	}
	for _, f := range faults {
		fmt.Fprintf(to, "* %s\n", f)
	}
	return nil
}
