//go:build !unix

package link

// openAtOnce is nothing where files that wait for a writer are unknown.
const openAtOnce = 0
