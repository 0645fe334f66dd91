package dashboard

import (
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms/detect"
)

// edgeWide is how many columns the pattern takes at each side of the banner.
const edgeWide = 2

// drawBanner draws the bulletin as large as the pane allows: two lines of big
// letters when there is room, one, or plain words. bright is the lit half of a
// flash: the other half leaves the colour to the edges, and the words.
func drawBanner(p pane, b *bulletin, bright bool) {
	l := p.look
	style, chip := l.plain, l.chip(b.level)
	if b.filled && bright {
		style = chip
	}
	p.fill(' ', style)
	inner := p
	if b.level > 0 {
		beat := 0
		if b.level >= detect.High && !bright {
			beat = 1
		}
		drawEdges(p, l.edge(b.level, beat), chip)
		inner = p.sub(edgeWide+1, 0, p.w-2*edgeWide-2, p.h)
	} else {
		inner = p.sub(1, 0, p.w-2, p.h)
	}
	rows := sentenceRows(inner.h)
	letters := inner.sub(0, 0, inner.w, inner.h-rows)
	tagged, caused := drawLetters(letters, b, style)
	foot := inner.sub(0, inner.h-rows, inner.w, rows)
	x := 0
	if b.tag != "" && !tagged {
		x = foot.text(0, 0, b.tag, style.Bold(true))
		x = foot.text(x, 0, l.dot, style)
	}
	cause := b.cause
	if caused {
		cause = ""
	}
	drawSentence(foot, x, [3]string{b.text, cause, b.more}, style)
}

// drawSentence writes what is wrong behind the tag, its cause, and what to do.
// What to do is never cut as long as it fits alone: half of it may be the opposite
// of it. Where all does not fit, what is wrong is cut first, then the cause goes.
func drawSentence(foot pane, x int, words [3]string, style tcell.Style) {
	l, size := foot.look, utf8.RuneCountInString
	text, cause, act := words[0], words[1], words[2]
	more := join(l, cause, act)
	both := join(l, text, more)
	if foot.h < 2 {
		if x+size(both) > foot.w {
			both = text
		}
		if x+size(both) > foot.w {
			both = firstLine(text, foot.w-x-len(cutMark)) + cutMark
		}
		foot.text(x, 0, both, style)
		return
	}
	if x+size(text) <= foot.w && size(more) <= foot.w {
		foot.text(x, 0, text, style)
		foot.text(0, 1, more, style)
		return
	}
	if foot.flow(x, both, style) {
		return
	}
	if clause := firstSense(text); more != "" && (foot.flow(x, join(l, clause, more), style) || foot.flow(x, join(l, clause, act), style)) {
		return
	}
	if act == "" && foot.flow(x, text, style) {
		return
	}
	short := firstLine(text, foot.w-x-len(cutMark))
	rest := strings.TrimSpace(text[len(short):])
	if rest != "" {
		short += cutMark
	}
	switch {
	case more == "":
		more = rest
	case size(more) > foot.w && act != "":
		more = act
	}
	if act != "" && size(act) > foot.w {
		foot.yields(x, text, act, style)
		return
	}
	foot.text(x, 0, short, style)
	if size(more) > foot.w {
		more = firstLine(more, foot.w-len(cutMark)) + cutMark
	}
	foot.text(0, 1, more, style)
}

// cutMark ends a text that goes on.
const cutMark = " ..."

// yields writes what to do over as many rows as it takes, and ahead of it as much of
// the text as that leaves room for.
func (p pane) yields(x int, text, act string, st tcell.Style) {
	for words := strings.Fields(text); len(words) > 1; {
		words = words[:len(words)-1]
		if p.flow(x, join(p.look, strings.Join(words, " ")+cutMark, act), st) {
			return
		}
	}
	if p.flow(x, act, st) {
		return
	}
	for y, line := range wrap(act, p.w) {
		if y == p.h-1 {
			line = firstLine(line, p.w-len(cutMark)) + cutMark
		}
		if y < p.h {
			p.text(0, y, line, st)
		}
	}
}

// flow writes a text over all rows of the pane, from column x of the first one
// on, if all of it fits.
func (p pane) flow(x int, text string, st tcell.Style) bool {
	lead := strings.Repeat("x", max(0, x)) // holds the place of what stands there
	lines := wrap(lead+text, p.w)
	if len(lines) == 0 || len(lines) > p.h || len(lines[0]) < len(lead) {
		return false
	}
	for _, line := range lines {
		if utf8.RuneCountInString(line) > p.w {
			return false
		}
	}
	p.text(x, 0, lines[0][len(lead):], st)
	for y, line := range lines[1:] {
		p.text(0, y+1, line, st)
	}
	return true
}

// firstClause is a sentence up to the first stop inside it; what says that it is over
// is none.
func firstClause(s string) string {
	if rest, over := strings.CutPrefix(s, itWas); over {
		return itWas + firstClause(rest)
	}
	if i := strings.IndexAny(s, ":;"); i > 0 && i+1 < len(s) && s[i+1] == ' ' {
		return s[:i]
	}
	return s
}

// senseWords are the fewest words that make sense by themselves: fewer are the name
// of what the sentence is about.
const senseWords = 3

// firstSense is a sentence up to the first stop inside it that leaves one.
func firstSense(s string) string {
	rest, over := strings.CutPrefix(s, itWas)
	if over {
		return itWas + firstSense(rest)
	}
	for i := range len(s) - 1 {
		if (s[i] == ':' || s[i] == ';') && s[i+1] == ' ' && len(strings.Fields(s[:i])) >= senseWords {
			return s[:i]
		}
	}
	return s
}

// firstLine is what of a text fits w cells, cut at a space where it can be.
func firstLine(text string, w int) string {
	if lines := wrap(text, max(w, 1)); len(lines) > 0 && strings.HasPrefix(text, lines[0]) {
		return lines[0]
	}
	return text
}

// sentenceRows is how many rows of small words a banner of h rows has.
func sentenceRows(h int) int {
	switch {
	case h >= 8:
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

// drawLetters draws the two big lines and the small ones right of them. It
// reports whether the tag and the cause had room there.
func drawLetters(p pane, b *bulletin, style tcell.Style) (tagged, caused bool) {
	l := p.look
	two := 2*bigHeight(l, 1) <= p.h
	if two {
		half := p.h / 2
		scale := 1
		for bigHeight(l, scale+1) <= half {
			scale++
		}
		lines := [2]pane{p.sub(0, 0, p.w, half), p.sub(0, p.h-half, p.w, half)}
		w := lines[0].loud(b.head, scale, style)
		w2 := 0
		if order := fitting(b.order, p.w); utf8.RuneCountInString(order) <= p.w {
			w2 = lines[1].loud(order, scale, style)
		} else if lines[1].flow(0, order, style.Bold(true)) { // whole or not at all
			w2 = p.w
		}
		return drawAsides(p, b, w, w2, half, style)
	}
	drawOneLine(p, b, style)
	return false, false
}

// drawOneLine has room for one big line at most: all of it, else the order
// under the head in small words, else small words alone.
func drawOneLine(p pane, b *bulletin, style tcell.Style) {
	l := p.look
	tall := bigHeight(l, 1)
	if tall <= p.h {
		if p.big(b.head+"  "+fitting(b.order, p.w-5*utf8.RuneCountInString(b.head)-8), 1, style) > 0 {
			return
		}
		if p.h > tall && p.sub(0, p.h-tall, p.w, tall).big(fitting(b.order, p.w), 1, style) > 0 {
			p.text(0, 0, b.head, style.Bold(true))
			return
		}
	}
	drawSmall(p, b, style)
}

// drawSmall has no room for any big letters. The order stands there whole or not at
// all, for half of one may be the opposite of it; the head gives way to it.
func drawSmall(p pane, b *bulletin, style tcell.Style) {
	size, st := utf8.RuneCountInString, style.Bold(true)
	order := b.order
	if size(order) > p.w {
		order = firstWords(order)
	}
	switch both := b.head + ": "; {
	case size(both+b.order) <= p.w:
		p.text(0, max(0, (p.h-1)/2), both+b.order, st)
		return
	case size(both+order) <= p.w:
		p.text(0, max(0, (p.h-1)/2), both+order, st)
		return
	case p.sub(0, 1, p.w, p.h-1).flow(0, order, st):
		p.text(0, 0, firstCells(b.head, p.w), st)
		return
	case p.flow(0, order, st):
		b.tag = join(p.look, b.head, b.tag)
		return
	}
	p.text(0, max(0, (p.h-1)/2), firstCells(b.head, p.w), st)
}

// asideLeast is the fewest columns that small lines are worth.
const asideLeast = 20

// drawAsides writes the small lines right of the big ones: beside both when
// the room allows, else beside the shorter of them.
func drawAsides(p pane, b *bulletin, w1, w2, half int, style tcell.Style) (tagged, caused bool) {
	least := max(asideLeast, utf8.RuneCountInString(b.tag))
	x, from, to := max(w1, w2)+3, 0, p.h
	if p.w-x < least {
		if x, to = w1+3, half; w2 < w1 {
			x, from, to = w2+3, p.h-half, p.h
		}
	}
	if p.w-x < least {
		return false, false
	}
	side := p.sub(x, from, p.w-x, to-from)
	lines, caused := b.sideLines(side.w, side.h)
	for i, a := range lines {
		st := a.style
		if b.filled && (st == p.look.plain || st == p.look.bold) {
			st = style // the banner's own colours keep the words readable
		}
		side.text(0, i, a.text, st)
	}
	return true, caused
}

// sideLines chooses what n rows of w cells can hold: what is up, then at least
// one of the other alarms, what else is urgent, the cause, the rest of the
// alarms, and the rest. Alarms that have no room are counted.
func (b *bulletin) sideLines(w, n int) (lines []aside, caused bool) {
	for _, a := range b.heads[:min(n, len(b.heads))] {
		lines = append(lines, aside{firstLine(a.text, w), a.style}) // no word is cut in two
	}
	var urgent, cause []aside
	for _, a := range b.urgent {
		for _, t := range wrap(a.text, w) {
			urgent = append(urgent, aside{t, a.style})
		}
	}
	for _, t := range wrap(b.cause, w) {
		cause = append(cause, aside{text: t})
	}
	room := n - len(lines)
	rows := min(len(b.others), room, max(1, room-len(urgent)-len(cause)))
	if rows > 0 {
		for _, o := range b.others[:rows] {
			if utf8.RuneCountInString(o.text) > w {
				o.text = strings.TrimSpace(o.text)
			}
			if utf8.RuneCountInString(o.text) <= w {
				b.named = append(b.named, o.alarm)
			}
			lines = append(lines, o.aside)
		}
		if hidden := len(b.others) - rows; hidden > 0 {
			count := " +" + strconv.Itoa(hidden) + " "
			last, whole := &lines[len(lines)-1], strings.TrimRight(lines[len(lines)-1].text, " ")
			last.text = firstCells(whole, w-len(count)) + count
			if n := len(b.named); n > 0 && !strings.HasPrefix(last.text, whole) {
				b.named = b.named[:n-1]
			}
		}
	}
	lines = append(lines, urgent[:min(len(urgent), n-len(lines))]...)
	if caused = len(cause) <= n-len(lines); caused {
		lines = append(lines, cause...)
	}
	for _, a := range b.asides {
		for _, t := range wrap(a.text, w) {
			lines = append(lines, aside{t, a.style})
		}
	}
	return lines[:min(n, len(lines))], caused
}

// firstCells cuts a text to n cells.
func firstCells(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:max(n, 0)])
	}
	return s
}
