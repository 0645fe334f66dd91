package dashboard

import (
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/gdamore/tcell/v2"
)

// edgeWide is how many columns the pattern takes at each side of the banner.
const edgeWide = 2

// drawBanner draws the bulletin as large as the pane allows: two lines of big
// letters when there is room, one, or plain words. beat moves the edges.
func drawBanner(p pane, b *bulletin, beat int) {
	l := p.look
	style, chip := l.plain, l.chip(b.level)
	if b.filled {
		style = chip
	}
	p.fill(' ', style)
	inner := p
	if b.level > 0 {
		if !b.moving {
			beat = 0
		}
		drawEdges(p, l.edge(b.level, beat), chip)
		inner = p.sub(edgeWide+1, 0, p.w-2*edgeWide-2, p.h)
	} else {
		inner = p.sub(1, 0, p.w-2, p.h)
	}
	rows := sentenceRows(inner.h)
	letters := inner.sub(0, 0, inner.w, inner.h-rows)
	tagged := drawLetters(letters, b, style)
	foot := inner.sub(0, inner.h-rows, inner.w, rows)
	x := 0
	if b.tag != "" && !tagged {
		x = foot.text(0, 0, b.tag, style.Bold(true))
		x = foot.text(x, 0, l.dot, style)
	}
	drawSentence(foot, x, b, style)
}

// drawSentence writes the sentence behind the tag and goes on in the next
// rows, where there are any.
func drawSentence(foot pane, x int, b *bulletin, style tcell.Style) {
	if foot.h < 2 {
		text := join(foot.look, b.text, b.more)
		if x+utf8.RuneCountInString(text) > foot.w {
			text = b.text
		}
		foot.text(x, 0, text, style)
		return
	}
	text := []rune(b.text)
	if x+len(text) <= foot.w {
		foot.text(x, 0, b.text, style)
		foot.text(0, 1, b.more, style)
		return
	}
	lines := wrap(b.text, max(8, foot.w-x))
	foot.text(x, 0, lines[0], style)
	rest := wrap(join(foot.look, b.text[min(len(b.text), len(lines[0])):], b.more), foot.w)
	for i := 0; i < len(rest) && i+1 < foot.h; i++ {
		foot.text(0, i+1, rest[i], style)
	}
}

// sentenceRows is how many rows of small words a banner of h rows has.
func sentenceRows(h int) int {
	switch {
	case h >= 12:
		return 2
	case h >= 2:
		return 1
	}
	return 0
}

func drawEdges(p pane, r rune, st tcell.Style) {
	for y := range p.h {
		for x := range edgeWide {
			p.put(x, y, r, st)
			p.put(p.w-1-x, y, r, st)
		}
	}
}

// drawLetters draws the two big lines and the asides right of them. It
// reports whether the asides, the tag first among them, had room.
func drawLetters(p pane, b *bulletin, style tcell.Style) bool {
	l := p.look
	two := 2*bigHeight(l, 1) <= p.h
	if two {
		half := p.h / 2
		scale := 1
		for bigHeight(l, scale+1) <= half {
			scale++
		}
		lines := [2]pane{p.sub(0, 0, p.w, half), p.sub(0, p.h-half, p.w, half)}
		order := fitting(b.order, p.w)
		w := lines[0].loud(b.head, scale, style)
		w2 := lines[1].loud(order, scale, style)
		return drawAsides(p, b, w, w2, half, style)
	}
	drawOneLine(p, b, style)
	return false
}

// drawOneLine has room for one big line at most: all of it, else the order
// under the head in small words, else small words alone.
func drawOneLine(p pane, b *bulletin, style tcell.Style) {
	l := p.look
	head := spaced(b.head)
	tall := bigHeight(l, 1)
	if tall <= p.h {
		if p.big(b.head+"  "+fitting(b.order, p.w-5*utf8.RuneCountInString(b.head)-8), 1, style) > 0 {
			return
		}
		if p.h > tall && p.sub(0, p.h-tall, p.w, tall).big(fitting(b.order, p.w), 1, style) > 0 {
			p.text(0, 0, head, style.Bold(true))
			return
		}
	}
	words := b.head + ": " + b.order
	if wide := head + " :  " + spaced(b.order); utf8.RuneCountInString(wide) <= p.w {
		words = wide
	}
	p.text(0, max(0, (p.h-1)/2), words, style.Bold(true))
}

// fitting is the order itself where big letters of it fit w columns, else its
// first part.
func fitting(order string, w int) string {
	if rows, ok := dots(order); ok && len(rows[0]) <= w {
		return order
	}
	return firstWords(order)
}

// asideLeast is the fewest columns that asides are worth.
const asideLeast = 20

// drawAsides writes the small lines right of the big ones: beside both when
// the room allows, else beside the shorter of them. It reports whether there
// was room.
func drawAsides(p pane, b *bulletin, w1, w2, half int, style tcell.Style) bool {
	x, from, to := max(w1, w2)+3, 0, p.h
	if p.w-x < asideLeast {
		if x, to = w1+3, half; w2 < w1 {
			x, from, to = w2+3, p.h-half, p.h
		}
	}
	if p.w-x < asideLeast {
		return false
	}
	side := p.sub(x, from, p.w-x, to-from)
	for i, a := range pickAsides(b, side.h) {
		st := a.style
		if b.filled && (st == p.look.plain || st == p.look.bold) {
			st = style // the banner's own colours keep the words readable
		}
		side.text(0, i, a.text, st)
	}
	return true
}

// pickAsides chooses what n rows can hold: the first two lines, then the
// other alarms, then the rest. Alarms that have no room are counted.
func pickAsides(b *bulletin, n int) []aside {
	head := min(2, len(b.asides))
	out := append(make([]aside, 0, n+len(b.others)), b.asides[:head]...)
	room := max(0, n-head)
	if len(b.others) <= room {
		out = append(out, b.others...)
	} else if room > 0 {
		out = append(out, b.others[:room]...)
		hidden := len(b.others) - room
		out[len(out)-1].text = strings.TrimRight(out[len(out)-1].text, " ") + " +" + strconv.Itoa(hidden) + " "
	}
	out = append(out, b.asides[head:]...)
	return out[:min(n, len(out))]
}
