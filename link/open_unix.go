//go:build unix

package link

import "syscall"

// openAtOnce keeps the opening of a pipe from waiting for a writer.
const openAtOnce = syscall.O_NONBLOCK
