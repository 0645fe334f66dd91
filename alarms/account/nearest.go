package account

import (
	"fmt"
	"math"

	"tetherbell/alarms/detect"
)

// A closeness is how near a figure came to the limit at which it would ring.
type closeness struct {
	share     float64 // of the limit
	what, fix string  // fix is empty for what a person chose: that is nothing to mend
}

const (
	// worthWhile: of what rang nothing the nearest is named as something to mend
	// from this share of its limit on (common practice, no source: half of the
	// limit is what a second look is for).
	worthWhile = 0.6
	// cellFull is a full cell, V (cell data sheets): from there a voltage goes down
	// to its limit.
	cellFull = 4.2
	// surely: a share of the outputs counts from so many standard errors on.
	surely = 3
)

// nearest finds what came nearest to its limit in a session in which nothing
// rang.
func (c *Collector) nearest(a *Account) (fix, why string) {
	var best, mend closeness // of all; of what there is something to mend at
	for _, n := range c.near(a) {
		if n.share > best.share {
			best = n
		}
		if n.fix != "" && n.share > mend.share {
			mend = n
		}
	}
	if best.share <= 0 {
		return "", "nothing rang, and nothing was measured that came near a limit"
	}
	why = fmt.Sprintf("nothing rang; nearest to its limit: %s, %.0f %% of the way to it", best.what, 100*best.share)
	if mend.share < worthWhile {
		return "", why
	}
	if mend.what != best.what {
		why += fmt.Sprintf("; then %s, %.0f %%", mend.what, 100*mend.share)
	}
	return mend.fix, why
}

// near lists the figures that have a limit.
func (c *Collector) near(a *Account) (out []closeness) {
	l := &c.bench.Limits
	add := func(v, limit float64, fix, what string, args ...any) {
		if limit > 0 && v > 0 {
			out = append(out, closeness{v / limit, fmt.Sprintf(what, args...), fix})
		}
	}
	for i := range a.Axes {
		if t := a.Axes[i].swing(); t != nil && t.Share > 0.5 {
			name := a.Axes[i].Name
			add(t.Amplitude, l.Oscillation, "lower the gains of "+name+" a little, and look again",
				"%s swings by %.3f of full output at %.1f Hz, %.1f s", name, t.Amplitude, t.Hz, t.At)
		}
	}
	for i := range a.Axes {
		if v := a.Axes[i].ControlMean; v != nil {
			name := a.Axes[i].Name
			add(math.Abs(*v), l.WindupMedium, "look for what pulls in "+name+": weight, a motor, or the hold-down",
				"the controller's output in %s stands at %.3f on average", name, *v)
		}
	}
	for i := range a.Motors {
		m := &a.Motors[i]
		if m.Share != nil && m.ShareErr != nil && math.Abs(*m.Share-1) > surely**m.ShareErr {
			fix := fmt.Sprintf("check propeller and motor m%d, then the weight's place", m.Number)
			if a.Balance.Known && math.Hypot(a.Balance.ForwardMM, a.Balance.RightMM) > a.Balance.ErrMM {
				fix = "move weight: the centre of gravity lies " + a.Balance.Direction + " of the motors' middle"
			}
			add(math.Abs(*m.Share-1), l.ImbalanceLow, fix, "m%d works at %.2f +- %.2f of the mean of the motors", m.Number, *m.Share, surely**m.ShareErr)
		}
		if m.TempPeak != nil && m.TempStart != nil { // what counts is the way from the air's
			add(*m.TempPeak-*m.TempStart, l.HeatMedium-*m.TempStart, fmt.Sprintf("feel motor m%d, and look at gains and filters", m.Number),
				"m%d came to %.0f deg C from %.0f", m.Number, *m.TempPeak, *m.TempStart)
		}
		if m.TempRise != nil {
			add(*m.TempRise, l.HeatRate, fmt.Sprintf("look at gains and filters: m%d heats quickly", m.Number), "m%d heated by %.1f deg C a second", m.Number, *m.TempRise)
		}
	}
	if v := a.Pack.LeastV; v != nil && *v > 0 {
		add(cellFull-*v, cellFull-l.SagMedium, "charge the pack", "the pack gave %.2f V a cell at least", *v)
	}
	if bears := detect.Bears(c.bench); bears > 0 && a.Lift != nil {
		if most := a.Lift.most(); most > 0 {
			add(most/bears, l.NearLiftMedium, "", "lift came to %.2f of what holds the craft", most/bears)
		}
	}
	add(a.Link.Share, l.BadShare, "check cable, ground and baud", "%.2f %% of the lines were bad or lost", 100*a.Link.Share)
	return out
}

// swing is the strongest line of an axis that no rotor's line explains, nil none.
func (x *Axis) swing() *Tone {
	if x.Strongest != nil && x.Strongest.Rotor == "" {
		return x.Strongest
	}
	return x.Apart
}
