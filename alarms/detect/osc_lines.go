package detect

import "math"

const (
	linePast  = 64          // speeds kept of each rotor
	lineEvery = Second / 20 // between two of them: 3.2 s in all, the longest window
	// lineError is how far a reported speed may be off, as a share: real
	// machines agree with their reports within 2 %, a rotor's own report is far
	// better (it counts turns); half a percent covers its lateness too.
	lineError = 0.005
	// lineSweep: a line that moved by more than this many resolution cells of
	// the window cannot stand in it as one narrow tone.
	lineSweep = 3.0
)

// rotorLines knows at which frequencies the rotors shake the craft, now and
// in the last seconds.
type rotorLines struct{ speeds }

// near reports whether f may be a rotor line (once, twice and blade pass) or
// the fold of one at the stream's rate, in a window of the given length that
// ends at now. A rotor whose speed moved too much to stand in the window as
// one tone is not suspected.
func (l *rotorLines) near(f, rate float64, now int64, window float64) bool {
	if !l.known(now) {
		return false
	}
	cell := 1 / window
	for m := range l.motors {
		low, high := math.Inf(1), 0.0
		for i := range l.rows() {
			k := l.row(i)
			if seconds(now-l.at[k]) > window+seconds(lineEvery) {
				break
			}
			if v := l.hz[k][m]; v > 0 {
				low, high = min(low, v), max(high, v)
			}
		}
		if high == 0 {
			continue
		}
		for _, order := range [...]float64{1, 2, l.blades} {
			if order*(high-low) > lineSweep*cell {
				continue
			}
			room := cell + lineError*order*high
			if math.Abs(fold(order*low, rate)-f) < room || math.Abs(fold(order*high, rate)-f) < room {
				return true
			}
		}
	}
	return false
}

// thrustPast is the history of the thrust that the outputs ask for: where no
// rotor speed is reported, it tells how a rotor line must move.
type thrustPast struct {
	v  [linePast]float64
	at [linePast]int64
	n  int
}

// set notes the mean output, or the throttle where none is measured.
func (p *thrustPast) set(now int64, v float64) {
	if p.n > 0 && now-p.at[(p.n-1)%linePast] < lineEvery {
		return
	}
	p.v[p.n%linePast], p.at[p.n%linePast] = v, now
	p.n++
}

// rotorLag is how far a rotor follows its output behind (common practice, no
// source: 30 to 80 ms for propellers of this size).
const rotorLag = Second / 20

// ratio returns the thrust's output at one time over that at another, 1 where
// it is not known.
func (p *thrustPast) ratio(from, to int64) float64 {
	a, b := p.before(from-rotorLag), p.before(to-rotorLag)
	if a <= 0.01 || b <= 0.01 {
		return 1
	}
	return b / a
}

func (p *thrustPast) before(t int64) float64 {
	for i := range min(p.n, linePast) {
		if k := (p.n - 1 - i) % linePast; p.at[k] <= t {
			return p.v[k]
		}
	}
	return 0
}

const (
	// followsRotor: a tone that moves by this share of what the speeds or
	// outputs move by is a rotor's, or the fold of one. Speed follows output at
	// least by its square root; a loop's own frequency follows its gain by a
	// third or so, and such a tone is not told from a rotor's until it is near
	// the limit.
	followsRotor = 0.3
	// foldsLow: under lineFloor only the fold of a line can stand, which moves
	// further than a line there would.
	foldsLow = 1.0
	// apart: the movement that is looked for must be so many of its standard
	// errors before it tells anything.
	apart = 5.0
	// apartCell, of the window's resolution: several lines in one cell pull a
	// frequency to and fro by more than its standard error says.
	apartCell = 0.3
	// thrustMoves: outputs that moved by less than this share in lineMemory
	// count as steady: at 60 Hz a line then stays within a cell or so.
	thrustMoves = 0.02
	lineMemory  = 5 * Second / 2
	// lineFloor is the lowest line of a turning rotor that is looked for, hertz:
	// 900 rev/min, well under any armed idle.
	lineFloor = 15.0
)

// ratio returns the rotors' mean speed at one time over that at another.
func (l *rotorLines) ratio(from, to int64) float64 {
	a, b := l.mean(from), l.mean(to)
	if a == 0 || b == 0 {
		return 1
	}
	return b / a
}

// mean is the mean speed of the rotors that turned at a time.
func (l *rotorLines) mean(t int64) float64 {
	for i := range l.rows() {
		k := l.row(i)
		if l.at[k] > t {
			continue
		}
		sum, n := 0.0, 0.0
		for _, v := range l.hz[k][:l.motors] {
			if v > 0 {
				sum, n = sum+v, n+1
			}
		}
		if n > 0 {
			return sum / n
		}
		return 0
	}
	return 0
}

// A likeness says whether a tone may be a rotor's.
type likeness uint8

const (
	unlike   likeness = iota // it does not move with the rotors, or they stand still
	notKnown                 // the rotors move, and it cannot be told yet
	alike                    // it moves with them
)

// likeRotor reports whether the tone of a window moves as a rotor line does.
// ratio tells by how much the rotors' speed changed between two times.
func likeRotor(w *oscBand, ratio func(from, to int64) float64) likeness {
	t, run := &w.now, &w.run
	if run.hits < 1 {
		return unlike
	}
	// A line that has just moved into the window's band stands out of the
	// usual power there, which knows it at its old place.
	if math.Abs(ratio(t.at-lineMemory, t.at)-1) < thrustMoves {
		return unlike
	}
	moved := ratio(run.since, t.at) - 1
	expected := math.Abs(run.first * moved)
	drift := math.Abs(t.hz - run.first)
	if t.hz < lineFloor {
		if drift > foldsLow*expected+apart*t.fit.FrequencyErr*w.rate {
			return alike
		}
		return unlike
	}
	switch {
	case drift > followsRotor*expected && drift > apart*t.fit.FrequencyErr*w.rate:
		return alike
	case expected < max(apart*math.Sqrt2*t.fit.FrequencyErr*w.rate, apartCell/w.seconds):
		return notKnown
	case drift > followsRotor*expected:
		return alike
	}
	return unlike
}

// fold is where a frequency appears in a stream of the given rate that was
// sampled without a filter.
func fold(hz, rate float64) float64 { return math.Abs(hz - rate*math.Round(hz/rate)) }
