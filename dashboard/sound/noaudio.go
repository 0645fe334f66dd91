//go:build !unix && !windows

package sound

import "context"

// openSystem finds no audio: this system has the bell alone.
func openSystem(context.Context, *voice) (*device, error) { return nil, errNoServer }
