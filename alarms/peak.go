package alarms

import (
	"math"

	"tetherbell/alarms/detect"
)

// peakStep is by how much a value must have got worse for it to be worded anew: what
// grows trembles, words cost memory, and so much less than the worst may be told.
const peakStep = 0.05

// A peak is an alarm at its worst: what is said of it once it is over, for by then
// its last words are those of the way down. The words are of the moment of the
// finding: said later, they would mix it with what the bench shows then.
type peak struct {
	finding detect.Finding
	story   detect.Story
	down    bool // the lower the worse
}

func newPeak(k detect.Kind, f detect.Finding, s detect.Story) peak {
	p := peak{finding: f, story: s}
	switch k {
	case detect.PackSag, detect.LowMargin, detect.HoldLost:
		p.down = true
	case detect.RotorLost, detect.ReversedResponse: // either way
		p.down = f.Value < f.Limit
	}
	return p
}

// share is how bad a finding is, in its limit.
func (p *peak) share(f *detect.Finding) float64 {
	v := f.Value
	if f.Limit != 0 {
		v /= math.Abs(f.Limit)
	}
	if p.down {
		return -v
	}
	return v
}

// under reports whether a finding is worse by more than a part of what was; nought is
// one that cannot be judged now.
func (p *peak) under(f *detect.Finding, part float64) bool {
	if f.Level != p.finding.Level {
		return f.Level > p.finding.Level
	}
	was := p.share(&p.finding)
	return f.Value != 0 && p.share(f)-was > part*math.Abs(was)
}

// top keeps the worst of an alarm that is up.
func (s *slot) top(t teller) {
	if s.peak.under(&s.finding, peakStep) {
		s.peak.finding, s.peak.story = s.finding, s.words(s.finding, t)
	}
}

// joins takes over what an alarm was at its worst, where nobody has acknowledged that
// yet.
func (p *peak) joins(old *peak) {
	if old.finding.Case == p.finding.Case && !old.under(&p.finding, 0) {
		*p = *old
	}
}
