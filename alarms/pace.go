package alarms

import (
	"slices"

	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

const (
	paceLearn = 9  // intervals a pace is learned from: odd, so that the middle one is its median
	paceAgree = 7  // of them must lie within half of their mean: a stream with lost lines still does
	paceWrong = 24 // more intervals that do not fit than such that do: the pace has changed, or never was one
)

// pace learns how regularly one tag arrives.
type pace struct {
	first [paceLearn]int64
	n     int
	wrong int
}

// regular reports whether lines of a tag come by the clock. The others come
// when there is something to say, and have no pace.
func regular(t decode.Tag) bool {
	return t == decode.Hello || t >= decode.Axes && t <= decode.State
}

// take notes a sample of engine time at. The learned period is that of the
// sender: an interval stretched by lost lines does not count.
func (p *pace) take(s *detect.Stream, at int64) {
	d := at - s.Last
	s.Awaited = false
	s.Count++
	if s.Count == 1 {
		s.Last = at
		return
	}
	if d <= 0 {
		return
	}
	s.Last = at
	if p.n < paceLearn {
		p.first[p.n] = d
		if p.n++; p.n == paceLearn {
			p.learn(s)
		}
		return
	}
	if f := float64(d); f > 0.5*s.Period && f < 1.5*s.Period {
		s.Period += (f - s.Period) / 32
		p.wrong = max(0, p.wrong-1)
		return
	}
	if p.wrong++; p.wrong >= paceWrong {
		*p = pace{}
	}
}

func (p *pace) learn(s *detect.Stream) {
	slices.Sort(p.first[:])
	mid := float64(p.first[paceLearn/2])
	// Stamps of a coarse clock alternate between two intervals: the mean of
	// those near the median is the pace, not the median.
	sum, near := 0.0, 0.0
	for _, d := range p.first {
		if f := float64(d); f > 0.4*mid && f < 2.5*mid {
			sum, near = sum+f, near+1
		}
	}
	mean, agree := sum/near, 0
	for _, d := range p.first {
		if f := float64(d); f > 0.5*mean && f < 1.5*mean {
			agree++
		}
	}
	s.Steady = agree >= paceAgree
	s.Period = mean
	if !s.Steady {
		p.n = 0 // not a pace yet: look at the next ones
	}
}
