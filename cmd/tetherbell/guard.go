package main

import (
	"fmt"
	"runtime/debug"
	"sync"
)

// A panicked error is a fault of the program, with where it happened.
type panicked struct {
	what  string
	stack []byte
}

func (p *panicked) Error() string { return "fault of the program: " + p.what }

// newFault is to be called where a panic is recovered.
func newFault(p any) error { return &panicked{what: fmt.Sprint(p), stack: debug.Stack()} }

// faults keeps what went wrong in a goroutine until somebody can say it.
type faults struct {
	mu  sync.Mutex
	err error
}

// guard runs a goroutine's body, closes done at its end, and turns a panic
// into a fault: the screen then gives the terminal back, and what happened is
// said after it.
func (f *faults) guard(cancel func(), done chan struct{}, body func()) {
	defer close(done)
	defer func() {
		if p := recover(); p != nil {
			f.mu.Lock()
			f.err = newFault(p)
			f.mu.Unlock()
			cancel()
		}
	}()
	body()
}

func (f *faults) fault() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.err
}
