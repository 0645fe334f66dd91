package detect

import (
	"math"
)

const (
	trackTime  = Second / 100
	trackKeep  = 1024 // bins of trackTime: ten seconds
	trackSpan  = (trackKeep - 64) * trackTime
	stickKeep  = 512        // state lines: ten seconds at the fastest
	trackReach = Second / 5 // values farther apart are not joined by a line
)

// A track is one signal in equal bins of time, so that it can be asked for its
// value at any moment of the last ten seconds.
type track struct {
	v    [trackKeep]float64
	slot [trackKeep]int64 // whose value that is
	n    float64          // values in the newest bin
	last int64            // newest bin, -1 none
}

func (t *track) clear() {
	for i := range t.slot {
		t.slot[i] = -1
	}
	t.last = -1
}

func (t *track) put(at int64, v float64) {
	slot := at / trackTime
	switch i := slot % trackKeep; {
	case slot < t.last:
	case slot == t.last:
		t.n++
		t.v[i] += (v - t.v[i]) / t.n
	default:
		t.v[i], t.slot[i], t.n, t.last = v, slot, 1, slot
	}
}

// at returns the value at a time, on a straight line between its neighbours.
func (t *track) at(when int64) (float64, bool) {
	slot := (when - trackTime/2) / trackTime
	if when < trackTime/2 { // before the session began
		return 0, false
	}
	low, high := slot, slot+1
	for ; low > slot-trackReach/trackTime && (low < 0 || t.slot[low%trackKeep] != low); low-- {
	}
	for ; high <= slot+trackReach/trackTime && t.slot[high%trackKeep] != high; high++ {
	}
	if low < 0 || t.slot[low%trackKeep] != low || high > slot+trackReach/trackTime || high-low > trackReach/trackTime {
		return 0, false
	}
	a, b := t.v[low%trackKeep], t.v[high%trackKeep]
	x := (float64(when)/float64(trackTime) - 0.5 - float64(low)) / float64(high-low)
	return a + x*(b-a), true
}

// sticks are the last places of the three attitude sticks.
type sticks struct {
	at   [stickKeep]int64
	v    [stickKeep][3]float64
	back [stickKeep]int16 // how many lines back the one a change is held against lies
	head int              // next to be written
	n    int
}

func (s *sticks) clear() { s.n = 0 }

// row is the place of the line that lies i lines before the newest.
func (s *sticks) row(i int) int { return (s.head - 1 - i + 2*stickKeep) % stickKeep }

func (s *sticks) push(at int64, v [3]float64) {
	if s.n > 0 && at <= s.at[s.row(0)] {
		return
	}
	s.at[s.head], s.v[s.head] = at, v
	s.head = (s.head + 1) % stickKeep
	s.n = min(s.n+1, stickKeep)
	k := 1
	for k < s.n-1 && at-s.at[s.row(k)] < changeTime {
		k++
	}
	s.back[s.row(0)] = int16(k)
}

// change returns the move of a stick that ends with the line i before the
// newest, and the times from and to which it lasted; ok is false where that
// line or the one it is held against is not known, or a hole lies between.
func (s *sticks) change(i, axis int) (from, to int64, by float64, ok bool) {
	if i >= s.n {
		return 0, 0, 0, false
	}
	j := i + int(s.back[s.row(i)])
	if j >= s.n {
		return 0, 0, 0, false
	}
	a, b := s.row(j), s.row(i)
	by = s.v[b][axis] - s.v[a][axis]
	return s.at[a], s.at[b], by, s.at[b]-s.at[a] < 4*changeTime && !math.IsNaN(by)
}

// settleLines is how many state lines must follow the one that a movement
// begins with: what lies between two lines is not seen, and a stick that goes to
// and fro within it shows its second half alone, as a move the other way.
const settleLines = 2

// aloneShare is the part of the range of the five lines about one that it must
// stand out by, to both sides, to be a place that was seen once: a lone pulse
// does by all of it, each half of a tap to and fro by half, a peak of a course
// that is followed by less.
const aloneShare = 0.55

// alone reports whether the line i before the newest stands out from the one
// before and the one after, so that nobody knows how long the stick was there.
// The newest is taken to be left again at once.
func (s *sticks) alone(i, axis int) bool {
	if i+1 >= s.n {
		return false
	}
	v := s.v[s.row(i)][axis]
	a, b := v-s.v[s.row(i+1)][axis], v-s.v[s.row(i+1)][axis]
	if i > 0 {
		b = v - s.v[s.row(i-1)][axis]
	}
	if !(a*b > 0) { // also where one is not known
		return false
	}
	low, high := v, v
	for j := max(i-2, 0); j <= min(i+2, s.n-1); j++ {
		if w := s.v[s.row(j)][axis]; !math.IsNaN(w) {
			low, high = min(low, w), max(high, w)
		}
	}
	out := min(math.Abs(a), math.Abs(b))
	return out > movedLeast && out > aloneShare*(high-low)
}

// settled reports whether no movement began so lately that it was seen in a line
// or two only.
func (s *sticks) settled(axis int) bool {
	moving := false
	for i := 0; i <= settleLines; i++ {
		_, _, by, ok := s.change(i, axis)
		moves := ok && math.Abs(by) > movedLeast
		if moving && !moves {
			return false
		}
		moving = moves
	}
	return true
}

const (
	// changeTime: what is held against each other is how far stick and answer
	// moved within this time, not where they are. A craft that holds itself
	// level asks for a rate that dies away as the attitude is reached and turns
	// over as the stick is let go, so places say nothing; moves agree.
	changeTime = Second / 10
	// movedLeast is a move within changeTime that is no trembling, and
	// movedWhole what a movement must come to in all (the least that a hand
	// does on purpose; common practice, no source).
	movedLeast = 0.006
	movedWhole = 0.03
	// moveAround: the quiet before and after a movement speaks too: an answer
	// that also moves when the stick does not is no answer.
	moveAround = Second / 2
)

// A tally sums what two signals' moves have in common.
type tally struct {
	xy, xx, yy float64
	time       float64 // seconds that the moves cover
}

func (t *tally) add(x, y, seconds float64) {
	t.xy += x * y
	t.xx += x * x
	t.yy += y * y
	t.time += seconds
}

// r is the correlation of the moves about nought: a stick at rest has none.
func (t *tally) r() float64 {
	if t.xx <= 0 || t.yy <= 0 {
		return 0
	}
	return t.xy / math.Sqrt(t.xx*t.yy)
}

// z is Fisher's transformation of the correlation in units of its standard
// deviation: atanh(r) times the root of n - 2, as the mean is not estimated
// (Fisher 1921; n - 3 where it is; from memory). Moves over changeTime that
// follow each other sooner are no new samples.
func (t *tally) z() float64 {
	n := t.time/(float64(changeTime)/float64(Second)) - 2
	if n <= 0 {
		return 0
	}
	return math.Atanh(min(max(t.r(), -mostR), mostR)) * math.Sqrt(n)
}

// mostR bounds what a correlation can prove: one that is whole to the last
// digit is no surer.
const mostR = 0.995

const (
	lagStep  = Second * 3 / 100
	demandLo = -1 // the state line may be older than the axes line that answers it
	demandHi = 10 // 0.3 s: the slowest smoothing of a stick (common practice, no source)
	// Motors answer at once; what they do later is the answer to the craft's own
	// turning, and proves nothing in a closed loop.
	motorHi   = 2
	motorTime = Second / 5
)

// verdict is what the moves of a stick and of what answers it say.
type verdict struct {
	r    float64 // correlation at the surest lag
	lag  float64 // s
	z    float64 // how much surer it is than the best of the other sign, standard deviations; its sign is that of r
	most float64 // the largest move of the answer
}

// weigh compares the moves of a stick with those of a track.
func (d *reversedResponse) weigh(axis int, t *track, now int64, first, last int) verdict {
	var best, other verdict
	// When within the time between two lines a stick moved is not known: the
	// right sign may be found so much earlier. The wrong one may not.
	early := int(math.Ceil(d.between() * float64(Second) / float64(lagStep)))
	for lag := first - early; lag <= last; lag++ {
		var sum tally
		most := 0.0
		for i := 0; i < d.stick.n-1; i++ {
			from, to, by, ok := d.stick.change(i, axis)
			if now-to > trackSpan || now-to > d.memory {
				break
			}
			if !ok || !d.counts[i] {
				continue
			}
			shift := int64(lag) * lagStep
			a, okA := t.at(from + shift)
			b, okB := t.at(to + shift)
			if !okA || !okB {
				continue
			}
			sum.add(by, b-a, d.spacing(i))
			most = max(most, math.Abs(b-a))
		}
		v := verdict{r: sum.r(), lag: float64(int64(lag)*lagStep) / float64(Second), z: sum.z(), most: most}
		if lag < first && v.z < 0 {
			continue
		}
		switch {
		case math.Abs(v.z) > math.Abs(best.z):
			if v.z*best.z < 0 {
				other = best
			}
			best = v
		case v.z*best.z < 0 && math.Abs(v.z) > math.Abs(other.z):
			other = v
		}
	}
	if best.z*other.z < 0 {
		best.z += other.z
	}
	return best
}

// spacing is the time that the line i before the newest stands for, seconds.
func (d *reversedResponse) spacing(i int) float64 {
	if i+1 >= d.stick.n {
		return 0
	}
	dt := d.stick.at[d.stick.row(i)] - d.stick.at[d.stick.row(i+1)]
	return float64(min(dt, changeTime)) / float64(Second)
}

// between is the time between the newest state lines, seconds.
func (d *reversedResponse) between() float64 {
	longest := 0.0
	for i := range settleLines {
		longest = max(longest, d.spacing(i))
	}
	return longest
}

// mark notes which lines count: those around a movement, or only those before
// and just after its beginning from rest. It returns the stick's whole range
// over them.
func (d *reversedResponse) mark(axis int, now int64, onset bool) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	n := min(d.stick.n-1, stickKeep-1)
	for i := range n {
		d.counts[i] = false
	}
	since := int64(-1) << 40 // end of the last movement, walking forward
	begin := int64(-1) << 40
	for i := n - 1; i >= 0; i-- { // oldest first
		from, to, by, ok := d.stick.change(i, axis)
		if !ok || now-to > d.memory {
			continue
		}
		if math.Abs(by) > movedLeast {
			if from-since > moveAround {
				begin = from
				for j := i; j < n; j++ { // the rest before it
					if _, t, _, ok := d.stick.change(j, axis); !ok || from-t > moveAround {
						break
					}
					d.counts[j] = true
				}
			}
			since = to
		}
		in := to-since <= moveAround
		if onset {
			in = to-begin <= motorTime && to > begin
		}
		if in {
			d.counts[i] = true
		}
	}
	d.forgetAlone(axis, n)
	for i := range n {
		if d.counts[i] {
			v := d.stick.v[d.stick.row(i)][axis]
			low, high = min(low, v), max(high, v)
		}
	}
	return high - low
}

// forgetAlone takes out the moves to and from places that were seen once.
func (d *reversedResponse) forgetAlone(axis, n int) {
	for i := range n {
		if !d.stick.alone(i, axis) {
			continue
		}
		d.counts[i] = false
		for j := i - 1; j >= 0 && j+int(d.stick.back[d.stick.row(j)]) >= i; j-- {
			if j+int(d.stick.back[d.stick.row(j)]) == i {
				d.counts[j] = false
			}
		}
	}
}

// newestMove reports whether the newest line, or one shortly before it, moved
// the stick.
func (d *reversedResponse) newestMove(axis int) bool {
	now := d.stick.at[d.stick.row(0)]
	for i := 0; i < d.stick.n-1; i++ {
		_, to, by, ok := d.stick.change(i, axis)
		if now-to > moveAround {
			return false
		}
		if ok && math.Abs(by) > movedLeast {
			return true
		}
	}
	return false
}

// differences are what the motors do about roll and pitch, by the layout: the
// parts of their outputs that would turn the craft the positive way.
func (d *reversedResponse) differences(b *Bench, at int64) {
	f, ok := airframeOf(&b.Craft)
	if !ok || f.count != b.Motors {
		return
	}
	var x, y, xx, yy float64
	for i := range f.count {
		if !b.Out[i].OK {
			return
		}
		a := f.arms[i]
		y -= b.Out[i].V * a.y // thrust on the right lifts the right side
		x += b.Out[i].V * a.x
		xx += a.x * a.x
		yy += a.y * a.y
	}
	d.motor[0].put(at, y/yy)
	d.motor[1].put(at, x/xx)
}
