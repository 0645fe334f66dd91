package main

import "golang.org/x/sys/unix"

const (
	fionread = 0x4004667f // FIONREAD of <sys/filio.h>
	fread    = 1          // FREAD of <sys/fcntl.h>: the input side
)

func flushInput(fd int) error { return unix.IoctlSetPointerInt(fd, unix.TIOCFLUSH, fread) }
