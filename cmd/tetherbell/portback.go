package main

import (
	"errors"
	"strings"

	"tetherbell/link"
)

// refusalPatience is how long a port that is there again may refuse before that is
// told beside the screen: the system needs a moment to give us the right to it.
const refusalPatience = 1000 // ms

// A refusal notices a port that is there again, and does not open: another program
// has taken it, or we may not. No cable helps that.
type refusal struct {
	on    bool
	fault link.Fault
	since int64 // ms
	told  bool
}

// refused is why a lost port that is there does not open, and the next step; empty
// where it is not there, or was not tried yet.
func refused(p link.PortStatus) (what, next string) {
	var e *link.OpenError
	if p.Open || !errors.As(p.Err, &e) || e.Fault == link.Missing {
		return "", ""
	}
	return e.Error(), strings.TrimSuffix(portHint(e.Fault), ", then try again") + "; it goes on by itself"
}

// look reports whether a port has just refused for long enough to be told.
func (r *refusal) look(ms int64, p link.PortStatus) (fresh bool) {
	if what, _ := refused(p); what == "" {
		*r = refusal{}
		return false
	}
	var e *link.OpenError
	if errors.As(p.Err, &e); !r.on || e.Fault != r.fault {
		*r = refusal{on: true, fault: e.Fault, since: ms}
	}
	fresh = !r.told && ms-r.since >= refusalPatience
	r.told = r.told || fresh
	return fresh
}
