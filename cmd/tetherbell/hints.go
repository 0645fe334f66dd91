package main

import (
	"errors"
	"fmt"
	"io"
	"runtime"

	"tetherbell/link"
)

// A said error carries the next step beside the reason.
type said struct {
	err  error
	hint string
}

func (s *said) Error() string { return s.err.Error() }
func (s *said) Unwrap() error { return s.err }

// hinted adds a next step to an error.
func hinted(err error, hint string) error { return &said{err: err, hint: hint} }

// hintOf finds what a person can do about an error; "" when nothing is known.
func hintOf(err error) string {
	var s *said
	if errors.As(err, &s) {
		return s.hint
	}
	var open *link.OpenError
	if errors.As(err, &open) {
		if open.What == "port" {
			return portHint(open.Fault)
		}
		return recordingHint(open.Fault)
	}
	return ""
}

func portHint(f link.Fault) string {
	switch f {
	case link.Missing:
		return "plug the bridge in and see its name with: tetherbell ports"
	case link.Busy:
		return "close the other program that holds the port, then try again"
	case link.NoPermission:
		if runtime.GOOS == "linux" {
			return "add yourself to the group that owns the port (ls -l shows it, often dialout), then log in again"
		}
		return "run as a user who may open the port"
	case link.NotPort, link.Directory:
		return "see the serial ports with: tetherbell ports"
	case link.BadBaud:
		return "give the bridge's baud, for example --baud 115200"
	}
	return ""
}

func recordingHint(f link.Fault) string {
	switch f {
	case link.Missing:
		return "look at the path; recordings end in .bell"
	case link.Directory:
		return "name the recordings in it: FOLDER/*.bell"
	case link.NotRecording:
		return "a live port is watched with: tetherbell watch PORT"
	case link.NoPermission:
		return "look who may read it with: ls -l"
	}
	return ""
}

// complain tells an error and its next step.
func complain(w io.Writer, err error) {
	fmt.Fprintf(w, "tetherbell: %v\n", err)
	if h := hintOf(err); h != "" {
		fmt.Fprintf(w, "hint: %s\n", h)
	}
}
