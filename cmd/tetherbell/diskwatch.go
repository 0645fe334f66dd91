package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"syscall"
	"time"

	"tetherbell/link"
)

// diskCalm is how long a disk must keep up before a trouble of it is over:
// one that comes and goes is one trouble.
const diskCalm = 2 * time.Second

// diskAgain is when it is told first how much is missing by now; then after twice
// as long each time: a trouble of an hour must not fill the journal.
const diskAgain = 10 * time.Second

// A diskWatch notices a recording that is not safe: a disk that is full, gone
// or too slow. It is asked now and then and keeps what it saw at the last turn.
type diskWatch struct {
	now   string        // what is wrong, for people; "" while all is well
	well  time.Time     // since when it is not seen any more
	slow  bool          // all that was wrong was a slow disk
	files int           // that the recording went into, as told last
	again time.Time     // when what is missing is told next
	pause time.Duration // and how long after the last time that is
	stood time.Duration // that we were not let run for; the disk was not either
	upon  time.Time     // when that ended
}

// standstill says that the whole program has stood still for so long: a disk is
// not slow for that.
func (d *diskWatch) standstill(stood time.Duration, at time.Time) {
	d.stood, d.upon = d.own(at)+stood, at
}

// own is how much of the recording's delay is our own.
func (d *diskWatch) own(at time.Time) time.Duration {
	if d.upon.IsZero() || at.Sub(d.upon) > diskCalm {
		return 0
	}
	return d.stood
}

// look takes how the recording does and returns what is to be told.
func (d *diskWatch) look(s link.RecordStatus, at time.Time) (told []string, hint string) {
	if s.Files > max(d.files, 1) {
		told = append(told, "the recording's file was lost: it goes on in "+s.Path)
	}
	d.files = s.Files
	s.Behind -= d.own(at)
	text, slow := diskTrouble(&s)
	switch {
	case text != "":
		if d.now == "" || d.slow && !slow {
			told = append(told, "THE RECORDING IS NOT SAFE: "+text+"; the watch goes on, and it is tried again")
			hint = diskHint(&s, slow)
			d.slow = slow
			d.pause = diskAgain
			d.again = at.Add(d.pause)
		} else if n := s.Missing(); n > 0 && !at.Before(d.again) {
			told = append(told, fmt.Sprintf("THE RECORDING IS STILL NOT SAFE: %d lines are not in it", n))
			d.pause *= 2
			d.again = at.Add(d.pause)
		}
		d.now, d.well = text, time.Time{}
	case d.now == "":
	case d.well.IsZero():
		d.well = at
	case at.Sub(d.well) >= diskCalm:
		told = append(told, fmt.Sprintf("the recording is safe again, in %s; %d lines are missing in it", filepath.Base(s.Path), s.Missing()))
		d.now = ""
	}
	return told, hint
}

// diskTrouble says what is wrong, and whether the disk is no more than slow.
func diskTrouble(s *link.RecordStatus) (text string, slow bool) {
	switch {
	case s.Err != nil:
		return s.Err.Error(), false
	case s.Behind > link.SafeAfter:
		return fmt.Sprintf("the disk is slow: the newest %.0f s are not on it yet", s.Behind.Seconds()), true
	}
	return "", false
}

func diskHint(s *link.RecordStatus, slow bool) string {
	switch {
	case slow:
		return "is something else busy with this disk? another one: --record DIR"
	case errors.Is(s.Err, syscall.ENOSPC):
		return "make room on the disk of " + filepath.Dir(s.Path) + "; nothing is lost so far"
	}
	return "is the disk of " + filepath.Dir(s.Path) + " still there? the recording goes on in another file once it is"
}

// lookAtRecording tells when the recording is not safe, and when it is again:
// in the journal of the screen, or on standard error.
func (l *live) lookAtRecording() {
	if l.rec == nil {
		return
	}
	told, hint := l.disk.look(l.rec.Status(), time.Now())
	for _, text := range told {
		l.say(text)
	}
	if hint != "" {
		l.note("hint: %s", hint)
	}
}
