//go:build race

package bridge

// The race detector makes each line ten times as dear, and finds no more in a
// million than in some.
func init() { manyLines = 50_000 }
