package decode

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A heard line is one as it comes to a port, microseconds of the host's and the
// bridge's clock.
type heardLine struct {
	port int
	tag  Tag
	host int64
	time uint32
}

// A bridge that begins anew is not taken for another that talks on at its own port,
// however its clock lies: what an adapter held up, a clock that has just gone round, a
// host that slept. Nothing is told of a swap, and its lines are its own all along.
func TestWhoTalksAtItsPortWasNotMoved(t *testing.T) {
	slept := func(port int, tag Tag, each, zero int64) []heardLine { // for 10 s, in which its clock stood
		after := bridge(port, tag, 27_000, 40_000, each, zero)
		for i := range after {
			after[i].host -= 10_000_000
		}
		return append(bridge(port, tag, 0, 17_000, each, zero), after...)
	}
	lags := func(all []heardLine, by int64) []heardLine { // and what waits is dropped at last
		for i := range all {
			all[i].host += by * 1000
		}
		return all
	}
	const end, round = 12_000, int64(1) << 32 / 1000
	for name, c := range map[string][][]heardLine{
		"one supply, and one is held up": {
			heldUp(append(bridge(1, Axes, 0, 5000, 5, -700_000), bridge(1, Axes, 6000, end, 5, 5000)...), 4900, 6300),
			append(bridge(2, Load, 0, 5000, 20, -400_000), bridge(2, Load, 5100, end, 20, 5000)...)},
		"one supply, both held up": {
			heldUp(append(bridge(1, Axes, 0, 5000, 5, -700_000), bridge(1, Axes, 6000, end, 5, 5000)...), 4900, 6300),
			heldUp(append(bridge(2, Load, 0, 5000, 20, -400_000), bridge(2, Load, 5100, end, 20, 5000)...), 6100, 6301)},
		"the other's clock goes round": {
			append(bridge(1, Axes, 0, 5000, 5, -700_000), bridge(1, Axes, 5100, end, 5, 5000)...),
			bridge(2, Load, 0, end, 20, 4800-round)},
		"the other's clock goes round, and it talks seldom": {
			append(bridge(1, Axes, 0, 5000, 5, -700_000), bridge(1, Axes, 5100, end, 5, 5000)...),
			bridge(2, Load, 30, end, 700, 4800-round)},
		"one supply, and one lags until it is read as it comes": {
			append(lags(bridge(1, Axes, 0, 2000, 5, -700_000), 1800), bridge(1, Axes, 4000, end, 5, -700_000)...),
			bridge(2, Load, 0, end, 20, -700_000)},
		"the host slept": {
			slept(1, Axes, 5, -20_000),
			slept(2, Load, 20, -30_000)},
	} {
		var o Owners
		for _, l := range inOrder(c) {
			s := Sample{Tag: l.tag, Time: l.time}
			news, _ := o.Take(l.port, l.host, &s)
			assert.Equal(t, NoNews, news, "%s, at %d us", name, l.host)
			if !s.Held && l.host > 6_400_000 {
				assert.Equal(t, l.tag, s.Tag, "%s, at %d us", name, l.host)
			}
			if t.Failed() {
				break
			}
		}
	}
}

// bridge is what a bridge sends by a port, all milliseconds.
func bridge(port int, tag Tag, from, to, each, zero int64) (all []heardLine) {
	for at := from; at < to; at += each {
		all = append(all, heardLine{port, tag, at * 1000, uint32((at - zero) * 1000)})
	}
	return all
}

// heldUp has the lines of some milliseconds come together at their end.
func heldUp(all []heardLine, from, to int64) []heardLine {
	for i := range all {
		if at := &all[i].host; *at >= from*1000 && *at < to*1000 {
			*at = to * 1000
		}
	}
	return all
}

// inOrder lays the lines of ports into each other as they come.
func inOrder(ports [][]heardLine) (all []heardLine) {
	for {
		first := -1
		for i := range ports {
			if len(ports[i]) > 0 && (first < 0 || ports[i][0].host < ports[first][0].host) {
				first = i
			}
		}
		if first < 0 {
			return all
		}
		all = append(all, ports[first][0])
		ports[first] = ports[first][1:]
	}
}

// Where both were held up for so long that one seemed to have left its port, that is
// taken back with the first line that says so: each has its own lines again.
func TestWhoNeverMovedIsTakenBack(t *testing.T) {
	const end = 12_000
	var o Owners
	var moved []int
	for _, l := range inOrder([][]heardLine{
		heldUp(append(bridge(1, Axes, 0, 5000, 5, -700_000), bridge(1, Axes, 6000, end, 5, 5000)...), 4900, 6300),
		heldUp(append(bridge(2, Load, 0, 5000, 20, -400_000), bridge(2, Load, 5100, end, 20, 5000)...), 5980, 6400),
	}) {
		s := Sample{Tag: l.tag, Time: l.time}
		if news, _ := o.Take(l.port, l.host, &s); news == Moved {
			moved = append(moved, l.port)
		}
		if l.host > 6_400_000 {
			assert.Equal(t, l.tag, s.Tag, "at %d us", l.host)
		}
	}
	assert.Equal(t, []int{1, 2}, moved)
}

// A clock that stood, or began anew while nobody heard it, is known again after a while.
func TestClocksThatStoodAreLearnt(t *testing.T) {
	const end = 90_000
	for name, craft := range map[string][]heardLine{
		"stood":     append(bridge(1, Axes, 0, 9000, 5, -7000), bridge(1, Axes, 12_000, 60_000, 5, -4000)...),
		"began new": append(bridge(1, Axes, 0, 4000, 5, -1000), bridge(1, Axes, 30_000, 60_000, 5, 15_000)...),
	} {
		var o Owners
		zero := map[string]int64{"stood": -4000, "began new": 15_000}[name]
		for _, l := range inOrder([][]heardLine{
			append(craft, bridge(2, Axes, 61_000, end, 5, zero)...),
			append(bridge(2, Load, 0, 60_000, 20, -700_000), bridge(1, Load, 61_200, end, 20, -700_000)...),
		}) {
			s := Sample{Tag: l.tag, Time: l.time}
			o.Take(l.port, l.host, &s)
			if !assert.Equal(t, l.tag, s.Tag, "%s, at %d us", name, l.host) {
				break
			}
		}
	}
}

// A bridge that begins anew without its clock, and says the boot number of another,
// is not taken for that one again and again.
func TestAlikeBootsSettle(t *testing.T) {
	var o Owners
	moved := 0
	for ms := int64(0); ms < 30_000; ms += 5 {
		for b, tag := range []Tag{Axes, Load} {
			s := Sample{Tag: tag, Time: uint32(ms * 1000)}
			if ms%1000 == 300+int64(b)*400 {
				s.Tag = Hello
				s.Put(HelloBoot, 42+float64(b))
				if ms > 9000 {
					s.Put(HelloBoot, 43)
				}
			}
			want := s.Tag
			if news, _ := o.Take(b+1, ms*1000, &s); news == Moved {
				moved++
			}
			if ms > 11_000 {
				assert.Equal(t, want, s.Tag, "at %d ms", ms)
			}
		}
	}
	assert.LessOrEqual(t, moved, 4)
}
