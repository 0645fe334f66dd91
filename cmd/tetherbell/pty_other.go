//go:build !linux && !darwin

package main

import (
	"errors"
	"runtime"
)

func newPseudo() (*pseudo, error) {
	return nil, hinted(errors.New("there are no pseudo-terminals on "+runtime.GOOS),
		"write to standard output, or to a real port: tetherbell simulate --port PORT")
}

func (p *pseudo) unread() int  { return 0 }
func (p *pseudo) discard() int { return 0 }
