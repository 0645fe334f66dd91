package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"tetherbell/link"
)

const (
	// portPatience is how long a port that somebody holds is tried again: a watch
	// whose window was closed while the craft was armed holds it for as long as it
	// makes itself heard and records (4 s at most), and until its recording is safe.
	portPatience = 6 * time.Second
	// portAgain is how often.
	portAgain = 50 * time.Millisecond
)

// openPort opens a port that is to be watched. One that somebody holds is tried
// again for a while, for whoever starts the watch anew must not be sent away by the
// one that is about to end.
func openPort(ctx context.Context, con *console, name string, baud int) (*link.Port, error) {
	until := time.Now().Add(portPatience)
	told := false
	for {
		port, err := link.OpenPort(name, baud)
		var open *link.OpenError
		if !errors.As(err, &open) || open.Fault != link.Busy || time.Now().After(until) {
			return port, err
		}
		if !told {
			told = true
			con.note("port %s is in use by another program, or by a watch that is about to end: trying again for %.0f s", name, portPatience.Seconds())
		}
		wait := time.NewTimer(portAgain)
		select {
		case <-ctx.Done():
			wait.Stop()
			return nil, fmt.Errorf("open port %s: %w", name, errInterrupted)
		case <-wait.C:
		}
	}
}
