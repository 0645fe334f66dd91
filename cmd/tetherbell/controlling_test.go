//go:build linux || darwin

package main

import "syscall"

// controlling gives a process standard input as its controlling terminal.
func controlling() *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Setsid: true, Setctty: true, Ctty: 0}
}
