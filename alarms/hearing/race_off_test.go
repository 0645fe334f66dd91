//go:build !race

package hearing

const quick = false
