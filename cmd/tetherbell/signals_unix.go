//go:build unix

package main

import (
	"os"
	"os/signal"
	"syscall"
)

// endSignals ask for a clean end.
var endSignals = []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP}

// stayAwake keeps a monitor in the background from being stopped because it
// asks its terminal for input: a stopped monitor is a silent one.
func stayAwake() { signal.Ignore(syscall.SIGTTIN, syscall.SIGTTOU) }
