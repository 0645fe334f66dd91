package sound

import (
	"context"
	"errors"
	"time"
)

// errNoServer means that there is nothing to play through, the usual state of
// a machine without a desktop.
var errNoServer = errors.New("no sound server")

var errStalled = errors.New("the audio does not answer")

const (
	// look is how often the pulls of the device are looked at.
	look = 100 * time.Millisecond
	// stalledLooks without a pull mean a dead device: 500 ms. Looks are
	// counted, not time, so a program that was itself stopped for a while
	// does not blame the device.
	stalledLooks = 5
	// startLooks is the same until the device flows: an idle output was
	// measured to take up to 2 s to wake.
	startLooks = 30
	// flowing is the number of pulls after which a device is taken to play;
	// the first ones only fill its buffer.
	flowing = 3
	// openLimit is how long an attempt to open a device may take before it is
	// told that there is none: twice what the slowest answers add up to.
	openLimit = 10 * time.Second
	// retry is the time from a failure to the next attempt.
	retry = 5 * time.Second
)

// An opener opens the audio of this system; ctx ends an attempt. The device
// then pulls from v by itself.
type opener func(ctx context.Context, v *voice) (*device, error)

// A device is an open audio output.
type device struct {
	name  string        // "PulseAudio server"
	gone  <-chan error  // says once why the device is lost; nil when it cannot tell
	mute  func() string // why nobody hears what is played, "" when they do; nil when it cannot tell
	close func()        // ends it; bounded in time

	voice *voice
	pulls uint64 // at the last look
	idle  int    // looks without a pull
	at    time.Time
}

// flows says whether the device plays already.
func (d *device) flows() bool { return d.voice.pulls.Load() >= flowing }

// unheard says why what is played is not heard, "" if it is.
func (d *device) unheard() string {
	if d.mute == nil {
		return ""
	}
	return d.mute()
}

// stalled looks at the device and says whether it is dead.
func (d *device) stalled(now time.Time) bool {
	if now.Sub(d.at) < look {
		return false
	}
	d.at = now
	pulls := d.voice.pulls.Load()
	if pulls != d.pulls {
		d.pulls, d.idle = pulls, 0
		return false
	}
	d.idle++
	if d.flows() {
		return d.idle >= stalledLooks
	}
	return d.idle >= startLooks
}
