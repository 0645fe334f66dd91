package link

import (
	"errors"
	"fmt"
)

// A ModemLine is an output of a serial port that carries one bit and no data.
type ModemLine uint8

// The lines that a host may set.
const (
	DTR ModemLine = iota // data terminal ready
	RTS                  // request to send
	modemLines
)

var lineNames = [modemLines]string{"DTR", "RTS"}

// String returns the name that is printed beside the pin.
func (m ModemLine) String() string { return lineNames[m] }

var (
	// ErrNoLines says that a port has no such outputs, as a pseudo-terminal.
	ErrNoLines = errors.New("it has no such line")
	// ErrNotOpen says that a port is lost at the moment, or closed.
	ErrNotOpen = errors.New("the port is not open")
)

// lineSetter is what an open port with such outputs has.
type lineSetter interface {
	SetDTR(on bool) error
	SetRTS(on bool) error
}

// SetLine asserts an output of the port, or drops it. It may be called from any
// goroutine and waits for no Read; an adapter may take its time. What was wanted
// last is set again when a lost port is back, also where this call failed.
//
// The system itself asserts both lines whenever it opens a port, until they are
// set; with the end of the program it drops both, where the port's setting says
// so (on Linux and macOS HUPCL, which ports begin with).
func (p *Port) SetLine(line ModemLine, on bool) error {
	p.lineMu.Lock()
	defer p.lineMu.Unlock()
	p.wanted[line] = &on
	if p.lines == nil {
		return fmt.Errorf("set %v of %s: %w", line, p.name, ErrNotOpen)
	}
	return p.setLineLocked(line, on)
}

func (p *Port) setLineLocked(line ModemLine, on bool) error {
	s, ok := p.lines.(lineSetter)
	if !ok {
		return fmt.Errorf("set %v of %s: %w", line, p.name, ErrNoLines)
	}
	set := s.SetDTR
	if line == RTS {
		set = s.SetRTS
	}
	if err := set(on); err != nil {
		return fmt.Errorf("set %v of %s: %w", line, p.name, plainLineError(err))
	}
	return nil
}

// useLines says whose outputs are to be set from now on, nil for nobody's, and
// sets what is wanted. Until it returns nobody sets a line of the one before.
func (p *Port) useLines(raw rawPort) {
	p.lineMu.Lock()
	defer p.lineMu.Unlock()
	p.lines = raw
	for line, on := range p.wanted {
		if raw != nil && on != nil {
			_ = p.setLineLocked(ModemLine(line), *on) // whoever wants it asks again
		}
	}
}
