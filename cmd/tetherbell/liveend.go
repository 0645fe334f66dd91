package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"tetherbell/alarms/detect"
	"tetherbell/dashboard/sound"
)

// closeRecording ends the recording with what it came to.
func (l *live) closeRecording() {
	if l.desk.rec == nil {
		return
	}
	l.desk.rec = nil // what is judged from now on is not of the recording
	if err := l.rec.Close(appendEnd(nil, l.desk, filepath.Base(l.rec.Status().Path)), recordPatience); err != nil {
		l.recErr = hinted(err, "what is in it can be judged: tetherbell check "+l.rec.Status().Path+"; make room there, or record into another folder")
	}
}

// tellBlind tells that lines ended with an armed craft, where no screen does.
func (l *live) tellBlind() {
	if !l.blind {
		return
	}
	l.desk.eng.PauseSound(0) // it was meant for what rang then
	l.note("the input ended while the craft was ARMED: nobody watches it any more")
	l.note("hint: cut throttle and press stop; then start the watch again")
}

// end is the desk's last act.
func (l *live) end(ctx context.Context) {
	if ctx.Err() != nil { // somebody ends it: what takes time now is no stall
		l.left = true
		l.dog.end()
	}
	l.takeLeave()
	l.inputEnded(nil)
	if l.aud.out == nil {
		return
	}
	if l.blind && !l.left && !l.unheard() {
		l.soundBlind(ctx)
	}
	l.dog.end()
	sum := l.desk.eng.Summary()
	if l.aud.form == asJSON {
		l.aud.out.print(sum.AppendJSON(nil, l.file))
	} else {
		for _, s := range l.verdict() {
			l.aud.out.say(s)
		}
	}
	if l.desk.good == 0 && l.name == stdinName && ctx.Err() == nil {
		l.sayNothingCame()
	}
	dropped, err := l.aud.out.close(ctx.Done(), printPatience)
	switch {
	case err != nil && !l.staged:
		l.outErr = hinted(errors.New("standard output was gone before the end: not all events were seen"),
			"what reads it must read to the end; a recording keeps them all: --record DIR")
	case dropped > 0 && err == nil:
		l.note("%d lines of output were dropped: nobody read them", dropped)
	}
	l.notes.close(ctx.Done(), printPatience)
}

// unheard says whether nobody is left whom a watch without a screen could tell
// anything: its output is gone, standard error too, and it has no sound. As long as
// somebody is, it goes on: the alarm may be the very next line. A demonstration is
// over with its output.
func (l *live) unheard() bool {
	switch {
	case !l.mute:
		return false
	case l.staged:
		return true
	}
	return l.deaf && (l.aud.sound == nil || l.aud.sound.State().Way != sound.Audio)
}

// bellTime is what the bell's group for a high alarm takes: three strokes, 0.35 s
// apart. One alone would be a low alarm.
const bellTime = 1100 * time.Millisecond

// soundBlind lets the alarm be heard that showNow has asked for, where the program
// would else end before it.
func (l *live) soundBlind(ctx context.Context) {
	if l.aud.sound == nil {
		return
	}
	high, _ := sound.PatternOf(detect.High)
	length := high.Length()
	if l.aud.sound.State().Way != sound.Audio {
		length = bellTime
	}
	burst := time.NewTimer(length)
	defer burst.Stop()
	select {
	case <-burst.C:
	case <-ctx.Done():
	}
}

// verdict is what the watch came to, in lines. It is asked for once the desk
// has ended, or by the desk.
func (l *live) verdict() []string {
	sum := l.desk.eng.Summary()
	l.desk.notes.headed = false // a recording that still grows breaks off nowhere
	out := l.desk.verdict(l.file, &sum)
	if l.rec == nil {
		return out
	}
	s := l.rec.Status()
	if n := s.Missing(); n > 0 {
		out = append(out, fmt.Sprintf("  NOT ALL RECORDED: %d lines that were judged here are not in %s", n, s.Path))
	}
	if l.recErr == nil {
		out = append(out, "recorded: "+s.Path)
		if s.Files > 1 {
			out = append(out, fmt.Sprintf("  the last of %d files: each names the one that it continues", s.Files))
		}
		out = append(out, "  a page of it: tetherbell report "+s.Path)
	}
	return out
}

// sayNothingCame tells that standard input had no good line: the end status
// does not.
func (l *live) sayNothingCame() {
	if l.desk.bytes == 0 {
		l.note("standard input was empty: nothing was watched")
	} else {
		l.note("not one good line came on standard input: nothing was watched")
	}
	l.note("hint: what comes before the | must write lines of the bench bridge, as in: tetherbell simulate | tetherbell watch -")
}

// afterScreen tells lines once the screen has given the terminal back. One
// that takes no output does not hold up the end.
func afterScreen(con *console, lines []string) {
	ended := make(chan struct{})
	close(ended)
	p := newPrinter(con.out)
	w := columns(con.out)
	for _, s := range lines {
		for _, part := range fold(printable(s), w) {
			p.say(part)
		}
	}
	_, _ = p.close(ended, printPatience)
}

// verdictAfter does so with a verdict.
func verdictAfter(con *console, lines []string) {
	w, h := sizeOf(con.out)
	afterScreen(con, inSight(lines, w, h))
}
