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

// drawMotors draws output, speed, share of the mean and heat of each motor.
func drawMotors(p pane, f *Frame, columns int) {
	s, l := f.Snap, p.look
	name := "motors: output, rpm, share of the mean"
	if mean, ok := meanOut(s); ok && p.w >= 60 {
		name += "; mean " + num(mean, 3)
	}
	if old := oldWord(s, decode.Out); old != "" {
		name = "motors" + old
	}
	body := p.title(name)
	if len(s.Motors) == 0 {
		body.text(1, 0, "no motor has been heard of", l.plain)
		return
	}
	n := min(len(s.Motors), 8)
	rows := (n + columns - 1) / columns
	wide := body.w / columns
	for i := range n {
		drawMotor(body.sub(i/rows*wide, i%rows, wide-1, 1), s, i)
	}
}

func drawMotor(p pane, s *alarms.Snapshot, i int) {
	m, l := &s.Motors[i], p.look
	x := label(p, s, 0, 0, 5, "m"+strconv.Itoa(i+1), detect.Motor(i))
	rest := 20
	if m.Temp.OK {
		rest += 6
	}
	wide := max(3, min(p.w-x-rest, 40))
	g := gauge{over: l.bold}
	if m.Out.OK {
		g.share = m.Out.V
	}
	p.gauge(x, 0, wide, g)
	x += wide + 1
	x = p.text(x, 0, left(read(m.Out, 3), 5), l.bold)
	rpm := "-"
	if m.RPM.OK {
		rpm = grouped(m.RPM.V)
	}
	x = p.text(x, 0, left(rpm, 7), l.plain)
	if m.Share.OK {
		x = p.text(x, 0, left(l.times+num(m.Share.V, 2), 7), l.bold)
	} else {
		x = p.text(x, 0, left("-", 7), l.plain)
	}
	if m.Temp.OK {
		p.fits(x, 0, p.w, left(num(m.Temp.V, 0)+l.degree, 6), l.plain)
	}
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
