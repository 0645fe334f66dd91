package dashboard

import (
	"math"
	"strings"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// overLimit is what a full gauge or chart shows, as a share of the limit: the
// limit itself then stands at two thirds, with room to see by how much it is
// passed.
const overLimit = 1.5

// quietShare is the share of the limit under which an oscillation is called
// quiet: what moves there is noise, whatever its pace.
const quietShare = 0.05

var axisNames = [3]string{"roll", "pitch", "yaw"}

// drawStrips draws each axis as a line of words over a chart of its last
// seconds; where rows are few the words alone.
func drawStrips(p pane, f *Frame) {
	if p.h == 0 {
		return
	}
	each := max(p.h/3, 1)
	for i := range f.Snap.Axes {
		strip := p.sub(0, i*each, p.w, each)
		if i == 2 && p.h >= 3 {
			strip = p.sub(0, i*each, p.w, p.h-2*each)
		}
		drawStrip(strip, f, i)
	}
}

func drawStrip(p pane, f *Frame, i int) {
	s, l := f.Snap, p.look
	a := &s.Axes[i]
	place := detect.Axis(i)
	x := label(p, s, 0, 0, 8, axisNames[i], place)
	if !a.Watched {
		word := "not watched: " + lackOf(s, detect.RisingOscillation, "no data")
		switch {
		case s.Lines == 0:
			word = "no data yet"
		case listening(s):
			word = "listening"
		case s.Armed == detect.No:
			word = "looked at once armed"
		}
		p.text(x, 0, word, l.plain)
	} else if old := oldWord(f, decode.Axes); old != "" {
		x = p.text(x, 0, old[2:], l.invert)
		p.text(x, 0, ": it was "+amountWord(a), l.plain)
	} else {
		x = p.text(x, 0, pad(amountWord(a), 16), l.bold)
		x = p.text(x, 0, pad(paceWord(a, oscillates(s, place)), 36), l.plain)
		drawAxisRates(p, a, x, 0)
	}
	if p.h > 1 {
		drawStripChart(p.sub(0, 1, p.w, p.h-1), s, i)
	}
}

// stripSide is what stands left of a chart.
const stripSide = 8

// drawStripChart draws the amplitude over the last seconds, newest at the
// right, against the limit. A dot is one step of the trail, so a wider screen
// shows more of it.
func drawStripChart(p pane, s *alarms.Snapshot, i int) {
	l, a := p.look, &s.Axes[i]
	if !(a.Limit > 0) || p.w < stripSide+8 {
		return
	}
	body := p.sub(stripSide, 0, p.w-stripSide, p.h)
	q := newPlot(l, body.w, body.h)
	points := s.Trails[i][:]
	n := min(q.across(), len(points))
	points = points[len(points)-n:]
	for k, v := range points {
		q.column(q.across()-n+k, float64(v)/a.Limit/overLimit)
	}
	limit := q.down() - 1 - int(math.Round(float64(q.down()-1)/overLimit))
	perCell := q.down() / max(q.h, 1)
	for x := q.across() - n; x < q.across(); x++ {
		if l.ascii || x%3 == 0 {
			q.dot(x, limit)
		}
	}
	level, up := marked(s, detect.Axis(i))
	over := l.bold
	if up {
		over = l.chip(level)
	}
	q.show(body, func(x, y int) tcell.Style {
		if y < limit/max(perCell, 1) {
			return over
		}
		return l.plain
	})
	p.text(0, limit/max(perCell, 1), left("limit "+string(l.limit), stripSide), l.plain)
	back := "-" + num(float64(n*alarms.TrailStep)/1e6, 0) + " s"
	if p.h > 2 {
		p.text(1, p.h-1, back, l.plain)
	}
}

// oscillates tells whether an alarm says how an axis shakes.
func oscillates(s *alarms.Snapshot, place detect.Where) bool {
	for i := range s.Alarms {
		if a := &s.Alarms[i]; a.Active && a.Kind == detect.RisingOscillation && a.Where&place != 0 {
			return true
		}
	}
	return false
}

// amountWord words the amplitude against its limit.
func amountWord(a *alarms.AxisView) string {
	digits := 3
	if a.Unit == "deg/s" {
		digits = 1
	}
	t := num(a.Amplitude, digits) + " of " + num(a.Limit, digits)
	if a.Unit != "" && a.Unit != "1" {
		t += " " + clean(a.Unit)
	}
	return t
}

// paceWord words the time that is left, frequency and growth: what is most
// urgent first, where a narrow screen cuts last. While an alarm is up, the time
// left stands with the alarm alone: two that differ would only puzzle. Under
// 0.05 a second a growth rounds to nothing.
func paceWord(a *alarms.AxisView, told bool) string {
	t := ""
	switch {
	case a.Limit > 0 && a.Amplitude >= a.Limit:
		t = "OVER"
	case !told && a.TimeToLimitS > 0 && a.TimeToLimitS < 100:
		t = "limit " + span(a.TimeToLimitS)
	}
	t = pad(t, 13)
	if !(a.FrequencyHz > 0) || a.Limit > 0 && a.Amplitude < quietShare*a.Limit {
		return t + "quiet"
	}
	t += pad(num(a.FrequencyHz, 1)+" Hz", 9)
	switch {
	case math.Abs(a.GrowthPerS) < 0.05 || math.IsNaN(a.GrowthPerS):
		t += "steady"
	case a.GrowthPerS > 0:
		t += "grows " + num(a.GrowthPerS, 1) + "/s"
	default:
		t += "dies " + num(-a.GrowthPerS, 1) + "/s"
	}
	return t
}

func drawAxisRates(p pane, a *alarms.AxisView, x, y int) {
	deg := func(r detect.Reading) string {
		if !r.OK {
			return "-"
		}
		return signed(r.V, 0)
	}
	t := "turns " + deg(a.Rate) + ", asked " + deg(a.Demand) + " deg/s"
	x, ok := p.fits(x, y, p.w, t, p.look.plain)
	if ok && a.Ctrl.OK {
		p.fits(x, y, p.w, ", output "+signed(a.Ctrl.V, 3), p.look.plain)
	}
}

// lackOf says why an alarm is not watched, or the other words where that is not
// said.
func lackOf(s *alarms.Snapshot, k detect.Kind, otherwise string) string {
	for i := range s.NotWatched {
		if strings.HasPrefix(s.NotWatched[i].Name, kindName(k)) {
			return clean(s.NotWatched[i].Why)
		}
	}
	return otherwise
}

// pad fills a text with blanks up to n cells.
func pad(s string, n int) string {
	if have := len([]rune(s)); have < n {
		return s + strings.Repeat(" ", n-have)
	}
	return s
}
