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
	"calm", "gains-high", "gains-halved", "idle-slip", "weak-motor", "nose-heavy", "stop-late", "noisy-link",
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
