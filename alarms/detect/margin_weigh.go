package detect

import (
	"math"
)

const (
	// mostMargin is the damping ratio under which a loop has little margin: one
	// of 0.05 needs two cycles to halve what disturbs it (ln 2 / (2 pi 0.05) =
	// 2.2). An alarm goes where the damping is over clearMargin for sure, or looks
	// in a row find over doneMargin: of a broad peak it is never sure.
	mostMargin  = 0.05
	clearMargin = 0.06
	doneMargin  = 0.075
	// leastRinging, of the limit of oscillation: rms of a ringing that matters;
	// an alarm goes at stillRinging of that.
	leastRinging = 0.02
	stillRinging = 0.7
	// leastMargin: what has no damping at all does not ring on noise; it is a
	// limit cycle, or a rotor's line.
	leastMargin = 0.001
	// nearRinging, of the limit: what is so strong is rising-oscillation's.
	nearRinging = 0.5
	// sureMargin is twice the log likelihood that mostMargin must lose for 95 %
	// on one side (S. S. Wilks, Ann. Math. Statist. 9(1), 1938, 60-62; from
	// memory).
	sureMargin = ninety * ninety
	// surePeak is the same for no resonance at all. Chance gives exp(-12) for
	// three parameters; three axes are looked at 36 000 times an hour.
	surePeak = 30.0
	// mostOffset: a resonance that far from its carrier is at the edge of what
	// the envelope shows.
	mostOffset = 0.15
	// mostRise: a mean square that grew so much over half of the window, or
	// over a quarter of it, is growth and no ringing on noise; what fell so much
	// has gone.
	mostRise = 8.0
	// The crest (see crest) of ringing is 2, of a line or a limit cycle about 1,
	// of what sweeps through or bursts 4 and more. Where rotor lines cannot be
	// told otherwise it must lie over unsureCrest, with few memories in the
	// window over less.
	leastCrest  = 1.2
	unsureCrest = 1.6
	fewestCrest = 1.25
	mostCrest   = 3.0
	// mostShared is the coherence with another axis from which a rotor is
	// suspected where its lines cannot be told otherwise. Independent ringing
	// has one over the memories in the window on average.
	mostShared  = 0.12
	likeShare   = 0.25 // amplitude of another axis that counts, of one's own
	fewMemories = 8.0
	// sameRinging: looks that find it within this share tell of the same.
	sameRinging = 0.05
	// So many looks in a row, 1.5 to 1.8 s apart, ring, or clear.
	sureHits    = 3
	unsureHits  = 5
	clearMisses = 3
)

// ringingNow is what one look measured.
type ringingNow struct {
	hz      float64 // of the resonance
	damping float64 // ratio
	err     float64 // its standard error
	power   float64 // rms in the signal, undrooped
}

// A marginTone is what one look at an octave found, and what looks before it
// left.
type marginTone struct {
	ringingNow
	ok        bool
	carrier   float64 // hertz that the envelope was cut at
	against   float64 // twice the log likelihood that a damping of mostMargin loses
	peak      float64 // twice the log likelihood that no resonance at all loses
	crest     float64
	rise      float64 // mean square of the last quarter over the first's
	late      float64 // and over the third's
	asked     bool    // the demand explains it
	like      likeness
	coherence float64 // with another axis
	memories  float64 // decay times that the window holds

	up     bool
	passed bool    // the last look did
	heard  float64 // hertz of the looks that passed
	hits   int     // in a row that passed
	miss   int     // in a row that did not even hold
	told   ringingNow
}

// examine measures the strongest resonance of one octave of an axis, and
// weighs it.
func (d *lowMargin) examine(i, k int, at int64, limit float64) {
	a := &d.axes[i]
	l := a.levels[k]
	t := &l.now
	*t = marginTone{up: t.up, heard: t.heard, hits: t.hits, miss: t.miss, told: t.told}
	least := leastRinging * limit
	if a.measure(l, d.fit, stillRinging*least) && t.stands(least) && t.power < nearRinging*limit {
		t.like = d.lines.judge(d.fit, t.hz, a.stream, at)
		if t.like == notKnown {
			t.coherence = d.shared(i, k)
		}
		t.passed = t.passes()
	}
	if t.weigh(stillRinging * least); t.passed {
		t.told = t.ringingNow
	}
}

// stands reports whether the measurement says what the alarm would.
func (t *marginTone) stands(least float64) bool {
	return t.power >= least && t.damping > leastMargin && t.damping+ninety*t.err < mostMargin && t.against > sureMargin && t.peak > surePeak
}

// passes asks whether anything else explains it.
func (t *marginTone) passes() bool {
	switch {
	case t.asked, t.like == alike, !t.lasts(), t.crest < leastCrest, t.crest > mostCrest:
		return false
	case t.like == notKnown:
		// Few memories in the window make both uncertain.
		crest := max(unsureCrest-max(fewMemories/t.memories-0.2, 0), fewestCrest)
		return t.crest > crest && t.coherence < max(mostShared, fewMemories/2/t.memories)
	}
	return true
}

// lasts reports whether the ringing neither grew nor went by within the window.
func (t *marginTone) lasts() bool {
	return t.rise < mostRise && t.late < mostRise && t.rise > 1/mostRise
}

// weigh counts the looks in a row that say the same. An alarm that is up stays
// while the ringing is there and not damped for sure.
func (t *marginTone) weigh(least float64) {
	same := t.heard == 0 || math.Abs(t.hz-t.heard) < sameRinging*t.heard
	if t.up {
		t.passed = t.passed && same
		holds := t.ok && same && t.power > least && t.damping-ninety*t.err < clearMargin &&
			t.damping < doneMargin && t.lasts()
		switch {
		case t.passed:
			t.miss, t.heard = 0, t.hz
		case holds:
			t.miss = 0
		default:
			t.miss++
		}
		if t.miss >= clearMisses {
			t.up, t.hits, t.heard, t.miss = false, 0, 0, 0
		}
		return
	}
	switch {
	case !t.passed:
		t.hits, t.heard = 0, 0
	case !same:
		t.hits, t.heard = 1, t.hz
	default:
		t.hits, t.heard = t.hits+1, t.hz
	}
	need := sureHits
	if t.like == notKnown {
		need = unsureHits
	}
	t.up = t.hits >= need
}

// shared is the coherence with the ringing of another axis that is not much
// weaker. A rotor shakes several axes in one rhythm; loops that ring on noise
// keep their own.
func (d *lowMargin) shared(i, k int) float64 {
	most := 0.0
	for j := range d.axes {
		o := &d.axes[j]
		if j == i || len(o.levels) <= k || o.stream != d.axes[i].stream || o.main != d.axes[i].main {
			continue
		}
		l := o.levels[k]
		if l.n != d.axes[i].levels[k].n {
			continue
		}
		d.other.best = d.fit.best
		if _, ok := l.envelope(d.other, d.axes[i].levels[k].now.carrier, o.main); !ok {
			continue
		}
		d.other.crest()
		if c, ratio := d.fit.coherence(d.other); ratio > likeShare {
			most = max(most, c)
		}
	}
	return most
}

// rise is the mean square of the envelope's last quarter over that of the
// first, and over that of the one before.
func (r *ringFit) rise() (whole, late float64) {
	q := r.n / 4
	first, before, last := r.sum(0, q), r.sum(r.n-2*q, r.n-q), r.sum(r.n-q, r.n)
	return last / max(first, 1e-9*last), last / max(before, 1e-9*last)
}

func (r *ringFit) sum(from, to int) float64 {
	s := 0.0
	for i := from; i < to; i++ {
		if r.real[i] {
			s += sq(r.z[i])
		}
	}
	return s
}
