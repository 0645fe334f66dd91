//go:build linux || darwin

package main

import (
	"fmt"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

func newPseudo() (*pseudo, error) {
	master, slave, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("make pseudo-terminal: %w", err)
	}
	if _, err := term.MakeRaw(int(slave.Fd())); err != nil {
		master.Close()
		slave.Close()
		return nil, fmt.Errorf("make pseudo-terminal raw: %w", err)
	}
	return &pseudo{master: master, slave: slave, path: slave.Name()}, nil
}

// unread tells how many bytes no reader has taken yet.
func (p *pseudo) unread() int {
	n, err := unix.IoctlGetInt(int(p.slave.Fd()), fionread)
	if err != nil {
		return 0
	}
	return n
}

// discard throws away what no reader has taken.
func (p *pseudo) discard() int {
	n := p.unread()
	if flushInput(int(p.slave.Fd())) != nil {
		return 0
	}
	return n
}
