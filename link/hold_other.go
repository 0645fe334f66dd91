//go:build !linux && !darwin

package link

// A hold is nothing here: Windows itself opens a port for one program alone, and
// has no pseudo-terminals of this kind.
type hold struct{}

func holdPort(string) (*hold, error) { return nil, nil }

func (*hold) release() {}
