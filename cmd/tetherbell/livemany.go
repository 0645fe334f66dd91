package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"tetherbell/alarms"
	"tetherbell/dashboard"
	"tetherbell/link"
)

// A inlet is one of several ports that are watched together. Each has a reader of
// its own; all hand their pieces to the one desk, which takes them as they come:
//
//	reader ──┐
//	reader ──┼─pieces──▶ desk
//	reader ──┘
type inlet struct {
	n     int // of its bridge, from 1
	name  string
	port  *link.Port
	baud  int // asked of the port
	limit int // that bounds what can come; 0 where none does

	ended   bool // no piece will come again
	bytes   uint64
	health  linkWatch
	refused refusal
	hint    string // what to do next
}

// inlets are all of them.
type inlets []*inlet

// Read is never asked for: each port has its own reader.
func (fs inlets) Read([]byte) (int, error) { return 0, errors.ErrUnsupported }

// Close closes all ports.
func (fs inlets) Close() error {
	var all error
	for _, f := range fs {
		all = errors.Join(all, f.port.Close())
	}
	return all
}

// options are what the engine is told of the ports. A recording has the same names.
func (fs inlets) options() (o alarms.Options) {
	for _, f := range fs {
		o.Sources, o.Bauds = append(o.Sources, link.SourceName(f.name)), append(o.Bauds, f.limit)
	}
	return o
}

// openInlets opens several ports, or none of them.
func openInlets(ctx context.Context, con *console, names []string, baud int) (out inlets, err error) {
	defer func() {
		if err != nil {
			_ = out.Close()
		}
	}()
	for _, arg := range names { // before any port is opened
		if err := cmp.Or(fitsTogether(arg), baudIn(arg)); err != nil {
			return out, err
		}
	}
	ports := map[string]string{}
	for i, arg := range names {
		f := &inlet{n: i + 1, name: arg, baud: baud}
		if name, rate, ok := portAndBaud(arg); ok {
			f.name, f.baud = name, rate
		}
		path, err := filepath.EvalSymlinks(f.name)
		if err != nil {
			path = f.name // opening it tells why
		}
		if twin, there := ports[path]; there {
			return out, hinted(usagef("%s and %s are the same port", twin, f.name), "name each bridge's port once; tetherbell ports lists them")
		}
		ports[path] = f.name
		if f.port, err = openPort(ctx, con, f.name, f.baud); err != nil {
			return out, err
		}
		f.limit = f.port.Capacity()
		out = append(out, f)
	}
	return out, nil
}

// portAndBaud reads PORT@BAUD.
func portAndBaud(arg string) (name string, baud int, ok bool) {
	at := strings.LastIndexByte(arg, '@')
	if at <= 0 {
		return "", 0, false
	}
	if _, err := os.Stat(arg); err == nil {
		return "", 0, false // its name has one
	}
	baud, err := strconv.Atoi(arg[at+1:])
	return arg[:at], baud, err == nil
}

// baudIn refuses PORT@BAUD where the port is there, and what follows is no baud.
func baudIn(arg string) error {
	at := strings.LastIndexByte(arg, '@')
	if _, err := os.Stat(arg); at <= 0 || err == nil || strings.Contains(arg[at:], "/") {
		return nil // it has none, or its name has the sign
	}
	rate := arg[at+1:]
	if _, err := strconv.Atoi(rate); err == nil {
		return nil // opening the port tells whether it takes it
	}
	return hinted(usagef("%q is no baud, in %s", rate, arg), fmt.Sprintf("a whole number from 1 to %d: %s@%d", link.MaxBaud, arg[:at], link.DefaultBaud))
}

// fitsTogether refuses what is no port.
func fitsTogether(name string) error {
	if name == "-" {
		return hinted(usagef("standard input cannot be watched together with other sources"), "several sources are ports: tetherbell watch PORT PORT")
	}
	if info, err := os.Stat(name); err == nil && (info.Mode().IsRegular() || info.Mode()&fs.ModeNamedPipe != 0) {
		return hinted(usagef("%s is no port: it cannot be watched together with other sources", name), "several sources are ports: tetherbell watch PORT PORT")
	}
	return nil
}

// startReaders starts a reader for each port. They end with their ports' Close;
// reader is closed when all have ended.
func (l *live) startReaders(cancel func(), reader chan struct{}) {
	var all []chan struct{}
	for _, f := range l.inlets {
		done := make(chan struct{})
		all = append(all, done)
		go l.guard(cancel, done, func() { l.read(f.port, f.n) })
	}
	// It ends when they have.
	go l.guard(cancel, reader, func() {
		for _, done := range all {
			<-done
		}
		close(l.pieces)
	})
}

// pieceFrom takes what one read of one of several ports brought.
func (l *live) pieceFrom(p piece) {
	f := l.inlets[p.from-1]
	f.bytes += uint64(p.n)
	l.desk.feedFrom(f.n, p.us, p.buf[:p.n])
	l.free <- p.buf
	switch {
	case p.err == nil:
	case errors.Is(p.err, link.ErrLost):
		l.desk.unplugFrom(f.n, p.us)
		f.health.since = l.ms()
		l.portChanged(f.name, false)
	case errors.Is(p.err, link.ErrBack):
		f.health.since = l.ms()
		l.portChanged(f.name, true)
	default:
		f.ended = true
		for _, f := range l.inlets {
			if !f.ended {
				return
			}
		}
		l.inputEnded(nil)
	}
}

// lookAtInlets tells a person when a port brings nothing good.
func (l *live) lookAtInlets(ms int64) {
	l.hint = ""
	var longest time.Time // the hint is of the port that was lost first, whatever others do
	for i, b := range l.desk.eng.Bridges() {
		f := l.inlets[i]
		p := f.port.Status()
		if f.refused.look(ms, p) {
			l.sayTrouble(refused(p))
		}
		if what, next := refused(p); what != "" {
			f.health.since = ms
			f.hint = what + ": " + next
		} else if !p.Open {
			f.health.since = ms
			f.hint = lostHint(f.name, time.Since(p.Since), p.Tries)
		} else if t, fresh := f.health.look(ms, b.Lines, f.bytes, l.desk.many.otherVersion[i]); t == noTrouble {
			f.hint = ""
		} else {
			what, next := t.of(l.desk.text(i)).words(f.name, f.baud)
			if t == otherVersion { // which one
				what = f.name + ": " + what
			}
			if f.hint = what + ": " + next; fresh {
				l.sayTrouble(what, next)
			}
		}
		switch first := !p.Open && (longest.IsZero() || p.Since.Before(longest)); {
		case first:
			l.hint, longest = f.hint, p.Since
		case l.hint == "" && p.Open:
			l.hint = f.hint
		}
	}
}

// lostNext is what to do where a port is not there.
const lostNext = "is the cable in? it goes on by itself when the port is back"

func lostHint(name string, since time.Duration, tries int) string {
	times := "once"
	if tries != 1 {
		times = fmt.Sprintf("%d times", tries)
	}
	return fmt.Sprintf("port %s lost for %.0f s, tried again %s: %s", name, since.Seconds(), times, lostNext)
}

// bridgePorts tells the screen how each port is doing.
func (l *live) bridgePorts() []dashboard.BridgePort {
	out := make([]dashboard.BridgePort, len(l.inlets))
	for i, f := range l.inlets {
		out[i].State = "open"
		if p := f.port.Status(); !p.Open {
			out[i].Lost = true
			out[i].State = fmt.Sprintf("LOST %.0f s", time.Since(p.Since).Seconds())
		}
	}
	return out
}

// refuse reports whether one of them is there again, and does not open.
func (fs inlets) refuse() bool {
	for _, f := range fs {
		if what, _ := refused(f.port.Status()); what != "" {
			return true
		}
	}
	return false
}

// allLost reports whether every port is away.
func (fs inlets) allLost() bool {
	for _, f := range fs {
		if f.port.Status().Open {
			return false
		}
	}
	return len(fs) > 0
}
