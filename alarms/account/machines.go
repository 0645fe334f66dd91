package account

import (
	"fmt"

	"tetherbell/decode"
)

// A machine is how a bridge names what is on the bench.
type machine struct {
	name, layout string
	motors       float64
}

// machines notices that the bridge told of more than one craft: all that is
// told of the session is then a mixture.
type machines struct {
	known bool
	now   machine
	said  []string
}

// mostMachines bounds the remarks.
const mostMachines = 5

func (m *machines) take(s *decode.Sample, at int64) {
	if m.known && string(s.Text) == m.now.name && string(s.Word) == m.now.layout && s.Num[decode.CraftMotors] == m.now.motors {
		return // the usual case, which allocates nothing
	}
	is := machine{string(s.Text), string(s.Word), s.Num[decode.CraftMotors]}
	if m.known && len(m.said) < mostMachines {
		m.said = append(m.said, fmt.Sprintf("from %.1f s on the bridge told of another craft, %s (%s), and no more of %s (%s): what is told of this session is of both",
			seconds(at), is.name, is.layout, m.now.name, m.now.layout))
	}
	m.known, m.now = true, is
}
