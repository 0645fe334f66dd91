package main

import "golang.org/x/sys/unix"

const fionread = unix.TIOCINQ

func flushInput(fd int) error { return unix.IoctlSetInt(fd, unix.TCFLSH, unix.TCIFLUSH) }
