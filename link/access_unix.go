//go:build unix

package link

import (
	"errors"
	"io/fs"
	"os"

	"golang.org/x/sys/unix"
)

// mayNotOpen reports whether the system refuses to open a device to us. It
// asks without opening it: that would raise the lines of the port.
func mayNotOpen(name string) bool {
	info, err := os.Stat(name)
	if err != nil {
		return errors.Is(err, fs.ErrPermission)
	}
	return info.Mode()&fs.ModeCharDevice != 0 && unix.Access(name, unix.R_OK|unix.W_OK) == unix.EACCES
}
