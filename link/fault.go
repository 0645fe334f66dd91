package link

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime"

	"go.bug.st/serial"
)

// A Fault says in one word why something could not be opened, so that a
// person can be told the next step.
type Fault uint8

// The faults that have a next step of their own.
const (
	OtherFault Fault = iota
	Missing
	Busy
	NoPermission
	NotPort      // there, but no serial port
	Directory    // a folder where a port or a file was meant
	NotRecording // a device where a file was meant
	BadBaud
	Compressed // where a file that grows was meant
)

var faultTexts = [...]string{
	Missing:      "no such port",
	Busy:         "port is in use by another program",
	NoPermission: "permission denied",
	NotPort:      "not a serial port",
	Directory:    "is a directory",
	NotRecording: "not a file",
	BadBaud:      "baud is outside 1 to 3000000",
	Compressed:   "is compressed, and grows no more",
}

// An OpenError says what could not be opened and why.
type OpenError struct {
	What  string // "port" or "recording"
	Name  string
	Fault Fault
	Err   error // what the system said; may be nil
}

// Error returns one line without a next step.
func (e *OpenError) Error() string {
	why := "cannot be opened"
	switch {
	case e.Fault == Missing && e.What != "port":
		why = "no such file"
	case e.Fault != OtherFault:
		why = faultTexts[e.Fault]
	case e.Err != nil:
		why = e.Err.Error()
	}
	return fmt.Sprintf("open %s %s: %s", e.What, e.Name, why)
}

// Unwrap returns what the system said.
func (e *OpenError) Unwrap() error { return e.Err }

// portError sorts what the serial library said.
func portError(name string, err error) error {
	e := &OpenError{What: "port", Name: name, Fault: plainFault(err), Err: err}
	var pe *serial.PortError
	if errors.As(err, &pe) {
		switch pe.Code() {
		case serial.PortBusy:
			e.Fault = Busy
		case serial.PortNotFound:
			e.Fault = Missing
		case serial.PermissionDenied:
			e.Fault = NoPermission
		case serial.InvalidSerialPort:
			e.Fault = NotPort
		case serial.InvalidSpeed:
			e.Fault = BadBaud
		}
	}
	return e
}

// fileError sorts what the system said about a file.
func fileError(name string, err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err // the name is said once
	}
	return &OpenError{What: "recording", Name: name, Fault: plainFault(err), Err: err}
}

func plainFault(err error) Fault {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return Missing
	case errors.Is(err, fs.ErrPermission):
		return NoPermission
	}
	return OtherFault
}

// lookAt refuses what cannot be a port before it is opened: a regular file
// or a folder would be changed or misread. Names of ports that are no paths
// (COM3) are left to the system.
func lookAt(name string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	info, err := os.Stat(name)
	switch {
	case err != nil:
		return portError(name, err)
	case info.IsDir():
		return &OpenError{What: "port", Name: name, Fault: Directory}
	case info.Mode()&fs.ModeCharDevice == 0:
		return &OpenError{What: "port", Name: name, Fault: NotPort}
	}
	return nil
}
