package simulator

import (
	"embed"
	"fmt"
	"io/fs"
	"strings"
)

//go:embed scenarios/*.toml
var embedded embed.FS

// names are the built-in scenarios in the order they are best met.
var names = []string{
	"calm", "gains-high", "gains-halved", "near-margin", // the loop, and how much it bears
	"idle-slip", "idle-step", "stick-off-zero", "stick-up", "stick-reversed", "mixer-reversed", // settings and sticks
	"weak-motor", "nose-heavy", "windup", "tip-over", "leads-crossed", "line-breaks", "stand-lets-go", // weight and hold
	"unbalanced", "bent-blade", "blade-breaks", "propeller-off", "motor-locks", // what turns
	"poles-wrong", "poles-right", "filter-open", "strap-slips", // vibration and heat
	"old-pack", "stop-late", "motor-wakes", "control-lost", "height-kept", // power and command
	"noisy-link", "slow-stream", "gyro-hangs", "temp-hangs", "miscount", "baro-wash", // what is measured, and told
	"stand", "stand-load", "hexa", "tri", // other benches, other craft
	"by-the-card", // a run with a card of steps
	"first-run", "first-run-2", "first-run-3", "first-run-4", "first-run-5",
}

// List returns the built-in scenarios in the order they are best met.
func List() []Scenario {
	all := make([]Scenario, 0, len(names))
	for _, n := range names {
		sc, err := Load(n)
		if err != nil {
			panic("simulator: " + err.Error()) // a test loads them all
		}
		all = append(all, sc)
	}
	return all
}

// Load returns the built-in scenario of a name.
func Load(name string) (Scenario, error) {
	text, err := fs.ReadFile(embedded, "scenarios/"+name+".toml")
	if err != nil {
		return Scenario{}, fmt.Errorf("find scenario %q: there are %s", name, strings.Join(names, ", "))
	}
	return Parse(text)
}
