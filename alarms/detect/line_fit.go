package detect

import (
	"math"

	"tetherbell/decode"
)

const (
	// Pole counts that motors of multirotors have, all even (common practice, no
	// source). What the craft says is looked at beside them.
	fewestPoles = 8
	mostPoles   = 28
	poleCounts  = (mostPoles-fewestPoles)/2 + 2
	// lineLow is the lowest frequency at which a line is looked for: under it
	// the craft moves of itself.
	lineLow = 12.0
	// strongest, over the noise: lines are taken to be as likely of one strength
	// as of another up to it.
	strongest = 1000.0
	// lineWorth caps what one segment says for a line: one in fifty tones at a
	// rotor's frequency is something else (common practice, no source).
	lineWorth = 4.0
	// lineHidden: an order that is too small to be heard at low speeds may still
	// come out at higher ones; what speaks against it is not piled up further.
	lineHidden = -4.0
	// stateMemory: the evidence of the n-th segment at one speed counts for
	// 1/(1+n/stateMemory). A tone that stands still may meet a line by chance
	// for as long as the speed is held: only the lines move with it.
	stateMemory = 2.0
	// speedStep is what counts as another speed: two resolution cells at 100 Hz.
	speedStep   = 0.02
	speedStates = 512
	// linePenalty, in nats, for each line that is said to be there: odds of one
	// to fifty before anything is heard. A tone that stands still, and is crossed
	// on the way up, wins about so much.
	linePenalty = 4.0
	// balanced is the chance that a rotor shows its blades' passing, and once a
	// turn not at all: every rotor has some unbalance. Four of them so good are
	// one craft in 600. Twice a turn alone, where that is not blade pass, is
	// rarer by bentAlone: what makes it makes once a turn too. (Common practice,
	// no source.)
	balanced  = 0.2
	bentAlone = 0.1
	// firstShare: once a turn must have so much of the evidence of the clearest
	// other order: a tone that is met at one speed and not at the others (a loop
	// that swings at half a rotor's speed) has less (common practice, no source).
	firstShare = 0.15
	// shared: segments overlap by half, axes feel one force and rotors of one
	// speed share a line, so they say the same thing several times.
	shared = 0.25
)

// lineFit weighs the pole counts by the lines that each would make: for every
// count, motor, order and axis the logarithm of the odds that a line stands
// where the reported speed puts it, summed over segments. A line's power is
// exponentially distributed about its mean, as noise is; its mean over the
// noise's may be anything up to strongest, uniformly in its logarithm.
type lineFit struct {
	poles    [poleCounts]int
	odds     [2][poleCounts][decode.MaxMotors][3][3]float64
	seen     [2][speedStates]uint16
	met      [2][poleCounts][decode.MaxMotors][3]meeting
	segments int
	states   int // different speeds that were heard

	score  [poleCounts]float64
	best   int // index
	sure   float64
	ahead  float64 // of the next best, nats
	stated int     // index of what the craft says, -1 nothing
	agree  int     // motors that the best count fits best by themselves
	speak  int     // motors that say something
}

func (f *lineFit) clear() {
	*f = lineFit{stated: -1}
	for i := range poleCounts - 1 {
		f.poles[i] = fewestPoles + 2*i
	}
}

// claim notes what the craft says.
func (f *lineFit) claim(poles int) {
	f.stated = -1
	for i, p := range f.poles {
		if p == poles && p > 0 {
			f.stated = i
			return
		}
	}
	const other = poleCounts - 1
	f.poles[other] = 0
	for ear := range f.odds {
		f.odds[ear][other] = [decode.MaxMotors][3][3]float64{}
		f.met[ear][other] = [decode.MaxMotors][3]meeting{}
	}
	if poles >= 2 {
		f.poles[other], f.stated = poles, other
	}
}

// orders are what a rotor shakes with, times its speed: once a turn, twice,
// and blade pass. Where the blades are not counted three are looked for.
func orders(b *Bench) (o [3]float64, n int) {
	o = [3]float64{1, 2, 3}
	if b.Craft.Blades > 2 {
		o[2] = float64(b.Craft.Blades)
	}
	if b.Craft.Blades == 2 {
		return o, 2
	}
	return o, 3
}

// weigh takes one segment. hz and spread are the rotors' electrical speeds.
func (f *lineFit) weigh(ear int, e *lineEar, hz, spread *[decode.MaxMotors]float64, o [3]float64, n, motors int) {
	mean, turning := 0.0, 0.0
	for m := range motors {
		if hz[m] > 0 {
			mean, turning = mean+hz[m], turning+1
		}
	}
	if turning == 0 {
		return
	}
	state := min(max(int(math.Log(mean/turning)/speedStep), 0), speedStates-1)
	s := &f.seen[ear][state]
	if f.seen[0][state]+f.seen[1][state] == 0 {
		f.states++
	}
	weight := 1 / (1 + float64(*s)/stateMemory)
	*s = min(*s+1, math.MaxUint16-1)
	f.segments++
	for c, p := range f.poles {
		if p == 0 {
			continue
		}
		for m := range motors {
			if hz[m] == 0 {
				continue
			}
			for k := range n {
				turn := o[k] * 2 / float64(p)
				at, room, ok := e.place(hz[m]*turn, spread[m]*turn)
				if !ok {
					continue
				}
				cells := math.Log(max(2*room/e.cell(), 1))
				most := 0.0
				for axis := range 3 {
					if !e.there[axis].there() {
						continue
					}
					over, _, _ := e.near(axis, at, room)
					most = max(most, over-cells)
					odds := &f.odds[ear][c][m][k][axis]
					*odds = max(*odds+weight*lineOdds(over-cells), lineHidden)
				}
				if *s == 1 {
					f.met[ear][c][m][k].take(hz[m]*turn/e.cell(), most > lineStands)
				}
			}
		}
	}
}

// A meeting is how one line was heard at different speeds.
type meeting struct {
	tried, heard uint16
	low, high    float32 // where it was heard, cells
}

func (w *meeting) take(cells float64, heard bool) {
	w.tried++
	if !heard {
		return
	}
	if w.heard++; w.heard == 1 {
		w.low, w.high = float32(cells), float32(cells)
	}
	w.low, w.high = min(w.low, float32(cells)), max(w.high, float32(cells))
}

// follows reports whether some line of a count was heard over a range of
// frequencies, often enough to have moved with the speed.
func (f *lineFit) follows(c int) bool {
	for ear := range f.met {
		for m := range f.met[ear][c] {
			for _, w := range f.met[ear][c][m] {
				if w.heard >= enoughStates && w.high-w.low >= followCells && float64(w.heard) >= followShare*float64(w.tried) {
					return true
				}
			}
		}
	}
	return false
}

// place is where a line of so many hertz shows in the newest segment, and how
// far about it is to be looked; ok is false where it cannot be told there.
func (e *lineEar) place(hz, spread float64) (at, room float64, ok bool) {
	cell := e.cell()
	at = fold(hz, e.rate)
	room = lineError*hz + spread + cell/2
	ok = hz >= lineLow && spread < 3*cell && at-room > lineLow-cell && at+room < e.rate/2-cell
	return at, room, ok
}

// lineNone is what lineOdds tends to where there is no peak at all.
var lineNone = math.Log((1 - 1/strongest) / math.Log(strongest))

// lineOdds is the logarithm of the odds that a peak which stands u over the
// noise's mean is a line's and not the noise's: the integral of
// exp(-u/s)/s over ln s from 1 to strongest, over exp(-u).
func lineOdds(u float64) float64 {
	if u > 12 {
		return lineWorth
	}
	if u <= 0 {
		return lineNone
	}
	u = max(u, 1e-3)
	l := math.Log((math.Exp(-u/strongest) - math.Exp(-u)) / (u * math.Log(strongest)))
	return min(l+u, lineWorth)
}

// decide works out which count fits best. blades is that of a propeller, 0 not
// known.
func (f *lineFit) decide(motors, blades int) {
	var own [decode.MaxMotors][poleCounts]float64
	for c := range f.poles {
		f.score[c] = math.Inf(-1)
		if f.poles[c] == 0 {
			continue
		}
		var all weights
		for m := range motors {
			w := f.lines(c, m)
			own[m][c] = w.score(blades)
			all.add(w)
		}
		f.score[c] = all.score(blades)
	}
	f.best = top(f.score[:])
	sum, next := 0.0, math.Inf(-1)
	for c, s := range f.score {
		sum += math.Exp(s - f.score[f.best])
		if c != f.best {
			next = max(next, s)
		}
	}
	f.ahead = f.score[f.best] - next
	f.sure = 1 / sum
	f.agree, f.speak = 0, 0
	for m := range motors {
		c := top(own[m][:])
		if own[m][c] < linePenalty {
			continue
		}
		f.speak++
		if c == f.best {
			f.agree++
		}
	}
}

// weights are the evidence for one count: of each order, and how many rotors
// show one of the others than once a turn.
type weights struct {
	order  [3]float64
	rotors float64
}

func (w *weights) add(o weights) {
	for k := range w.order {
		w.order[k] += o.order[k]
	}
	w.rotors += o.rotors
}

// score adds the orders up, less the price of others without once a turn.
func (w *weights) score(blades int) float64 {
	first, rest := w.order[0], w.order[1]+w.order[2]
	if first < firstShare*max(w.order[1], w.order[2]) {
		first = 0
	}
	price := math.Pow(balanced, w.rotors)
	if blades > 2 && w.order[1] > w.order[2] {
		price *= bentAlone
	}
	return first + rest + math.Log(price+(1-price)*(1-math.Exp(-first)))
}

// lines is the evidence of one motor for one count.
func (f *lineFit) lines(c, m int) (w weights) {
	for ear := range f.odds {
		for k := range 3 {
			for axis := range 3 {
				if v := shared*f.odds[ear][c][m][k][axis] - linePenalty; v > 0 {
					w.order[k] += v
				}
			}
		}
	}
	if w.order[1]+w.order[2] > 0 {
		w.rotors = 1
	}
	return w
}

func top(v []float64) int {
	best := 0
	for i := range v {
		if v[i] > v[best] {
			best = i
		}
	}
	return best
}

const (
	// sureEnough: the best count must be so likely among all.
	sureEnough = 0.99
	// clearer, in nats: it must explain so much (20 000 to 1 against noise).
	clearer = 10.0
	// lead, in nats, is what it must have over what the craft says, 99 to 1; an
	// alarm that is up ends at leadEnd, 7 to 1.
	lead    = 4.6
	leadEnd = 2.0
	// A count is named after so many segments (three seconds) at so many
	// different speeds: a tone that stands still cannot follow them.
	enoughSegments = 8
	enoughStates   = 4
	// followCells: a line must have been heard to move by so many cells, 8 Hz,
	// and at this share of the speeds: a tone that stands still is crossed within
	// two or three. (A line that comes out of the noise at half of the highest
	// speed is heard at 0.4 of the speeds between idle and flight.)
	followCells = 5.0
	followShare = 0.25
	// Where the next best is less than clearer behind, the two differ by a whole
	// number: one of them hears as once a turn what is twice a turn or blade pass
	// to the other. A weak line of once a turn may be about to come out, so that
	// is told later: after so many segments, over a range of speeds of 1 to 1.6.
	octaveSegments = 30
	octaveStates   = 25
)

// told reports whether the best count may be named.
func (f *lineFit) told() bool {
	if f.segments < enoughSegments || f.states < enoughStates || f.sure < sureEnough || f.score[f.best] < clearer || !f.follows(f.best) {
		return false
	}
	return f.ahead >= clearer || f.segments >= octaveSegments && f.states >= octaveStates
}

// trusted is the pole count that the craft is taken to have: what was heard,
// else what it says; 0 not known.
func (f *lineFit) trusted() int {
	switch {
	case f.told():
		return f.poles[f.best]
	case f.stated >= 0:
		return f.poles[f.stated]
	}
	return 0
}
