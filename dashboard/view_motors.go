package dashboard

import (
	"strconv"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// motorRows is how many rows the motors take in a number of columns.
func motorRows(s *alarms.Snapshot, columns int) int {
	n := min(len(s.Motors), 8)
	if n == 0 {
		return 2
	}
	return 1 + (n+columns-1)/columns
}

// motorTitle names the columns of the motors' rows.
func motorTitle(s *alarms.Snapshot, w int) string {
	if old := oldWord(s, decode.Out); old != "" {
		return "motors" + old
	}
	name := "motors: output, rpm, share of the mean"
	if mean, ok := meanOut(s); ok && w >= 60 {
		name += "; mean " + num(mean, 3)
	}
	return name
}

// drawMotors draws output, speed, share of the mean and heat of each motor.
func drawMotors(p pane, f *Frame, columns int) {
	s := f.Snap
	if len(s.Motors) == 0 {
		p.text(1, 0, "no motor has been heard of", p.look.plain)
		return
	}
	n := min(len(s.Motors), 8)
	rows := (n + columns - 1) / columns
	wide := p.w / columns
	for i := range n {
		drawMotor(p.sub(i/rows*wide, i%rows, wide-1, 1), s, i)
	}
}

func drawMotor(p pane, s *alarms.Snapshot, i int) {
	m, l := &s.Motors[i], p.look
	x := label(p, s, 0, 0, 5, motorName(i), detect.Motor(i))
	rest := 20
	if m.Temp.OK {
		rest += 6
	}
	wide := max(3, min(p.w-x-rest, 40))
	g := gauge{over: l.bold}
	if m.Out.OK {
		g.share = m.Out.V
	}
	if oldBench(s) {
		p.text(x, 0, cutTo("old", wide), l.plain)
	} else {
		p.gauge(x, 0, wide, g)
	}
	drawMotorNumbers(p, x+wide+1, s, m)
}

func motorName(i int) string { return "m" + strconv.Itoa(i+1) }

// numbersWide is what drawMotorNumbers takes, with the temperature.
const numbersWide = 25

// drawMotorNumbers writes output, speed, share and temperature.
func drawMotorNumbers(p pane, x int, s *alarms.Snapshot, m *alarms.MotorView) {
	l := p.look
	x = p.text(x, 0, left(read(m.Out, 3), 5), l.bold)
	rpm := "-"
	switch {
	case m.RPM.OK && slowOld(s, decode.ERPM):
		rpm = "old"
	case m.RPM.OK:
		rpm = grouped(m.RPM.V)
	}
	x = p.text(x, 0, left(rpm, 7), l.plain)
	if m.Share.OK {
		x = p.text(x, 0, left(l.times+num(m.Share.V, 2), 7), l.bold)
	} else {
		x = p.text(x, 0, left("-", 7), l.plain)
	}
	if m.Temp.OK && slowOld(s, decode.Temp) {
		p.fits(x, 0, p.w, left("old", 6), l.plain)
	} else if m.Temp.OK {
		p.fits(x, 0, p.w, left(num(m.Temp.V, 0)+l.degree, 6), l.plain)
	}
}

// drawMotorReaches draws each motor with all that is watched of it on the
// common scale, nearest first; where rows are few the nearest alone.
func drawMotorReaches(p pane, f *Frame) {
	s, l := f.Snap, p.look
	n := min(len(s.Motors), 8)
	if n == 0 {
		p.text(1, 0, "no motor has been heard of", l.plain)
		return
	}
	if old := oldWord(s, decode.Out); old != "" {
		p.text(1, 0, "outputs"+old, l.invert)
		_, p = p.cut(1)
	}
	most := 1
	for i := range n {
		most = max(most, len(reachesAt(s, detect.Motor(i))))
	}
	each := max(1, min(most, p.h/n))
	gap := 0
	if n*(each+1) <= p.h+1 {
		gap = 1
	}
	for i := range n {
		strip := p.sub(0, i*(each+gap), p.w, each)
		x := label(strip, s, 0, 0, 5, motorName(i), detect.Motor(i))
		drawMotorNumbers(strip, x, s, &s.Motors[i])
		x += numbersWide + 2
		all := reachesAt(s, detect.Motor(i))
		if len(all) == 0 {
			strip.text(x, 0, "no distance is known now", l.plain)
		}
		for y := range min(each, len(all)) {
			drawMotorReach(strip.sub(x, y, strip.w-x, 1), s, &all[y])
		}
	}
}

func drawMotorReach(p pane, s *alarms.Snapshot, r *detect.Reach) {
	level, up := reachUp(s, r)
	x := p.label(0, 0, kindWide, kindName(r.Kind), level, up)
	value := 13
	wide := max(4, min(p.w-x-value, 60))
	drawDistance(p, s, x, wide, r, level, p.look.plain)
}

// reachesAt are the distances of one place, nearest first.
func reachesAt(s *alarms.Snapshot, w detect.Where) []detect.Reach {
	var out []detect.Reach
	for _, r := range s.Reaches {
		if r.Where == w {
			out = append(out, r)
		}
	}
	return out
}

// left fills a text with blanks in front, up to n cells.
func left(s string, n int) string {
	for have := len([]rune(s)); have < n; have++ {
		s = " " + s
	}
	return s
}

// meanOut is the mean of the outputs that are measured.
func meanOut(s *alarms.Snapshot) (float64, bool) {
	sum, n := 0.0, 0
	for i := range s.Motors {
		if s.Motors[i].Out.OK {
			sum += s.Motors[i].Out.V
			n++
		}
	}
	if n == 0 {
		return 0, false
	}
	return sum / float64(n), true
}
