package alarms

import "tetherbell/alarms/detect"

const (
	// paceParts are counted of each second, so that a count is never older than a
	// part of it.
	paceParts = 10
	pacePart  = detect.Second / paceParts
)

// A linePace counts the good lines of the last second.
type linePace struct {
	begun bool
	first int64                 // engine time of the first line
	at    int64                 // number of the newest part
	lines [paceParts + 1]uint32 // of each part, the one that goes on among them
}

func (p *linePace) line(now int64) {
	part := now / pacePart
	if !p.begun {
		*p = linePace{begun: true, first: now, at: part}
	}
	if part-p.at > paceParts {
		p.lines, p.at = [paceParts + 1]uint32{}, part
	}
	for ; p.at < part; p.at++ {
		p.lines[(p.at+1)%(paceParts+1)] = 0
	}
	p.lines[p.at%(paceParts+1)]++
}

// rate is how many lines came in the last second, by its whole parts; before there
// is one, what has come so far by the time that it took.
func (p *linePace) rate(now int64) float64 {
	part, n := now/pacePart, uint32(0)
	if !p.begun {
		return 0
	}
	if since := now - p.first; since < detect.Second+pacePart {
		for _, lines := range p.lines {
			n += lines
		}
		return float64(n) * float64(detect.Second) / float64(max(since, pacePart))
	}
	for i := max(part, p.at) - paceParts; i < part; i++ {
		if i <= p.at && i > p.at-paceParts-1 {
			n += p.lines[i%(paceParts+1)]
		}
	}
	return float64(n)
}
