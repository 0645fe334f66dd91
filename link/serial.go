package link

import (
	"errors"
	"io"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"go.bug.st/serial"
)

// The bounds of what a port is asked for.
const (
	DefaultBaud = 115200
	MaxBaud     = 3_000_000
)

const (
	readWait   = 100 * time.Millisecond // so long a read waits: Close is noticed within it
	quickEmpty = time.Millisecond       // an empty read that came sooner did not wait at all
	spinPause  = 10 * time.Millisecond  // and is followed by this pause: no spinning
	firstPause = 50 * time.Millisecond  // before a lost port is looked for again, as long as its name is not there: a look costs nothing
	lastPause  = time.Second            // what is there and does not open is asked less and less often, down to this
	shortLife  = time.Second            // a port that is lost again within it has not come back for good
)

// PortStatus tells how a port is doing. It is a copy.
type PortStatus struct {
	Open  bool
	Tries int       // to open it again since it was lost
	Since time.Time // of the last change of Open
	Err   error     // why it was lost, or why the last try went wrong
}

// rawPort is what Port needs of an open serial port. Read waits at most
// readWait and returns 0, nil when nothing came.
type rawPort interface {
	Read(p []byte) (int, error)
	Close() error
}

// A Port is a serial port that is opened again by the same name whenever it
// is lost: an adapter pulled out, or a pseudo-terminal whose other end went
// away and came back under the same link. Read is for one goroutine; Close
// and Status may be called from any.
type Port struct {
	name string
	baud int
	open func(name string, baud int) (rawPort, error)

	mu    sync.Mutex // held while reading: Close never frees a descriptor in use
	raw   rawPort    // nil while the port is lost
	pause time.Duration
	tries int

	lineMu sync.Mutex // for lines and wanted; never held while reading
	lines  rawPort    // whose outputs may be set; nil while the port is lost
	wanted [modemLines]*bool

	stop     chan struct{}
	stopOnce sync.Once
	status   atomic.Pointer[PortStatus]
}

// OpenPort opens a serial port, 8 data bits, no parity, 1 stop bit. Errors
// are *OpenError.
func OpenPort(name string, baud int) (*Port, error) { return openWith(name, baud, openRaw) }

func openWith(name string, baud int, open func(string, int) (rawPort, error)) (*Port, error) {
	raw, err := open(name, baud)
	if err != nil {
		return nil, err
	}
	p := &Port{name: name, baud: baud, open: open, raw: raw, lines: raw, stop: make(chan struct{})}
	p.status.Store(&PortStatus{Open: true, Since: time.Now()})
	return p, nil
}

func openRaw(name string, baud int) (rawPort, error) {
	port, err := openSerial(name, baud)
	if err != nil {
		return nil, err
	}
	if err := port.SetReadTimeout(readWait); err != nil {
		port.Close()
		return nil, portError(name, err)
	}
	return port, nil
}

func openSerial(name string, baud int) (serial.Port, error) {
	if baud < 1 || baud > MaxBaud { // the library takes any number
		return nil, &OpenError{What: "port", Name: name, Fault: BadBaud}
	}
	if err := lookAt(name); err != nil {
		return nil, err
	}
	hold, err := holdPort(name)
	if err != nil {
		return nil, err
	}
	port, err := serial.Open(name, &serial.Mode{BaudRate: baud, DataBits: 8, Parity: serial.NoParity, StopBits: serial.OneStopBit})
	if err != nil {
		hold.release()
		return nil, portError(name, err)
	}
	return &heldPort{Port: port, hold: hold}, nil
}

// OpenSender opens a serial port to write to. A write may block for as long
// as the other side does not take the bytes, and Close does not release it.
func OpenSender(name string, baud int) (io.WriteCloser, error) {
	port, err := openSerial(name, baud)
	if err != nil {
		return nil, err
	}
	return port, nil
}

// Read returns the next bytes; 0 and nil when none came for a while. It
// returns ErrLost and ErrBack once each where they happened among the bytes,
// and io.EOF after Close. A lost port is tried again within Read.
func (p *Port) Read(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.stopped() {
		return 0, io.EOF
	}
	if p.raw == nil {
		return 0, p.retry()
	}
	began := time.Now()
	n, err := p.raw.Read(b)
	switch {
	case n > 0: // an error comes again with the next read
		return n, nil
	case p.stopped():
		return 0, io.EOF
	case err != nil:
		p.lose(err)
		return 0, ErrLost
	case time.Since(began) < quickEmpty:
		p.wait(spinPause)
	}
	return 0, nil
}

// lose lets go of a port. One that was hardly back is not opened again at once:
// a loose plug would fill every journal.
func (p *Port) lose(err error) {
	p.useLines(nil)
	p.raw.Close()
	p.raw = nil
	if p.pause == 0 || time.Since(p.status.Load().Since) >= shortLife {
		p.pause = firstPause
	}
	p.tries = 0
	p.status.Store(&PortStatus{Since: time.Now(), Err: err})
}

// retry waits and tries once to open the port again. The bridge sends as soon
// as it is plugged in, and what it sends before the port is open is lost: so a
// name that is not there is looked for at a steady quick pace. A port that is
// there and refuses, for another program has it or the system has not given us
// the right to it yet, is left alone for longer after each try.
func (p *Port) retry() error {
	if !p.wait(p.pause) {
		return io.EOF
	}
	p.tries++
	raw, err := p.open(p.name, p.baud)
	var oe *OpenError
	if errors.As(err, &oe) && oe.Fault == Missing {
		p.pause = firstPause
	} else {
		p.pause = min(2*p.pause, lastPause)
	}
	if err != nil {
		p.status.Store(&PortStatus{Since: p.status.Load().Since, Tries: p.tries, Err: err})
		return nil
	}
	p.raw = raw
	p.useLines(raw)
	p.status.Store(&PortStatus{Open: true, Since: time.Now(), Tries: p.tries})
	return ErrBack
}

// wait pauses and reports false when Close was called meanwhile.
func (p *Port) wait(d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-p.stop:
		return false
	case <-t.C:
		return true
	}
}

func (p *Port) stopped() bool {
	select {
	case <-p.stop:
		return true
	default:
		return false
	}
}

// Close ends the port. A Read under way returns within its wait.
func (p *Port) Close() error {
	p.stopOnce.Do(func() { close(p.stop) })
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.raw == nil {
		return nil
	}
	p.useLines(nil)
	err := p.raw.Close()
	p.raw = nil
	return err
}

// Status tells how the port is doing.
func (p *Port) Status() PortStatus { return *p.status.Load() }

// Capacity returns the baud that bounds what the line can carry, or 0 where
// nothing does: a pseudo-terminal takes any baud and keeps to none.
func (p *Port) Capacity() int {
	if Pseudo(p.name) {
		return 0
	}
	return p.baud
}

// Pseudo reports whether a name leads to a pseudo-terminal, through links
// too.
func Pseudo(name string) bool {
	path, err := filepath.EvalSymlinks(name)
	if err != nil {
		path = name
	}
	if strings.HasPrefix(path, "/dev/pts/") {
		return true
	}
	rest, ok := strings.CutPrefix(path, "/dev/ttys")
	return ok && runtime.GOOS == "darwin" && rest != "" && strings.Trim(rest, "0123456789") == ""
}
