package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tetherbell/decode/craft"
	"tetherbell/simulator"
	"tetherbell/simulator/spoil"
)

// A scenario is lines to be sent: simulated ones, or those of a recording.
type scenario struct {
	lineSource
	title string
	told  craft.Craft    // what the scenario knows of the hold-down: no line tells it
	moral string         // what there is to learn; "" for a recording
	tape  *tape          // nil: simulated
	hand  *trainee       // nil: the scenario's own person, or a recording's
	spoil *spoil.Spoiler // nil: the line is sound
	file  io.Closer
}

func (s *scenario) close() {
	if s.file != nil {
		s.file.Close()
	}
}

// A play is how a scenario shall be played.
type play struct {
	seed  uint64
	set   []string // NAME=VALUE
	hands bool     // a trainee is at the stick
	fault []string // what the line suffers, as spoil.Form
}

func (p *play) addTo(cmd *cobra.Command) {
	fl := cmd.Flags()
	fl.Uint64Var(&p.seed, "seed", 1, "of all that is left to chance")
	fl.StringArrayVar(&p.set, "set", nil, "change the scenario: `NAME=VALUE`, as in gains.scale=1.3 or motor.3.thrust=0.6; may be given more than once")
	fl.BoolVar(&p.hands, "hands", false, "you are the person at the stick: keys move it, arm and stop")
	p.addFault(cmd)
}

// open finds a built-in scenario, a scenario file or a recording, and spoils its
// lines as was asked for.
func (p *play) open(ctx context.Context, name string) (*scenario, error) {
	faults, err := p.faults()
	if err != nil {
		return nil, err
	}
	sc, err := p.find(ctx, name)
	if err == nil && len(faults) > 0 {
		sc.spoil = spoil.New(sc.lineSource, faults, p.seed)
		sc.lineSource = sc.spoil
	}
	return sc, err
}

// find finds a built-in scenario, a scenario file or a recording.
func (p *play) find(ctx context.Context, name string) (*scenario, error) {
	for _, sc := range simulator.List() {
		if sc.Name == name {
			return p.stage(sc, name)
		}
	}
	if _, err := os.Stat(name); err != nil {
		return nil, hinted(usagef("no scenario is called %q", name), "see them with: tetherbell simulate --list")
	}
	if !strings.EqualFold(filepath.Ext(name), ".toml") {
		if err := p.plain(name); err != nil {
			return nil, err
		}
		return openTape(ctx, name)
	}
	text, err := readWhole(ctx, "scenario", name)
	if err != nil {
		return nil, err
	}
	sc, err := simulator.Parse(text)
	if err == nil {
		err = sc.Check()
	}
	if err != nil {
		return nil, hinted(fmt.Errorf("%s: %w", name, err), keysHint)
	}
	return p.stage(sc, sc.Name)
}

const keysHint = "every key and event is explained in simulator/scenarios/README.md of the sources"

// plain refuses for a recording what only a scenario can do.
func (p *play) plain(name string) error {
	flag := ""
	switch {
	case len(p.set) > 0:
		flag = "--set"
	case p.hands:
		flag = "--hands"
	default:
		return nil
	}
	return hinted(usagef("%s is for scenarios, and %s is a recording: what is in it has happened", flag, name),
		"name a scenario; see them with: tetherbell simulate --list")
}

// stage puts a scenario on the bench, changed as it was asked for.
func (p *play) stage(sc simulator.Scenario, title string) (*scenario, error) {
	stick := stickAtArming(sc.Events)
	if p.hands {
		sc.Seconds, sc.Events = handsSeconds, causes(sc.Events)
	}
	for _, set := range p.set {
		if err := sc.Set(set); err != nil {
			return nil, hinted(setProblem(err, set), setHint)
		}
	}
	if !p.hands {
		return scenarioOf(&sc, simulator.New(sc, p.seed), title), nil
	}
	sc.Events = causes(sc.Events) // what was set may have brought others
	t := newTrainee(simulator.New(sc, p.seed), stick)
	out := scenarioOf(&sc, t, title)
	out.hand = t
	return out, nil
}

func scenarioOf(sc *simulator.Scenario, src lineSource, title string) *scenario {
	return &scenario{lineSource: src, title: title, moral: sc.Lesson,
		told: craft.Craft{Hold: craft.Hold(sc.Craft.Hold), HoldRatedN: sc.Craft.HoldRatedN}}
}

// causes are the events that no person does.
func causes(events []simulator.Event) []simulator.Event {
	return slices.DeleteFunc(slices.Clone(events), func(e simulator.Event) bool { return persons[e.Do] })
}

const setHint = "such as craft.mass_g=900, gains.scale=1.3, loop.delay_ms=8, motor.3.thrust=0.6; all keys: simulator/scenarios/README.md of the sources"

// setProblem says what is wrong with a change. The name of a key is said only
// where it is another than the one that was to be changed.
func setProblem(err error, set string) error {
	name, value, _ := strings.Cut(set, "=")
	name, value = strings.TrimSpace(name), strings.TrimSpace(value)
	var e *simulator.ScenarioError
	switch {
	case name == "" || value == "":
		return usagef("--set takes NAME=VALUE, not %q", set)
	case !errors.As(err, &e):
		return usagef("--set %s: %v", set, err)
	case e.Key == "" || e.Key == set || e.Key == name || strings.HasSuffix(name, "."+e.Key):
		return usagef("--set %s: %s", set, e.Problem)
	}
	return usagef("--set %s: %s: %s", set, e.Key, e.Problem)
}

func openTape(ctx context.Context, name string) (*scenario, error) {
	f, err := openFile(ctx, name)
	if err != nil {
		return nil, err
	}
	o, err := outlineOf(ctx, f, name)
	if err != nil {
		f.Close()
		return nil, err
	}
	if o.many {
		f.Close()
		return nil, hinted(fmt.Errorf("play recording %s: its lines are of several bridges, and a stand-in is one", name),
			"see and hear it with: tetherbell replay "+name)
	}
	t := newTape(f, o)
	return &scenario{lineSource: t, title: filepath.Base(name), tape: t, file: f}, nil
}
