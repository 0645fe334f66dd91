//go:build linux || darwin

package link

import (
	"errors"
	"sync"

	"golang.org/x/sys/unix"
)

// A hold is a descriptor of a port's own beside the one that is read. It keeps
// the lock, and what a pseudo-terminal was set to.
type hold struct {
	fd   int
	was  *unix.Termios // of a pseudo-terminal, before it was opened to be read
	once sync.Once
}

// holdPort locks a port, or says that another program has it.
//
// The serial library asks the system to refuse further opens (TIOCEXCL), which
// root is not bound by, nor what was opened before. So there is a lock (flock) too,
// which binds all who ask for it, as two monitors do. Where the system has no such
// locks for devices (some versions of macOS), the library's is all there is.
//
// A pseudo-terminal's settings are kept, to be put back: where the simulator was
// killed its link may lead to the terminal that somebody works in by now.
func holdPort(name string) (*hold, error) {
	fd, err := unix.Open(name, unix.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	switch {
	case errors.Is(err, unix.EBUSY):
		return nil, &OpenError{What: "port", Name: name, Fault: Busy, Err: err}
	case err != nil:
		return nil, nil // whatever it is, the library finds it too, and says it
	}
	if err := unix.Flock(fd, unix.LOCK_EX|unix.LOCK_NB); errors.Is(err, unix.EWOULDBLOCK) {
		unix.Close(fd)
		return nil, &OpenError{What: "port", Name: name, Fault: Busy, Err: err}
	}
	h := &hold{fd: fd}
	if Pseudo(name) {
		if was, err := unix.IoctlGetTermios(fd, getSettings); err == nil {
			h.was = was
		}
	}
	return h, nil
}

// release puts a pseudo-terminal's settings back and lets go. It may be called
// again.
func (h *hold) release() {
	if h == nil {
		return
	}
	h.once.Do(func() {
		if h.was != nil {
			_ = unix.IoctlSetTermios(h.fd, putSettings, h.was) // fails where its other end has gone
		}
		unix.Close(h.fd)
	})
}
