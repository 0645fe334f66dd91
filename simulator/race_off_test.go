//go:build !race

package simulator

const quick = false
