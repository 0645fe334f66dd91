package dashboard

import (
	"math"
	"strings"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// overLimit is what a full oscillation gauge shows, as a share of the limit:
// the limit itself then stands at two thirds, with room to see by how much it
// is passed.
const overLimit = 1.5

// quietShare is the share of the limit under which an oscillation is called
// quiet: what moves there is noise, whatever its pace.
const quietShare = 0.05

var axisNames = [3]string{"roll", "pitch", "yaw"}

// axisRows is how many rows the panel of the axes takes: each axis has one,
// or two, or two and a blank one.
func axisRows(each int) int { return 1 + 3*each }

// drawAxes draws how far the oscillation of each axis is from its limit.
func drawAxes(p pane, f *Frame, each int) {
	s := f.Snap
	name := "oscillation, " + string(p.look.limit) + " marks the limit"
	if old := oldWord(s, decode.Axes); old != "" {
		name = "oscillation" + old
	}
	body := p.title(name)
	for i := range s.Axes {
		drawAxis(body, s, i, i*each, each > 1)
	}
}

func drawAxis(p pane, s *alarms.Snapshot, i, y int, tall bool) {
	a, l := &s.Axes[i], p.look
	place := detect.Axis(i)
	x := label(p, s, 0, y, 8, axisNames[i], place)
	level, up := marked(s, place)
	wide := max(6, min(p.w-x-51, 60))
	if tall {
		wide = max(6, min(p.w-x-19, 90))
	}
	if !a.Watched {
		word := "not watched: " + lackOf(s, detect.RisingOscillation)
		switch {
		case s.Lines == 0:
			word = "no data yet"
		case listening(s):
			word = "listening"
		}
		p.text(x, y, word, l.plain)
		if tall {
			drawAxisRates(p, a, x, y+1)
		}
		return
	}
	g := gauge{over: l.bold}
	if a.Limit > 0 {
		g.share, g.mark = a.Amplitude/a.Limit/overLimit, 1/overLimit
	}
	told := oscillates(s, place)
	if up {
		g.over = l.chip(level)
	}
	p.gauge(x, y, wide, g)
	x += wide + 1
	if tall {
		p.text(x, y, amountWord(a), l.bold)
		x, y = 8, y+1
		x = p.text(x, y, pad(paceWord(a, told), 40), l.plain)
		drawAxisRates(p, a, x, y)
		return
	}
	x = p.text(x, y, pad(amountWord(a), 15), l.bold)
	p.text(x+1, y, paceWord(a, told), l.plain)
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
	x, _ = p.fits(x, y, p.w, t, p.look.plain)
	if a.Ctrl.OK {
		p.fits(x, y, p.w, ", output "+signed(a.Ctrl.V, 3), p.look.plain)
	}
}

// lackOf says why an alarm is not watched.
func lackOf(s *alarms.Snapshot, k detect.Kind) string {
	for i := range s.NotWatched {
		if strings.HasPrefix(s.NotWatched[i].Name, kindName(k)) {
			return clean(s.NotWatched[i].Why)
		}
	}
	return "no data"
}

// pad fills a text with blanks up to n cells.
func pad(s string, n int) string {
	if have := len([]rune(s)); have < n {
		return s + strings.Repeat(" ", n-have)
	}
	return s
}
