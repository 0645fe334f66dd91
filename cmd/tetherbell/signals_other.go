//go:build !unix

package main

import (
	"os"
	"syscall"
)

// endSignals ask for a clean end.
var endSignals = []os.Signal{os.Interrupt, syscall.SIGTERM}

func stayAwake() {}
