package sound

import (
	"sync"
	"sync/atomic"
)

// fadeSamples is the length of the cross-fade when one burst cuts another
// off: 5 ms, long enough for no click, too short to be heard as a fade.
const fadeSamples = Rate / 200

// A voice is where one device gets its samples: silence, or the burst that
// was started last. The device's thread pulls, the player starts; the lock is
// held for the copying of one pull.
type voice struct {
	pulls atomic.Uint64 // how often the device has asked

	mu    sync.Mutex
	burst []int16 // the rest of the burst that sounds
	tail  []int16 // the end of the burst that was cut off, faded already
}

// fill gives the device its next samples.
func (v *voice) fill(dst []int16) {
	v.pulls.Add(1)
	v.mu.Lock()
	defer v.mu.Unlock()
	n := copy(dst, v.burst)
	v.burst = v.burst[n:]
	clear(dst[n:])
	m := min(len(dst), len(v.tail))
	for i, s := range v.tail[:m] {
		dst[i] = clip(int32(dst[i]) + int32(s))
	}
	v.tail = v.tail[m:]
}

// start lets a burst sound from its beginning; one that sounds now fades out
// under it. A burst begins in silence, so the sum hardly ever needs clip.
func (v *voice) start(burst []int16) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.cutLocked()
	v.burst = burst
}

// stop fades out what sounds now.
func (v *voice) stop() {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.cutLocked()
}

func (v *voice) cutLocked() {
	old := v.tail // cut off only just now: goes on fading under the new tail
	n := min(fadeSamples, len(v.burst))
	tail := make([]int16, max(n, len(old)))
	for i, s := range v.burst[:n] {
		tail[i] = int16(int32(s) * int32(fadeSamples-i) / fadeSamples)
	}
	for i, s := range old {
		tail[i] = clip(int32(tail[i]) + int32(s))
	}
	v.tail, v.burst = tail, nil
}

func clip(s int32) int16 { return int16(max(-32768, min(32767, s))) }
