package main

import (
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// ownRSS is what this process holds in memory, in MB.
func ownRSS(t testing.TB) float64 {
	text, err := os.ReadFile("/proc/self/status")
	require.NoError(t, err)
	return float64(statusFigure(t, text, "VmRSS")) / 1000
}

func ownFiles(t testing.TB) int { return openFiles(t, os.Getpid()) }
