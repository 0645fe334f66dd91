package sweep

import (
	"fmt"
	"io"
	"sync"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode/craft"
	"tetherbell/simulator"
)

// CalmCraft are sound craft: what rings at medium or high in their sessions
// rings falsely. A name is a scenario, after it what makes it another craft.
var CalmCraft = [][]string{
	{"calm"},
	{"hexa"},
	{"tri"},
	{"calm", "craft.layout=quad-plus", "craft.mass_g=980", "craft.propeller=2x8.0x3.8", "craft.blades=2",
		"craft.propeller_mm=203", "craft.diagonal_mm=380", "craft.hold=stand"},
}

// A Pattern is what a person does with the sticks while the throttle stands.
type Pattern struct {
	Name string
	// Act adds the events between two times.
	Act func(sc *simulator.Scenario, from, to float64)
}

// move adds a movement of a stick.
func move(sc *simulator.Scenario, stick string, at, to, over float64) {
	sc.Events = append(sc.Events, simulator.Event{At: at, Do: stick, To: to, Over: over})
}

var sticks = []string{"roll", "pitch", "yaw"}

// Patterns are the stick patterns of the calm sessions.
var Patterns = []Pattern{
	{"none", func(*simulator.Scenario, float64, float64) {}},
	{"small steps, axis by axis", func(sc *simulator.Scenario, from, to float64) {
		for i, at := 0, from; at+1.5 < to; i, at = i+1, at+1.5 {
			s, v := sticks[i%3], []float64{0.05, -0.05}[i/3%2]
			move(sc, s, at, v, 0.1)
			move(sc, s, at+0.6, 0, 0.1)
		}
	}},
	{"steps held for two seconds", func(sc *simulator.Scenario, from, to float64) {
		for i, at := 0, from; at+4 < to; i, at = i+1, at+4 {
			s, v := sticks[i%3], []float64{0.04, -0.04}[i/3%2]
			move(sc, s, at, v, 0.3)
			move(sc, s, at+2, 0, 0.3)
		}
	}},
	{"stirring, roll and pitch", func(sc *simulator.Scenario, from, to float64) {
		for i, at := 0, from; at+0.4 < to; i, at = i+1, at+0.4 {
			move(sc, "roll", at, []float64{0.06, 0, -0.06, 0}[i%4], 0.35)
			move(sc, "pitch", at, []float64{0, 0.06, 0, -0.06}[i%4], 0.35)
		}
		move(sc, "roll", to, 0, 0.2)
		move(sc, "pitch", to, 0, 0.2)
	}},
	{"taps to and fro", func(sc *simulator.Scenario, from, to float64) {
		for i, at := 0, from; at+2 < to; i, at = i+1, at+2 {
			s := sticks[i%3]
			move(sc, s, at, 0.08, 0.05)
			move(sc, s, at+0.15, -0.08, 0.05)
			move(sc, s, at+0.3, 0, 0.05)
		}
	}},
	{"throttle up and down", func(sc *simulator.Scenario, from, to float64) {
		top := sc.Events[topThrottle(sc)].To
		for at := from; at+4 < to; at += 4 {
			move(sc, "throttle", at, top*0.7, 0.8)
			move(sc, "throttle", at+2, top, 0.8)
		}
	}},
}

// topThrottle is the event that brings the throttle up the highest.
func topThrottle(sc *simulator.Scenario) int {
	best := -1
	for i := range sc.Events {
		if e := &sc.Events[i]; e.Do == "throttle" && (best < 0 || e.To > sc.Events[best].To) {
			best = i
		}
	}
	return best
}

// Calm makes the session of a craft and a pattern: the scenario's own sticks
// are left out.
func Calm(c []string, p *Pattern) (simulator.Scenario, error) {
	sc, err := simulator.Load(c[0])
	if err != nil {
		return sc, fmt.Errorf("load %s: %w", c[0], err)
	}
	for _, set := range c[1:] {
		if err := sc.Set(set); err != nil {
			return sc, fmt.Errorf("set %s: %w", set, err)
		}
	}
	kept := sc.Events[:0]
	for _, e := range sc.Events {
		if e.Do != "roll" && e.Do != "pitch" && e.Do != "yaw" {
			kept = append(kept, e)
		}
	}
	sc.Events = kept
	up := sc.Events[topThrottle(&sc)]
	down := sc.Seconds
	for _, e := range sc.Events {
		if e.Do == "throttle" && e.At > up.At {
			down = min(down, e.At)
		}
	}
	p.Act(&sc, up.At+up.Over+1, down-1)
	return sc, sc.Check()
}

// A CalmStudy says how much of it is played.
type CalmStudy struct {
	Seeds   int // of each craft and pattern
	Seed    uint64
	Workers int
}

// A CalmResult is what it came to.
type CalmResult struct {
	Hours  float64
	Runs   int
	Loud   []string // medium and high alarms, each false
	Counts [detect.KindCount][detect.High + 1]int
}

// Run plays all craft and patterns.
func (s *CalmStudy) Run() (CalmResult, error) {
	type job struct {
		c    []string
		p    *Pattern
		seed uint64
	}
	var (
		out   CalmResult
		mu    sync.Mutex
		first error
		group sync.WaitGroup
		todo  = make(chan job)
	)
	for range max(s.Workers, 1) {
		group.Go(func() {
			for j := range todo {
				sc, err := Calm(j.c, j.p)
				if err != nil {
					mu.Lock()
					first = err
					mu.Unlock()
					continue
				}
				events, sum := Play(sc, craft.Craft{Hold: craft.Hold(sc.Craft.Hold), HoldRatedN: 60}, j.seed)
				mu.Lock()
				out.take(fmt.Sprintf("%v, %s, seed %d", j.c, j.p.Name, j.seed), events, sum)
				mu.Unlock()
			}
		})
	}
	for seed := range s.Seeds {
		for _, c := range CalmCraft {
			for i := range Patterns {
				todo <- job{c, &Patterns[i], s.Seed + uint64(seed)}
			}
		}
	}
	close(todo)
	group.Wait()
	return out, first
}

func (r *CalmResult) take(name string, events []alarms.Event, sum alarms.Summary) {
	r.Runs++
	r.Hours += float64(sum.Duration) / 3600e6
	for i := range events {
		e := &events[i]
		if e.Change != alarms.Raised && e.Change != alarms.Worsened {
			continue
		}
		r.Counts[e.Kind][e.Priority]++
		if e.Priority >= detect.Medium {
			r.Loud = append(r.Loud, name+": "+e.Plain())
		}
	}
}

// Write prints the result in markdown.
func (r *CalmResult) Write(to io.Writer) {
	fmt.Fprintf(to, "%d sessions, %.1f h, %d craft, %d stick patterns: %d medium or high alarms.\n\n", r.Runs, r.Hours, len(CalmCraft), len(Patterns), len(r.Loud))
	fmt.Fprint(to, "| alarm | note | low | medium | high |\n|---|---|---|---|---|\n")
	for k := range r.Counts {
		n := &r.Counts[k]
		if n[detect.Note]+n[detect.Low]+n[detect.Medium]+n[detect.High] > 0 {
			fmt.Fprintf(to, "| %s | %d | %d | %d | %d |\n", detect.Kind(k), n[detect.Note], n[detect.Low], n[detect.Medium], n[detect.High])
		}
	}
	fmt.Fprintln(to)
	for _, l := range r.Loud {
		fmt.Fprintf(to, "* %s\n", l)
	}
}
