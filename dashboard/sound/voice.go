package sound

import (
	"sync"
	"sync/atomic"
)

// fadeSamples is the length of the cross-fade when one burst cuts another
// off: 5 ms, long enough for no click, too short to be heard as a fade.
const fadeSamples = Rate / 200

// A voice is where one device gets its samples: silence, the burst that was
// started last, a chime, or what sounds under the alarms. The device's thread
// pulls, the player starts; the lock is held for the making of one pull.
type voice struct {
	pulls  atomic.Uint64 // how often the device has asked
	broken atomic.Bool   // the making of samples has panicked
	under  *under        // nil: nothing sounds under the alarms

	mu     sync.Mutex
	burst  []int16            // the rest of the burst that sounds
	soft   []int16            // the rest of a chime; never beside a burst
	tail   []int16            // in fading: the end of what was cut off, faded already
	fading [fadeSamples]int16 // what tail lies in
	murmur murmur
}

// fill gives the device its next samples.
func (v *voice) fill(dst []int16) {
	if v.broken.Load() {
		clear(dst)
		return
	}
	defer v.rescue(dst)
	v.pulls.Add(1)
	v.mu.Lock()
	defer v.mu.Unlock()
	n := copy(dst, v.burst)
	v.burst = v.burst[n:]
	k := copy(dst[n:], v.soft)
	v.soft = v.soft[k:]
	clear(dst[n+k:])
	m := min(len(dst), len(v.tail))
	for i, s := range v.tail[:m] {
		dst[i] = clip(int32(dst[i]) + int32(s))
	}
	v.tail = v.tail[m:]
	if v.under != nil {
		v.murmur.add(dst, v.under, n)
	}
}

// start lets a burst sound from its beginning; what sounds now fades out
// under it. A burst begins in silence, so the sum hardly ever needs clip.
func (v *voice) start(burst []int16) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.cutLocked()
	v.burst = burst
}

// chime lets a soft sound be heard, unless a burst sounds.
func (v *voice) chime(soft []int16) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if len(v.burst) == 0 {
		v.cutLocked()
		v.soft = soft
	}
}

// stop fades out what sounds now.
func (v *voice) stop() {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.cutLocked()
}

// cutLocked makes the tail of what sounds now. One that was cut off only just
// before goes on fading under the new one.
func (v *voice) cutLocked() {
	old, now := v.tail, v.burst
	if len(now) == 0 {
		now = v.soft
	}
	n := min(fadeSamples, len(now))
	tail := v.fading[:max(n, len(old))]
	for i := range tail { // old lies in fading too, never before i
		var s int32
		if i < n {
			s = int32(now[i]) * int32(fadeSamples-i) / fadeSamples
		}
		if i < len(old) {
			s += int32(old[i])
		}
		tail[i] = clip(s)
	}
	v.tail, v.burst, v.soft = tail, nil, nil
}

func clip(s int32) int16 { return int16(max(-32768, min(32767, s))) }
