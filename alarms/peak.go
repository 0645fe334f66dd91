package alarms

import (
	"math"

	"tetherbell/alarms/detect"
)

// peakFall is by how much a value must have got better for its worst to be over: what
// grows trembles.
const peakFall = 0.05

// A peak is an alarm at its worst: what is said of it once it is over, for by then
// its last words are those of the way down.
type peak struct {
	finding detect.Finding
	story   detect.Story
	down    bool // the lower the worse
	untold  bool // the story is of before the finding
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

// under reports whether a finding is worse; nought is one that cannot be judged now.
func (p *peak) under(f *detect.Finding) bool {
	if f.Level != p.finding.Level {
		return f.Level > p.finding.Level
	}
	return f.Value != 0 && p.share(f) > p.share(&p.finding)
}

// over reports whether it has passed, by a finding of now.
func (p *peak) over(f *detect.Finding) bool {
	if f.Level != p.finding.Level {
		return true
	}
	was := p.share(&p.finding)
	return was-p.share(f) > peakFall*math.Abs(was)
}

// top keeps the worst of an alarm that is up. Words cost memory: they are made of it
// once it has passed.
func (s *slot) top(t teller) {
	if s.peak.under(&s.finding) {
		s.peak.finding, s.peak.untold = s.finding, true
	} else if s.peak.over(&s.finding) {
		s.passes(t)
	}
}

// passes words the worst, which is over.
func (s *slot) passes(t teller) {
	if s.peak.untold {
		s.peak.story, s.peak.untold = s.words(s.peak.finding, t), false
	}
}

// joins takes over what an alarm was at its worst, where nobody has acknowledged that
// yet.
func (p *peak) joins(old *peak) {
	if old.finding.Case == p.finding.Case && !old.under(&p.finding) {
		*p = *old
	}
}
