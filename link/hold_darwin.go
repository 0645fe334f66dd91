package link

import "golang.org/x/sys/unix"

const (
	getSettings = unix.TIOCGETA
	putSettings = unix.TIOCSETA
)
