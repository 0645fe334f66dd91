//go:build unix

package link

import (
	"errors"
	"syscall"
)

// plainLineError sorts what the system said: a pseudo-terminal knows no such
// request.
func plainLineError(err error) error {
	if errors.Is(err, syscall.ENOTTY) || errors.Is(err, syscall.EINVAL) {
		return ErrNoLines
	}
	return err
}
