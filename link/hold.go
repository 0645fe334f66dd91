package link

import "go.bug.st/serial"

// A heldPort is an open port that no other program of ours can open as well:
// two would share its lines between them, and each would see a bad line.
type heldPort struct {
	serial.Port
	hold *hold
}

// Close closes the port and lets it go.
func (p *heldPort) Close() error {
	err := p.Port.Close()
	p.hold.release()
	return err
}
