package dashboard

import (
	"strconv"

	"github.com/gdamore/tcell/v2"

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
func motorTitle(f *Frame, w int) string {
	if old := oldWord(f, decode.Out); old != "" {
		return "motors" + old
	}
	name := "motors: output, rpm, share of the mean"
	if mean, ok := meanOut(f.Snap); ok && w >= 60 {
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
		drawMotor(p.sub(i/rows*wide, i%rows, wide-1, 1), f, i)
	}
}

func drawMotor(p pane, f *Frame, i int) {
	s, l := f.Snap, p.look
	m := &s.Motors[i]
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
	if isOld(f, decode.Out) {
		p.text(x, 0, cutTo("old", wide), l.plain)
	} else {
		p.gauge(x, 0, wide, g)
	}
	drawMotorNumbers(p, x+wide+1, f, m)
}

func motorName(i int) string { return "m" + strconv.Itoa(i+1) }

// numbersWide is what drawMotorNumbers takes, with the temperature.
const numbersWide = 25

// drawMotorNumbers writes output, speed, share and temperature. A number that is
// old is left out: beside a motor that nobody hears, none may be taken for now.
func drawMotorNumbers(p pane, x int, f *Frame, m *alarms.MotorView) {
	l := p.look
	out, rpm, share, temp := read(m.Out, 3), "-", "-", ""
	if m.RPM.OK {
		rpm = grouped(m.RPM.V)
	}
	if m.Share.OK {
		share = l.times + num(m.Share.V, 2)
	}
	if m.Temp.OK {
		temp = num(m.Temp.V, 0) + l.degree
	}
	for _, c := range []struct {
		text string
		wide int
		ok   bool
		tag  decode.Tag
		st   tcell.Style
	}{
		{out, 5, m.Out.OK, decode.Out, l.bold},
		{rpm, 7, m.RPM.OK, decode.ERPM, l.plain},
		{share, 7, m.Share.OK, decode.Out, l.bold},
		{temp, 6, m.Temp.OK, decode.Temp, l.plain},
	} {
		if c.ok && isOld(f, c.tag) {
			c.text, c.st = "old", l.plain
		}
		fits := true
		if c.text != "" {
			x, fits = p.fits(x, 0, p.w, left(c.text, c.wide), c.st)
		}
		if !fits {
			return // a number that is cut is another number
		}
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
	if old := oldWord(f, decode.Out); old != "" {
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
		drawMotorNumbers(strip, x, f, &s.Motors[i])
		x += numbersWide + 2
		all := reachesAt(s, detect.Motor(i))
		if len(all) == 0 {
			strip.text(x, 0, "no distance is known now", l.plain)
		}
		for y := range min(each, len(all)) {
			drawMotorReach(strip.sub(x, y, strip.w-x, 1), f, &all[y])
		}
	}
}

func drawMotorReach(p pane, f *Frame, r *detect.Reach) {
	level, up := reachUp(f.Snap, r)
	x := p.label(0, 0, kindWide, kindName(r.Kind), level, up)
	value := 13
	wide := max(4, min(p.w-x-value, 60))
	drawDistance(p, f, x, wide, r, level, p.look.plain)
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
