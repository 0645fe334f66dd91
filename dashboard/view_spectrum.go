package dashboard

import (
	"math"
	"strconv"
	"unicode/utf8"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// spectrumRange is how far under the highest peak the picture goes, dB: a
// line a hundredth as high is still seen (common practice, no source).
const spectrumRange = 40

// drawSpectrum draws the newest spectrum of the vibration against the order,
// the frequency over the rotors' turns: once a turn, twice, and as often as
// blades pass, with the lines that a slow stream folds back.
func drawSpectrum(p pane, f *Frame) {
	s, l := f.Snap, p.look
	sp := &s.Spectrum
	if sp.At == 0 || len(sp.Amp) < 2 || !(sp.BinHz > 0) {
		p.text(1, 0, "no spectrum yet: "+lackOf(s, detect.RotorLine, "it needs a second of turning rotors and their speeds"), l.plain)
		return
	}
	top := axisOfSpectrum(s)
	p.row(0, spectrumParts(f, l)...)
	rows := min(max(p.h-4, 1), 30)
	lines := 0
	if p.h >= 24 {
		lines = len(s.Motors)
	}
	rows = max(min(rows, p.h-4-lines), 1)
	body := p.sub(1, 1, p.w-2, rows)
	drawSpectrumPlot(body, s, top)
	drawOrderMarks(p.sub(1, 1+rows, p.w-2, 2), s, top)
	foot := p.sub(0, 3+rows, p.w, p.h-3-rows)
	foot.row(0, spectrumWords(s, l)...)
	for m := 0; m < min(len(s.Motors), len(s.RotorLines.Lines)) && m+1 < foot.h; m++ {
		foot.text(1, m+1, lineWords(s, m, l), l.plain)
	}
}

// A spectrumAxis says what the picture's width stands for.
type spectrumAxis struct {
	most float64 // order at the right end; hertz where the rotors stand
	unit float64 // hertz of one order, 1 where the rotors stand
	turn bool
}

func axisOfSpectrum(s *alarms.Snapshot) spectrumAxis {
	sp := &s.Spectrum
	nyquist := sp.BinHz * float64(len(sp.Amp)-1)
	if !(sp.TurnHz > 0) {
		return spectrumAxis{most: nyquist, unit: 1}
	}
	orders := 4.0
	if s.RotorLines.Orders > 2 {
		orders = max(orders, s.RotorLines.Order[2]+1)
	}
	return spectrumAxis{most: orders, unit: sp.TurnHz, turn: true}
}

// column is where a frequency stands in w columns, -1 beyond the end.
func (a *spectrumAxis) column(hz float64, w int) int {
	x := int(hz / a.unit / a.most * float64(w))
	if !(hz >= 0) || x >= w {
		return -1
	}
	return x
}

func drawSpectrumPlot(p pane, s *alarms.Snapshot, a spectrumAxis) {
	l, sp := p.look, &s.Spectrum
	q := newPlot(l, p.w, p.h)
	peak := 0.0
	for _, v := range sp.Amp[1:] { // what stands still is no vibration
		peak = max(peak, float64(v))
	}
	if !(peak > 0) || math.IsInf(peak, 0) {
		p.text(0, 0, "nothing vibrates", l.plain)
		return
	}
	n := q.across()
	for x := range n {
		lo := float64(x) * a.most * a.unit / float64(n) / sp.BinHz
		hi := float64(x+1) * a.most * a.unit / float64(n) / sp.BinHz
		first, last := max(int(math.Round(lo)), 1), max(int(math.Round(hi)), int(math.Round(lo))+1)
		if first >= len(sp.Amp) {
			break
		}
		v := 0.0
		for _, amp := range sp.Amp[first:max(first+1, min(last, len(sp.Amp)))] {
			v = max(v, float64(amp))
		}
		q.column(x, 1+20*math.Log10(v/peak)/spectrumRange)
	}
	q.show(p, func(int, int) tcell.Style { return l.plain })
	p.text(0, 0, num(peak, 2)+" "+clean(sp.Unit), l.bold)
	end := a.column(sp.BinHz*float64(len(sp.Amp)-1), p.w)
	if end >= 0 && end < p.w-20 {
		for y := range p.h {
			p.put(end+1, y, l.bar, l.plain)
		}
		p.text(end+3, 0, "too fast for", l.plain)
		p.text(end+3, 1, "this stream", l.plain)
	}
}

// drawOrderMarks names the places below the picture: the orders in the first
// row, and in the second where a folded line shows instead.
func drawOrderMarks(p pane, s *alarms.Snapshot, a spectrumAxis) {
	l := p.look
	if !a.turn {
		p.text(0, 0, "0 Hz", l.plain)
		t := num(a.most, 0) + " Hz"
		p.text(p.w-len(t), 0, t, l.plain)
		return
	}
	lines := &s.RotorLines
	for k := range min(lines.Orders, len(lines.Order)) {
		x := a.column(lines.Order[k]*a.unit, p.w)
		if x < 0 {
			continue
		}
		name := string(l.tick) + num(lines.Order[k], 0) + "x"
		if k == lines.Orders-1 {
			name += " blades pass"
		}
		p.text(x, 0, name, l.bold)
	}
	rate := 2 * s.Spectrum.BinHz * float64(len(s.Spectrum.Amp)-1)
	at := 0
	for k := range min(lines.Orders, len(lines.Order)) {
		hz := lines.Order[k] * a.unit
		x := a.column(folded(hz, rate), p.w)
		if hz <= rate/2 || x < at {
			continue
		}
		t := string(l.tick) + "fold of " + num(lines.Order[k], 0) + "x"
		p.text(x, 1, t, l.invert)
		at = x + utf8.RuneCountInString(t) + 1
	}
}

// folded is where a frequency shows in a stream of that many lines a second:
// mirrored at half the rate and at zero (the sampling theorem).
func folded(hz, rate float64) float64 {
	if !(rate > 0) || !(hz >= 0) || math.IsInf(hz, 0) {
		return -1
	}
	hz = math.Mod(hz, rate)
	return min(hz, rate-hz)
}

// spectrumParts head the picture: what it is of, and how old.
func spectrumParts(f *Frame, l *look) []part {
	s := f.Snap
	sp := &s.Spectrum
	what := "body rates"
	if sp.Tag == decode.Accel {
		what = "specific force"
	}
	parts := []part{{" " + what + "  ", l.bold}}
	if sp.TurnHz > 0 {
		parts = append(parts, part{"rotors " + num(sp.TurnHz, 1) + " turns/s  ", l.bold})
	} else {
		parts = append(parts, part{"rotors stand  ", l.bold})
	}
	if age := s.T - sp.At; age > 2*oldValues || isOld(f, sp.Tag) {
		parts = append(parts, part{" OLD: " + span(float64(age)/1e6) + " ago ", l.invert.Bold(true)})
	}
	return append(parts, part{"dB scale, " + strconv.Itoa(spectrumRange) + " dB high", l.plain})
}

// spectrumWords say what the lines tell of the craft.
func spectrumWords(s *alarms.Snapshot, l *look) []part {
	v := &s.RotorLines
	poles := "poles not told"
	if v.Stated > 0 {
		poles = strconv.Itoa(v.Stated) + " poles stated"
	}
	switch {
	case v.Poles == 0 || !v.Sure:
		poles += ", not yet heard which"
	case v.Poles == v.Stated:
		poles += ", and heard"
	default:
		poles += ", HEARD " + strconv.Itoa(v.Poles)
	}
	parts := []part{{" " + poles, l.bold}}
	if v.G > 0 {
		parts = append(parts, part{l.dot + "vibration of the rotors " + num(v.G, 3) + " g, " + num(v.MMS, 1) + " mm/s rms", l.plain})
	}
	if v.TrendOK {
		parts = append(parts, part{l.dot + "grows as speed to the " + num(v.Trend, 1) + " (unbalance: 2)", l.plain})
	}
	return parts
}

// lineWords tell the lines of one motor.
func lineWords(s *alarms.Snapshot, m int, l *look) string {
	v := &s.RotorLines
	t := pad(motorName(m), 4)
	for k := range min(v.Orders, len(v.Order)) {
		x := &v.Lines[m][k]
		word := num(v.Order[k], 0) + "x "
		switch {
		case !(x.Hz > 0):
			word += "-"
		default:
			word += num(x.Hz, 0) + " Hz"
		}
		switch {
		case !x.Seen && x.Hz > 0:
			word += ", in the noise"
		case x.G > 0:
			word += ", " + num(x.G, 3) + " g"
		case x.Rate > 0:
			word += ", " + num(x.Rate, 1) + " deg/s"
		}
		t += pad(word, 30) + "  "
	}
	return t
}
