package detect

import (
	"math"

	"tetherbell/alarms/tone"
	"tetherbell/decode"
)

const (
	// A segment is a power of two of samples, near earSeconds long: a ramp of a
	// few hertz a second then stays within two cells of the spectrum, and rotor
	// lines of neighbouring pole counts (7 % apart at 28) lie two cells apart
	// from 50 Hz on.
	earLeast   = 32
	earMost    = 1024
	earSeconds = 0.6
	// Another length is chosen only when the pace has left these bounds.
	earShort, earLong = 0.38, 0.92
	// earBridge: holes of up to this share of a segment are bridged by a straight
	// line, and so much of it may be bridged in all: at the usual 5 % of lost
	// lines a segment is whole.
	earBridge = 6
	// skirt, of a peak's power: what stands beside a peak by less than this is
	// taken for its own skirt. A Hann window's first side lobe is at 0.0007
	// (-31.5 dB; F. J. Harris, Proc. IEEE 66(1), 1978, table I), a line that
	// trembles has wider ones.
	skirt = 0.01
	// skirtBins is how far a skirt reaches, in bins of half a cell.
	skirtBins = 12
	// floorShare: the noise under the lines is taken from this quantile of the
	// bins about them: a median would be the lines' own where many rotors crowd.
	floorShare = 0.30
)

// floorMean turns that quantile into a mean: the power of noise in one bin is
// exponentially distributed.
var floorMean = -1 / math.Log(1-floorShare)

// spectra are the transforms of all lengths, shared by the ears.
type spectra [6]*tone.Spectrum

func newSpectra() *spectra {
	var s spectra
	for i, n := 0, earLeast; n <= earMost; i, n = i+1, 2*n {
		s[i] = tone.NewSpectrum(n)
	}
	return &s
}

// of returns the spectrum of n samples.
func (s *spectra) of(n int) *tone.Spectrum {
	i := 0
	for earLeast<<i < n {
		i++
	}
	return s[i]
}

// lineEar cuts one stream of three axes into segments, half over each other,
// and makes their spectra. Samples go to the even slot next to their time: a
// sampling instant that trembles by 3 % costs a line a thousandth of its power.
type lineEar struct {
	spec   *spectra
	there  [3]presence
	buf    [3][]float64
	size   int   // samples of a segment, 0 not chosen
	filled int   // of the buffer
	bridge int   // slots of it that no sample lies in
	start  int64 // engine time of the first slot
	last   int64 // and of the last
	v      [3]float64

	// Of the newest segment:
	from, to int64
	rate     float64                 // slots a second
	bins     int                     // of its spectrum
	power    [3][earMost + 1]float64 // squared amplitude
	peak     [3][earMost + 1]float64 // of local maxima: power over the noise about them; else 0
	scratch  [earMost]float64
}

func newLineEar(s *spectra) *lineEar {
	e := &lineEar{spec: s}
	for i := range e.buf {
		e.buf[i] = make([]float64, earMost)
	}
	return e
}

func (e *lineEar) clear() { e.filled, e.bridge, e.size = 0, 0, 0 }

// cell is the spectrum's resolution, hertz.
func (e *lineEar) cell() float64 { return e.rate / float64(e.size) }

// take adds one line of a stream, and reports whether a segment is whole.
func (e *lineEar) take(s *Stream, r *[3]Reading, at int64) bool {
	whole := true
	for i := range r {
		e.there[i].take(r[i].OK)
		whole = whole && (r[i].OK || !e.there[i].there())
	}
	if !s.Steady || s.Period <= 0 {
		e.clear()
		return false
	}
	if !whole {
		return false // as good as lost
	}
	if t := float64(e.size) * s.Period / float64(Second); t < earShort || t > earLong {
		e.clear()
		e.size = earLeast
		for e.size < earMost && float64(e.size)*s.Period/float64(Second) < earSeconds/math.Sqrt2 {
			e.size *= 2
		}
	}
	steps := 1
	if e.filled > 0 {
		if at <= e.last {
			return false
		}
		steps = int(math.Round(float64(at-e.last) / s.Period))
		if steps < 1 {
			return false
		}
		if e.bridge += steps - 1; e.bridge > e.size/earBridge {
			e.filled, e.bridge, steps = 0, 0, 1
		}
	}
	if e.filled == 0 {
		e.start = at
	}
	done := false
	for k := 1; k <= steps; k++ {
		share := float64(k) / float64(steps)
		for i := range e.buf {
			x := 0.0
			if r[i].OK {
				x = r[i].V
			}
			e.buf[i][e.filled] = e.v[i] + share*(x-e.v[i])
			if steps == 1 {
				e.buf[i][e.filled] = x
			}
		}
		now := at
		if steps > 1 {
			now = e.last + int64(share*float64(at-e.last))
		}
		if e.filled++; e.filled == e.size {
			e.end(now)
			done = true
		}
	}
	for i := range e.v {
		e.v[i] = 0
		if r[i].OK {
			e.v[i] = r[i].V
		}
	}
	e.last = at
	return done
}

// end takes the full buffer as a segment and keeps its second half.
func (e *lineEar) end(now int64) {
	step := float64(now-e.start) / float64(e.size-1)
	e.from, e.to = e.start, now
	e.rate = float64(Second) / step
	for i := range e.buf {
		copy(e.scratch[:], e.buf[i][:e.size])
		copy(e.power[i][:e.size], e.scratch[:e.size]) // kept for hear
		copy(e.buf[i], e.scratch[e.size/2:e.size])
	}
	e.filled = e.size / 2
	e.bridge /= 2
	e.start += int64(step * float64(e.size/2))
}

// hear makes the spectra of the newest segment.
func (e *lineEar) hear() {
	s := e.spec.of(e.size)
	e.bins = s.Bins()
	for i := range e.power {
		s.Load(e.power[i][:e.size])
		for k := range e.bins {
			e.power[i][k] = s.Power(k)
		}
		e.peaks(e.power[i][:e.bins], e.peak[i][:e.bins])
	}
}

// peaks finds the local maxima of p and how far each stands over the noise
// about it and the skirts of its neighbours.
func (e *lineEar) peaks(p, out []float64) {
	clear(out)
	block := max(32, e.size/8)
	blocks := max(len(p)/block, 1)
	var floor [9]float64
	for b := range blocks {
		part := e.scratch[:copy(e.scratch[:], p[b*block:min((b+1)*block, len(p))])]
		floor[b] = floorMean * nth(part, int(floorShare*float64(len(part))))
	}
	for k := 2; k < len(p)-2; k++ {
		v := p[k]
		if v < p[k-1] || v < p[k+1] || v < p[k-2] || v < p[k+2] {
			continue
		}
		at := float64(k)/float64(block) - 0.5
		b := min(max(int(math.Floor(at)), 0), max(blocks-2, 0))
		next := min(b+1, blocks-1)
		share := min(max(at-float64(b), 0), 1)
		noise := floor[b] + share*(floor[next]-floor[b])
		for j := max(k-skirtBins, 0); j <= min(k+skirtBins, len(p)-1); j++ {
			noise = max(noise, skirt*p[j])
		}
		if noise > 0 && !math.IsInf(noise, 0) {
			out[k] = v / noise
		}
	}
}

// nth returns the value that would stand at index k if x were sorted, and
// leaves x in another order (C. A. R. Hoare, Communications of the ACM 4(7),
// 1961, 321-322; from memory).
func nth(x []float64, k int) float64 {
	lo, hi := 0, len(x)-1
	for lo < hi {
		pivot := x[lo+(hi-lo)/2]
		i, j := lo, hi
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for pivot < x[j] {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return x[k]
		}
	}
	return x[k]
}

// near returns the peak that stands out most within room hertz of a frequency,
// on one axis: how far it stands out, its power and its bin. 0 where none is.
func (e *lineEar) near(axis int, hz, room float64) (over, power float64, bin int) {
	scale := float64(2*e.size) / e.rate
	lo, hi := max(int(math.Ceil((hz-room)*scale)), 1), min(int((hz+room)*scale), e.bins-2)
	for k := lo; k <= hi; k++ {
		if v := e.peak[axis][k]; v > over {
			over, power, bin = v, e.power[axis][k], k
		}
	}
	return over, power, bin
}

// turnsPast holds the rotors' electrical speeds of the last seconds, as
// reported, for the longest segment and the streams' lag.
const turnsPast = 256

type turns struct {
	hz [turnsPast][decode.MaxMotors]float64 // electrical turns a second, 0 not known
	at [turnsPast]int64
	n  int
}

func (s *turns) take(b *Bench, at int64) {
	k := s.n % turnsPast
	s.at[k], s.hz[k] = at, [decode.MaxMotors]float64{}
	for i := range min(b.Motors, decode.MaxMotors) {
		if r := b.ERPM[i]; r.OK && r.V > 0 {
			s.hz[k][i] = r.V / 60
		}
	}
	s.n++
}

// turnsOff: a report that is off the others of a segment by so much is a
// misreading: real records hold speeds read by half.
const turnsOff = 0.25

// mean returns a motor's speed over a segment as the window weighs it, and how
// far it moved within it (standard deviation); 0 where it is not known.
func (s *turns) mean(m int, from, to int64) (hz, spread float64) {
	for pass := range 2 {
		sum, square, weight, rows := 0.0, 0.0, 0.0, 0
		for i := range min(s.n, turnsPast) {
			k := (s.n - 1 - i) % turnsPast
			if s.at[k] < from {
				break
			}
			v := s.hz[k][m]
			if s.at[k] > to || v == 0 || pass > 0 && math.Abs(v-hz) > turnsOff*hz {
				continue
			}
			c := math.Sin(math.Pi * float64(s.at[k]-from) / float64(to-from))
			w := c * c
			sum, square, weight, rows = sum+w*v, square+w*v*v, weight+w, rows+1
		}
		if rows < 3 || weight <= 0 {
			return 0, 0
		}
		hz = sum / weight
		spread = math.Sqrt(max(square/weight-hz*hz, 0))
	}
	return hz, spread
}
