package main

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"unicode"
	"unicode/utf8"

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
	var fault *panicked
	if errors.As(err, &fault) {
		return "this should not happen: please tell the authors, with all that is printed here"
	}
	var open *link.OpenError
	if errors.As(err, &open) {
		switch {
		case open.What == "port":
			return portHint(open.Fault) + waitHint(open.Name, open.Fault)
		case open.What == "craft file" && open.Fault == link.Missing:
			return "look at the path; " + craftExample
		case open.What == "scenario" && open.Fault == link.Missing:
			return "see the built-in ones with: tetherbell simulate --list"
		case open.What != "recording" && open.Fault != link.NoPermission:
			return "name a file"
		}
		return recordingHint(open.Name, open.Fault)
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
	return "pull the adapter out and in, then see the ports with: tetherbell ports"
}

// waitHint says how to wait for a port that is not there yet, where a shell can. A
// watch does not: a name that is mistyped would be waited for as well, by somebody
// who believes that the craft is watched.
func waitHint(name string, f link.Fault) string {
	plain := func(r rune) bool {
		return r < utf8.RuneSelf && (unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune("/_.-", r))
	}
	if f != link.Missing || runtime.GOOS == "windows" || strings.TrimLeftFunc(name, plain) != "" || !strings.HasPrefix(name, "/") {
		return ""
	}
	return "; to wait for it: until [ -e " + name + " ]; do sleep 1; done"
}

func recordingHint(name string, f link.Fault) string {
	switch f {
	case link.Missing:
		if other := otherForm(name); other != "" {
			return "there is " + other + ": name that"
		}
		return "look at the path; recordings end in .bell, or .bell.zst"
	case link.Directory:
		return "name the recordings in it: " + filepath.Join(name, "*"+link.Ext+"*") + "; they are listed by: tetherbell sessions " + name
	case link.Compressed:
		return "see it again with: tetherbell replay FILE"
	case link.NotRecording:
		return "a live port is watched with: tetherbell watch PORT"
	}
	return "look who may read it with: ls -l"
}

// otherForm is where a recording that is missing lies compressed, or no longer
// so; empty where it does not.
func otherForm(name string) string {
	other, squeezed := strings.CutSuffix(name, link.SqueezedExt)
	switch {
	case squeezed:
		other += link.Ext
	case strings.HasSuffix(name, link.Ext):
		other = strings.TrimSuffix(name, link.Ext) + link.SqueezedExt
	default:
		return ""
	}
	if _, err := os.Stat(other); err != nil {
		return ""
	}
	return other
}

// complain tells an error and its next step. Errors that were joined are told
// one by one: a line feed in a name shall not look like another.
func complain(w io.Writer, err error) {
	wide := columns(w)
	for _, e := range apart(err) {
		tellFolded(w, "tetherbell: "+printable(e.Error()), wide)
		var fault *panicked
		if errors.As(e, &fault) {
			_, _ = w.Write(fault.stack)
		}
	}
	if h := hintOf(err); h != "" {
		if h = "hint: " + printable(h); strings.Contains(h, "tetherbell ") {
			wide = 0 // a command must stay whole, to be copied
		}
		tellFolded(w, h, wide)
	}
}

// apart undoes errors.Join, also under a hint.
func apart(err error) []error {
	switch e := err.(type) {
	case *said:
		return apart(e.err)
	case interface{ Unwrap() []error }:
		var all []error
		var texts []string
		for _, one := range e.Unwrap() {
			texts = append(texts, one.Error())
			all = append(all, apart(one)...)
		}
		if err.Error() == strings.Join(texts, "\n") { // no words of its own
			return all
		}
	}
	return []error{err}
}
