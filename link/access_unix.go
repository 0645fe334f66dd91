//go:build unix

package link

import "golang.org/x/sys/unix"

// refused reports whether we may not read and write a file.
func refused(name string) bool {
	return unix.Access(name, unix.R_OK|unix.W_OK) == unix.EACCES
}
