package main

import (
	"fmt"
	"io"
	"time"

	"tetherbell/alarms"
	"tetherbell/dashboard"
)

// act carries out what the person did.
func (r *replayer) act(a dashboard.Act) error {
	r.hint = ""
	switch a.Kind {
	case dashboard.Acknowledge:
		r.hint = "a replay acknowledges what was acknowledged on the day"
		r.aud.sound.Cut() // the alarm stays, and rings again when it is due
	case dashboard.PauseSound:
		r.quietTo = time.Now().Add(time.Duration(a.Seconds * float64(time.Second)))
		r.hear(new(alarms.Snapshot)) // before the hush: nothing is wanted any more
		r.aud.sound.Hush()
	case dashboard.CardAct:
		r.hint = "a replay ticks what was ticked on the day"
	case dashboard.ToggleTick:
		r.aud.tick = !r.aud.tick
	case dashboard.ReplayPause:
		r.paused = !r.paused
	case dashboard.ReplayStep:
		r.paused = true
		r.pos = min(r.pos+stepUS, r.about.length)
		return r.advance(r.pos)
	case dashboard.ReplayJump:
		return r.jump(r.pos + int64(a.Seconds*1e6))
	case dashboard.ReplayFaster:
		r.speed = min(2*r.speed, maxSpeed)
	case dashboard.ReplaySlower:
		r.speed = max(r.speed/2, minSpeed)
	}
	return nil
}

// jump goes to another place. Nothing is left out on the way: going back, the
// engine starts anew, and what lies between is judged without a sound.
func (r *replayer) jump(to int64) error {
	to = min(max(to, 0), r.about.length)
	if to < r.pos || r.ended {
		if _, err := r.file.Seek(0, io.SeekStart); err != nil {
			return fmt.Errorf("read recording %s: %w", r.name, err)
		}
		r.rewind()
	}
	r.aud.quiet = true
	r.pos = to
	err := r.advance(to)
	r.aud.quiet = false
	return err
}
