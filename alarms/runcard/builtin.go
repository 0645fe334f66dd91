package runcard

import (
	"embed"
	"fmt"
	"io/fs"
	"strings"
)

//go:embed cards/*.toml
var embedded embed.FS

// builtins are the built-in cards in the order they are met.
var builtins = []string{"first-run", "after-change"}

// List returns the built-in cards.
func List() []*Card {
	var out []*Card
	for _, n := range builtins {
		c, err := Load(n)
		if err != nil {
			panic("runcard: " + err.Error()) // a test loads them all
		}
		out = append(out, c)
	}
	return out
}

// Load returns the built-in card of a name.
func Load(name string) (*Card, error) {
	text, err := fs.ReadFile(embedded, "cards/"+name+".toml")
	if err != nil {
		return nil, fmt.Errorf("find card %q: there are %s", name, strings.Join(builtins, ", "))
	}
	return Parse(text)
}

// Example returns the text of a card, to be copied and changed.
func Example() []byte {
	text, err := fs.ReadFile(embedded, "cards/"+builtins[0]+".toml")
	if err != nil {
		panic("runcard: " + err.Error()) // it is embedded
	}
	return text
}
