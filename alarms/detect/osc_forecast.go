package detect

import "math"

// ninety is the 95 % quantile of the normal distribution: 5 % on each side
// leave an interval of 90 %.
const ninety = 1.645

// A forecast says when a growing tone passes its limit: seconds from at, the
// end of the stretch that it was seen in, and the ends of the interval that
// holds the truth nine times in ten.
type forecast struct {
	s, low, high float64
	early        float64 // four times in five there is more time
	growth       float64 // per second
	growthErr    float64
	odds         float64 // logarithm, that it grows
	at           int64
	hz           float64
	known        bool
}

// since counts the forecast from now.
func (f forecast) since(now int64) forecast {
	age := seconds(now - f.at)
	f.s, f.low, f.high, f.early = max(f.s-age, 0), max(f.low-age, 0), max(f.high-age, 0), max(f.early-age, 0)
	return f
}

const (
	// outlookCycles is the shortest stretch that is looked at, in cycles.
	outlookCycles = 5
	// outlookRise: the stretch goes back to where the tone was so many times
	// smaller; what came before is noise, or a loop with other gains.
	outlookRise = 8.0
	// sureOdds is the logarithm of the odds that a tone grows by itself, against
	// noise that drives a loop which would settle: 10 to 1. A loop near its margin
	// reaches them at times; plainOdds, 100 to 1, are asked for before it is
	// high while it is small. By Ville's inequality noise reaches odds of n to 1
	// once in n at most (J. Ville 1939; from memory).
	sureOdds  = 2.303
	plainOdds = 4.605
)

// ahead looks at the newest stretch of a band's level for the outlook of its
// tone, once for each look of the band.
func (a *oscAxis) ahead(b *oscBand) forecast {
	if !b.now.looked {
		b.now.next, b.now.looked = a.outlook(b), true
	}
	return b.now.next
}

func (a *oscAxis) outlook(b *oscBand) forecast {
	t := &b.now
	l := &a.levels[b.level]
	length := max(outlookCycles/t.hz, math.Log(outlookRise)/max(t.growth, leastGrowth))
	n := min(int(length*b.rate), l.n, len(a.stretch))
	x := a.stretch[:n]
	signal, c := sigU, 0
	if a.main == sigY {
		signal, c = sigY, 1
	}
	copy(x, l.newest(l.v[signal], n))
	if !a.fedBack(t.at, float64(n)/b.rate) {
		a.demand.takeOut(x, c, l)
	}
	lift := 1 / droop(t.hz, a.stream, a.grid.step)
	o, ok := a.grower.Look(x, b.rate, t.hz, t.growth, a.hold.limit/lift)
	if !ok {
		return forecast{}
	}
	return forecast{s: o.Middle, low: o.Low, early: o.Early, high: o.High, growth: o.Growth, growthErr: o.GrowthErr, odds: o.Odds, at: t.at, hz: t.hz, known: true}
}

// surest is the band that knows the growth of a tone of hz best, nil where
// none sees it grow. A tone that rings already may have become usual: where the
// usual noise hides its growth, the noise beside it is asked.
func (a *oscAxis) surest(hz float64) *oscBand {
	if b := a.surestBy(hz, func(t *oscTone) float64 { return t.growthErr }); b != nil || !a.hold.up {
		return b
	}
	return a.surestBy(hz, func(t *oscTone) float64 { return t.ownErr })
}

func (a *oscAxis) surestBy(hz float64, err func(*oscTone) float64) *oscBand {
	var best *oscBand
	for _, w := range a.windows {
		for i := range w.bands {
			b := &w.bands[i]
			t := &b.now
			if w.fast || !t.ok || t.growth < 2*err(t) || t.share < 0.5 || math.Abs(t.hz-hz) > 0.1*t.hz {
				continue
			}
			if best == nil || err(t)/t.growth < err(&best.now)/best.now.growth {
				best = b
			}
		}
	}
	return best
}
