package sound

import (
	"sync"

	"tetherbell/alarms/detect"
)

// A wish is what the caller last wanted. It is written by the player's
// methods and taken by its loop; newest wins, but a new alarm is kept until it
// was taken, or one that came and went between two looks would never be heard.
type wish struct {
	mu    sync.Mutex // held for a few assignments only
	want  detect.Priority
	seq   uint64
	once  asked
	rotor rotorNoise
}

// asked is what is taken once.
type asked struct {
	owed  detect.Priority // the worst priority asked with a grown seq
	hush  bool
	renew bool     // after the hush, what is wanted begins anew at once
	names []Naming // nil: as before
	news  string   // to say where no alarm sounds
	chime int8     // 1 rising, -1 falling
}

func (w *wish) put(p detect.Priority, seq uint64) {
	if p < detect.Low {
		p = detect.None
	}
	p = min(p, detect.High)
	w.mu.Lock()
	defer w.mu.Unlock()
	if seq > w.seq {
		w.once.owed = max(w.once.owed, p)
	}
	w.want, w.seq = p, seq
}

// quiet takes back what was asked and is not under way yet, but for a new
// alarm that is wanted still.
func (w *wish) quiet(renew bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.once = asked{hush: true, renew: renew, owed: min(w.once.owed, w.want), names: w.once.names}
}

func (w *wish) name(list []Naming) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.once.names = list
}

func (w *wish) tellNews(text string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.once.news = text
}

func (w *wish) ringChime(way int8) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.once.chime = way
}

func (w *wish) rotors(hz []float64, blades int) {
	r := noiseOf(hz, blades)
	w.mu.Lock()
	defer w.mu.Unlock()
	w.rotor = r
}

// take hands over what is wanted, and what was asked since the last time.
func (w *wish) take() (detect.Priority, asked) {
	w.mu.Lock()
	defer w.mu.Unlock()
	once := w.once
	w.once = asked{}
	return w.want, once
}

func (w *wish) noise() rotorNoise {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.rotor
}
