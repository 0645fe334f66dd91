package link

import "golang.org/x/sys/unix"

const (
	getSettings = unix.TCGETS
	putSettings = unix.TCSETS
)
