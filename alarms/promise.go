package alarms

import (
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// A promise is what the craft file says of the streams on this bench. One that
// does not come is said; one that is not promised is no matter.
type promise struct {
	late bool                  // the time to keep it has passed
	all  []decode.Tag          // promised
	came [decode.TagCount]bool // at any time, also before a restart of the bridge
	read bool                  // the craft file was looked at
}

// look is called once a second of engine time.
func (p *promise) look(b *detect.Bench) {
	if !p.read {
		p.read = true
		for name := range b.Craft.Sensors.All() {
			if tag, ok := decode.TagNamed(name); ok {
				p.all = append(p.all, tag)
			}
		}
	}
	p.late = b.Now >= coverGrace
	for _, tag := range p.all {
		p.came[tag] = p.came[tag] || b.Streams[tag].Count > 0
	}
}

// broken lists the promised streams that never came.
func (p *promise) broken() []Lack {
	var out []Lack
	for _, tag := range p.all {
		if p.late && !p.came[tag] {
			out = append(out, Lack{tag.String(), "the craft file promises " + tag.String() + " lines, none came"})
		}
	}
	return out
}
