package dashboard

import (
	"context"
	"time"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/dashboard/sound"
	"tetherbell/dashboard/vigil"
)

// RunWatched is [Run] for a screen that others look after, and that looks after
// them. It beats whenever a picture has gone out to the terminal. A desk or a
// sound that stands still is said on the screen, without a new frame; for a
// sound the terminal's bell stands in, struck from here.
func RunWatched(ctx context.Context, screen tcell.Screen, latest func() *Frame, act func(Act), bell <-chan struct{}, watch *vigil.Watch) error {
	err := run(ctx, screen, latest, act, bell, watch)
	if err == nil {
		watch.Rest(vigil.Screen)
	}
	return err
}

// others is what the painter has seen of them; the zero value: all is well.
type others struct {
	desk, sound             time.Time // since when it stands still; zero: it goes
	deskBroken, soundBroken bool
	beaconStill             bool
}

// lookAround is the painter's look at the others. changed: the screen must say
// something else now.
func (r *runner) lookAround(now time.Time) (changed bool) {
	for _, f := range r.eyes.Look(now) {
		if f.Kind == vigil.Whole || f.Kind == vigil.Slept {
			r.forgive = true // the frame is old because all was stopped
		}
	}
	var o others
	if since, down := r.eyes.Down(vigil.Desk); down {
		o.desk, o.deskBroken = since, r.eyes.Broken(vigil.Desk)
	}
	if since, down := r.eyes.Down(vigil.Sound); down {
		o.sound, o.soundBroken = since, r.eyes.Broken(vigil.Sound)
	}
	_, o.beaconStill = r.eyes.Down(vigil.Beacon)
	changed = o != r.others || r.forgive
	r.others = o
	return changed
}

// seen is the newest frame with what the screen itself has seen of the others.
func (b *board) seen() *Frame {
	o := &b.others
	if b.frame == nil || *o == (others{}) {
		return b.frame
	}
	f := *b.frame
	st := &f.Status
	if !o.desk.IsZero() {
		st.EngineStill, st.EngineBroken = b.now().Sub(o.desk), o.deskBroken
	}
	if !o.sound.IsZero() {
		st.SoundStill = true
		st.Heard = sound.State{Way: sound.Silent, Lost: true, Since: o.sound}
		st.Sound = "the sound stands still, " + span(b.now().Sub(o.sound).Seconds()) + " by now"
		if o.soundBroken {
			st.Sound = "the sound has broken down"
		}
		st.Heard.Why = st.Sound
	}
	if o.beaconStill {
		st.Beacon, st.BeaconFallen = "STANDS STILL: its line may say that all is well", true
		if st.BeaconError == "" {
			st.BeaconError = "it stands still: its line may say that all is well"
		}
	}
	return &f
}

// engineBulletin is for a desk that judges no more.
func engineBulletin(s *alarms.Snapshot, st *Status) bulletin {
	b := bulletin{
		level: detect.High, filled: true, flashing: true,
		head: "NOT WATCHED", order: "CUT THROTTLE", tag: "THE MONITOR STANDS STILL",
		text: "the engine has judged nothing for " + span(st.EngineStill.Seconds()) + "; no alarm can ring",
		more: "first: cut throttle, press stop; what stands below is old",
	}
	if st.EngineBroken {
		b.tag, b.text = "THE MONITOR HAS BROKEN DOWN", "the engine judges nothing any more; no alarm can ring"
	}
	if s.Armed == detect.No {
		b.order = "DO NOT ARM"
		b.more = "start the watch again before anything turns; what stands below is old"
	}
	return b
}

// sounding is what should be heard: as a frame has it, while somebody judges.
func (r *runner) sounding(f *Frame) detect.Priority {
	switch {
	case !r.others.desk.IsZero():
		return detect.High // nothing is watched
	case f == nil || f.Snap == nil:
		return detect.None
	}
	return f.Snap.Sounding
}
