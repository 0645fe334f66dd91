package dashboard

import (
	"strconv"
	"unicode/utf8"
)

// A view is what the screen shows below the banner and the strip of the
// craft's state.
type view uint8

// The views, in the order of their keys.
const (
	viewNearest  view = iota // what is nearest to its limit, and the calm questions
	viewAxes                 // each axis over the last seconds
	viewMotors               // each motor on the common scale
	viewSpectrum             // vibration against the rotors' turns
	viewJournal              // what has happened
	viewAll                  // everything in words
	viewCount
)

var viewNames = [viewCount]string{"nearest", "axes", "motors", "spectrum", "journal", "all"}

// scrolls tells whether the arrows move in this view's text.
func (v view) scrolls() bool { return v == viewJournal || v == viewAll }

// sees opens a view.
func sees(v view) func(*board) {
	return func(b *board) { b.view, b.back, b.from, b.card = v, 0, 0, false }
}

func (b *board) nextView() { sees((b.view + 1) % viewCount)(b) }

// tabs draws the rule over a view with the names of all of them, each with
// its key, and returns what lies below. Names that have no room leave their
// numbers; a click opens a view.
func (b *board) tabs(p pane, hint string) pane {
	l := p.look
	for x := range p.w {
		p.put(x, 0, l.rule, l.plain)
	}
	short := p.w < 64
	x := 1
	for v := range viewCount {
		name := " " + strconv.Itoa(int(v)+1)
		if !short || v == b.view {
			name += " " + viewNames[v]
		}
		name += " "
		st := l.plain
		if v == b.view && !b.card {
			st = l.invert.Bold(true)
		}
		if x+utf8.RuneCountInString(name) > p.w {
			break
		}
		end := p.text(x, 0, name, st)
		b.clicks = append(b.clicks, clickable{p.x + x, p.y, end - x, sees(v)})
		x = end
	}
	if name := " c card "; hasCard(b.frame) && x+len(name) <= p.w {
		st := l.plain
		if b.card {
			st = l.invert.Bold(true)
		}
		b.clicks = append(b.clicks, clickable{p.x + x, p.y, len(name), (*board).swapCard})
		x = p.text(x, 0, name, st)
	}
	hintStyle := l.plain
	if past, short := pastWords(b.frame); past != "" {
		hint, hintStyle = past, l.invert.Bold(true)
		if at := p.w - len(hint) - 3; at < x {
			hint = short
		}
	}
	if at := p.w - utf8.RuneCountInString(hint) - 3; hint != "" && at >= x {
		p.text(at, 0, " "+hint+" ", hintStyle)
	}
	_, rest := p.cut(1)
	return rest
}

// pastWords say that what the views show is not of now; empty when it is.
func pastWords(f *Frame) (word, short string) {
	switch {
	case f == nil || f.Snap == nil:
	case f.Status.Ended:
		return "AS AT THE END", "END"
	case oldBench(f):
		return "OLD VALUES", "OLD"
	}
	return "", ""
}

// drawView draws the view that is open, under its rule.
func (b *board) drawView(p pane, f *Frame) {
	l := p.look
	switch b.view {
	case viewAxes:
		drawStrips(b.tabs(p, string(l.limit)+" the limit"), f)
	case viewMotors:
		drawMotorReaches(b.tabs(p, string(l.limit)+" marks the limit"), f)
	case viewSpectrum:
		drawSpectrum(b.tabs(p, ""), f)
	case viewJournal:
		hint := ""
		if b.back > 0 {
			hint = strconv.Itoa(b.back) + " newer below"
		}
		b.back = drawWholeJournal(b.tabs(p, hint), f, b.back)
	case viewAll:
		hint := ""
		lines := listLines(f, l, p.w)
		if hidden := len(lines) - b.from - (p.h - 1); hidden > 0 {
			hint = strconv.Itoa(hidden) + " more below"
		}
		b.from = drawLists(b.tabs(p, hint), lines, b.from, func(x, y, w, alarm int) {
			b.clicks = append(b.clicks, clickable{x, y, w, func(b *board) { b.acknowledgeOne(alarm) }})
		})
	default:
		b.drawNearest(p, f)
	}
}
