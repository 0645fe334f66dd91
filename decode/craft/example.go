package craft

import (
	_ "embed"
	"slices"
)

//go:embed marsh-heron.toml
var example []byte

// Example returns a craft file with every key in it, to be copied and changed.
func Example() []byte { return slices.Clone(example) }
