package main

import (
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
		r.pos = r.within(r.pos + stepUS)
		return r.advance(r.pos)
	case dashboard.ReplayJump:
		return r.jump(r.pos + int64(a.Seconds*1e6))
	case dashboard.ReplaySight:
		return r.sight(a.Seconds < 0)
	case dashboard.ReplayLoop:
		r.hint = r.loop.press(r.pos)
	case dashboard.ReplayFaster:
		r.speed = min(2*r.speed, maxSpeed)
	case dashboard.ReplaySlower:
		r.speed = max(r.speed/2, minSpeed)
	}
	return nil
}
