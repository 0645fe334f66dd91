package detect

// ringFrames is the depth of a level: the longest window at the highest rate
// that a level may have for it.
const ringFrames = 1280

// tapeFrames is the room of a tape. When it is full the newest ringFrames move
// to its front, so that any stretch of them lies in one piece: windows look at
// it where it is.
const tapeFrames = 2 * ringFrames

// level is one rate of the pyramid: the newest frames, signal by signal, and
// what the demand explains of them.
type level struct {
	rate   float64 // frames a second
	n      int     // frames since all was dropped
	end    int     // of those that are on the tape
	v      [signals][]float64
	real   []bool
	lookAt int   // of n: then a window of this level is to look
	holes  []int // frames without a sample of their own that lie before each place

	// Answers of output and rate to the demand, and what is left of the two
	// without them; made for the newest depth frames when they are asked for.
	depth    int // of the longest window
	answered [2][]float64
	left     [2][]float64
	theta    [2][basis]float64 // that they were made with
	done     int               // of n
}

func newLevel(rate float64) level {
	l := level{rate: rate, real: make([]bool, tapeFrames), holes: make([]int, tapeFrames+1)}
	room := make([]float64, (signals+4)*tapeFrames) // of all signals
	tape := func() []float64 {
		t := room[:tapeFrames:tapeFrames]
		room = room[tapeFrames:]
		return t
	}
	for i := range l.v {
		l.v[i] = tape()
	}
	for c := range l.left {
		l.answered[c], l.left[c] = tape(), tape()
	}
	return l
}

// clear drops all frames.
func (l *level) clear() {
	l.n, l.end, l.done = 0, 0, 0
	l.holes[0] = 0
}

// push adds a frame, and reports whether it is time for a window to look.
func (l *level) push(f *frame) bool {
	if l.end == tapeFrames {
		l.rewind()
	}
	for i := range l.v {
		l.v[i][l.end] = f.v[i]
	}
	holes := l.holes[l.end]
	if !f.real {
		holes++
	}
	l.real[l.end], l.holes[l.end+1] = f.real, holes
	l.end++
	l.n++
	return l.n >= l.lookAt
}

func (l *level) rewind() {
	const from = tapeFrames - ringFrames
	for i := range l.v {
		copy(l.v[i], l.v[i][from:])
	}
	for c := range l.left {
		copy(l.answered[c], l.answered[c][from:])
		copy(l.left[c], l.left[c][from:])
	}
	copy(l.real, l.real[from:])
	copy(l.holes, l.holes[from:])
	l.end = ringFrames
}

// halve makes a frame of half the rate for every second one, with a
// linear-phase half-band filter of eleven points (see half).
func (l *level) halve(out *frame) bool {
	if l.n < halfTaps || l.n%2 == 1 {
		return false
	}
	from := l.end - halfTaps
	for i := range out.v {
		out.v[i] = halfBand((*[halfTaps]float64)(l.v[i][from:l.end]))
	}
	out.real = l.real[l.end-6] || l.real[l.end-5]
	return true
}

// answer brings up to date what the demand explains by the model theta. While
// nothing is learned only the newest frames cost anything.
func (l *level) answer(theta *[2][basis]float64) {
	from := l.end - (l.n - l.done)
	if *theta != l.theta {
		l.theta, from = *theta, 0
	}
	l.done = l.n
	from = max(from, l.end-l.depth, 0)
	for c, signal := range [2]int{sigU, sigY} {
		x := l.v[signal][from:l.end]
		answered, left := l.answered[c][from:l.end][:len(x)], l.left[c][from:l.end][:len(x)]
		t := theta[c]
		if t == [basis]float64{} {
			clear(answered)
			copy(left, x)
			continue
		}
		var v [basis][]float64
		for i := range v {
			v[i] = l.v[i][from:l.end][:len(x)]
		}
		for k := range x {
			s := t[0]*v[0][k] + t[1]*v[1][k] + t[2]*v[2][k] + t[3]*v[3][k] + t[4]*v[4][k] + t[5]*v[5][k]
			answered[k], left[k] = s, x[k]-s
		}
	}
}

// newest are the newest n frames of a signal. They are valid until the next
// push.
func (l *level) newest(x []float64, n int) []float64 { return x[l.end-n : l.end] }
