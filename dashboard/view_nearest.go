package dashboard

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms"
	"tetherbell/alarms/detect"
	"tetherbell/decode"
)

// rankStep is by how much one thing must come nearer than another to pass it
// in the list: rows that swap places at every breath cannot be read.
const rankStep = 0.08

// ladderRows is how many rows the list of the nearest has where room is small.
const ladderRows = 6

// nearestOf keeps of each kind the place that is nearest to its limit, in the
// order of before as far as that still holds.
func nearestOf(all []detect.Reach, before []detect.Kind) []detect.Reach {
	var seen [256]bool
	out := make([]detect.Reach, 0, 16)
	for _, r := range all { // nearest first
		if !seen[r.Kind] {
			seen[r.Kind] = true
			out = append(out, r)
		}
	}
	place := func(k detect.Kind) int {
		if i := slices.Index(before, k); i >= 0 {
			return i
		}
		return len(before)
	}
	slices.SortStableFunc(out, func(a, b detect.Reach) int { return place(a.Kind) - place(b.Kind) })
	// What has come clearly nearer than the one above it moves up.
	for i := 1; i < len(out); i++ {
		for j := i; j > 0 && out[j].Share > out[j-1].Share+rankStep; j-- {
			out[j], out[j-1] = out[j-1], out[j]
		}
	}
	return out
}

// ladder is nearestOf with the memory of the last picture.
func (b *board) ladder(f *Frame) []detect.Reach {
	all := f.Snap.Reaches
	if f.Status.Ended { // there is no line that could be silent or bad
		all = slices.DeleteFunc(slices.Clone(all), func(r detect.Reach) bool { return r.Where == detect.Link })
	}
	out := nearestOf(all, b.order)
	for i := range out {
		out[i] = ringing(f.Snap, all, out[i])
	}
	b.order = b.order[:0]
	for i := range out {
		b.order = append(b.order, out[i].Kind)
	}
	if slices.Contains(f.Snap.Doubted, decode.Load) && !slices.ContainsFunc(out, isNearLift) {
		// A distance that was looked at does not go without a word.
		out = slices.Insert(out, 0, detect.Reach{Kind: detect.NearLift, Where: detect.Craft})
	}
	return out
}

// ringing puts in the place of a kind's nearest the one that its alarm names, which
// another may have passed by a hair.
func ringing(s *alarms.Snapshot, all []detect.Reach, r detect.Reach) detect.Reach {
	var up detect.Where
	for i := range s.Alarms {
		if a := &s.Alarms[i]; a.Kind == r.Kind && a.Active {
			up |= a.Where
		}
	}
	if up&r.Where != 0 {
		return r
	}
	for i := range all {
		if all[i].Kind == r.Kind && up&all[i].Where != 0 {
			return all[i] // the nearest of them
		}
	}
	return r
}

// ownUp is the priority of the alarm of a distance's own kind that stands at its
// place.
func ownUp(s *alarms.Snapshot, r *detect.Reach) detect.Priority {
	level := detect.None
	for i := range s.Alarms {
		if a := &s.Alarms[i]; a.Kind == r.Kind && a.Where&r.Where != 0 && standing(a) {
			level = max(level, a.Priority)
		}
	}
	return level
}

func isNearLift(r detect.Reach) bool { return r.Kind == detect.NearLift }

// drawLadder draws how near things are to their limits, nearest first.
func drawLadder(p pane, f *Frame, all []detect.Reach) {
	l := p.look
	if len(all) == 0 {
		word := "no distance is known yet"
		if blind := blindWord(f); blind != "" {
			word = "not watched: " + blind
		}
		p.text(1, 0, word, l.plain)
		return
	}
	for y := range min(p.h, len(all)) {
		drawReach(p.sub(0, y, p.w, 1), f, &all[y])
	}
}

// reachWord words a value against its limit.
func reachWord(r *detect.Reach, l *look) string { return reachOf(r, r.Limit, l) }

// reachOf words it against the limit of another priority.
func reachOf(r *detect.Reach, limit float64, l *look) string {
	digits := 2
	switch {
	case r.Limit >= 20:
		digits = 0
	case r.Limit >= 5:
		digits = 1
	case r.Limit < 0.2:
		digits = 3
	}
	of := " of "
	if (r.Share < 1) == (r.Value > r.Limit) {
		of = ", least " // what is watched may not fall
	}
	t := num(r.Value, digits) + of + num(limit, digits)
	switch r.Unit {
	case "", "1":
	case "degC":
		t += " " + l.degree
	default:
		t += " " + clean(r.Unit)
	}
	return t
}

// drawDistance draws the common scale, w cells wide, and the value behind it: the
// limit stands at two thirds. What is of some time ago has words and no gauge.
func drawDistance(p pane, f *Frame, x, w int, r *detect.Reach, level detect.Priority, value tcell.Style) {
	l := p.look
	if isNearLift(*r) && slices.Contains(f.Snap.Doubted, decode.Load) {
		p.text(x, 0, "lift is "+inDoubt+": not watched", l.plain)
		return
	}
	if oldReach(f, r) {
		p.text(x, 0, "old: it was "+reachWord(r, l), l.plain)
		return
	}
	if r.Kind == detect.RisingOscillation && level == detect.None && slices.Contains(f.Snap.Doubted, decode.Axes) {
		p.text(x, 0, "the rates are "+inDoubt+": not watched", l.plain)
		return
	}
	g := gauge{share: r.Share / overLimit, mark: 1 / overLimit, over: l.bold}
	if level >= detect.Low {
		g.over = l.chip(level)
	}
	p.gauge(x, 0, w, g)
	limit := r.Limit
	if r.High != 0 && r.Share >= 1 && ownUp(f.Snap, r) == detect.High {
		limit = r.High // which the alarm's words name
	}
	word := reachOf(r, limit, l)
	if waits(r) {
		if word = num(r.Value, 2) + ", " + holdStill; utf8.RuneCountInString(word) > p.w-x-w-1 {
			word = holdStill // the gauge shows the rest
		}
	}
	// The words of an alarm say what it was when it was told last.
	if level >= detect.Low && utf8.RuneCountInString(nowWord+word) <= p.w-x-w-1 {
		word = nowWord + word
	}
	p.text(x+w+1, 0, word, value)
}

// holdStill is what a value past its limit waits for, where only a steady hold is
// judged: without it the screen and its silence would contradict each other.
const holdStill = "hold still"

// waits reports whether a distance past its limit waits for that.
func waits(r *detect.Reach) bool { return r.Waits && r.Share >= 1 }

// nowWord stands ahead of the value of a thing that an alarm is up for.
const nowWord = "now "

// reachUp tells the priority of an alarm that stands for a reach: its own, or,
// past the limit, one that explains it and rings in its place.
func reachUp(s *alarms.Snapshot, r *detect.Reach) (detect.Priority, bool) {
	level := ownUp(s, r)
	for i := range s.Alarms {
		if a := &s.Alarms[i]; r.Share >= 1 && a.Active && a.Explains.Has(r.Kind) {
			level = max(level, a.Priority)
		}
	}
	return level, level >= detect.Low
}

const kindWide = 19 // the longest name with a distance, and a blank

func drawReach(p pane, f *Frame, r *detect.Reach) {
	l := p.look
	level, up := reachUp(f.Snap, r)
	x := p.label(0, 0, 8, strings.TrimSpace(r.Where.String()), level, up)
	st := l.plain
	if up || r.Share >= 1 {
		st = l.bold
	}
	x = p.sub(0, 0, x+kindWide-1, 1).text(x, 0, pad(kindName(r.Kind), kindWide-1), st) + 1
	value := 18
	wide := min(p.w-x-value-1, 60)
	if wide < 6 {
		wide = max(p.w-x, 0)
	}
	drawDistance(p, f, x, wide, r, level, l.bold)
}

// drawNearest answers what a glance asks: are data good, is it armed, how far
// is everything from its limit, what is not watched.
func (b *board) drawNearest(p pane, f *Frame) {
	ladder := b.ladder(f)
	hint := string(p.look.limit) + " marks the limit"
	if p.w >= wideColumns && p.h >= wideRows-14 {
		b.drawWide(b.tabs(p, hint), f, ladder)
		return
	}
	p = b.tabs(p, hint)
	columns := 2
	if p.w < 76 {
		columns = 1
	}
	rows := max(1, min(len(ladder), max(ladderRows, p.h-11)))
	sections := []section{
		{rows, 9, func(p pane) { drawLadder(p, f, ladder) }},
		{motorRows(f.Snap, columns) - 1, 7, func(p pane) { drawMotors(p, f, columns) }},
		{1, 6, func(p pane) { drawPower(p, f) }},
		{linkRows(f.Snap), 5, func(p pane) { drawLink(p, f) }},
		{lackRows(f), 8, func(p pane) { drawNotWatched(p, f, false) }},
		{2, 2, func(p pane) { b.back = drawJournal(p, f, b.back) }},
	}
	share(sections, p.h)
	for _, s := range sections {
		if s.rows > 0 {
			var top pane
			top, p = p.cut(s.rows)
			s.draw(top)
		}
	}
}

// spectrumLeast is the fewest rows, with its title, that a spectrum is worth.
const spectrumLeast = 9

// drawWide has two columns over the journal: distances and what is not
// watched on the left, axes, motors and line on the right.
func (b *board) drawWide(p pane, f *Frame, ladder []detect.Reach) {
	lacks := 1 + max(1, len(lacksOf(f.Snap)))
	fixed := 1 + 3 + motorRows(f.Snap, 1) + 1 + 9 // five of the line, four streams
	chart := max(1, min((p.h-4-fixed)/3, 6))
	leftRows := max(len(ladder), 1) + 4 + lacks
	rightRows := fixed + 3*chart
	columns, journal := p.cut(min(max(leftRows, rightRows), p.h-4))
	middle := columns.w * 11 / 20
	l, r := columns.sub(0, 0, middle-1, columns.h), columns.sub(middle+1, 0, columns.w-middle-1, columns.h)

	rows := max(1, min(len(ladder), l.h-4-min(lacks, 4)))
	top, l := l.cut(rows)
	drawLadder(top, f, ladder)
	if hidden := len(ladder) - rows; hidden > 0 {
		top.text(top.w-14, rows-1, " +"+strconv.Itoa(hidden)+" further off", p.look.plain)
	}
	top, l = l.cut(4)
	drawPower(top.title("lift and pack"), f)
	if l.h-lacks >= spectrumLeast && f.Snap.Spectrum.At > 0 {
		top, l = l.cut(lacks)
		drawNotWatched(top, f, true)
		drawSpectrum(l.title("vibration against the rotors' turns"), f)
	} else {
		drawNotWatched(l, f, true)
	}

	for chart > 0 && 1+3*(1+chart)+motorRows(f.Snap, 1)+6 > r.h {
		chart--
	}
	top, r = r.cut(1 + 3*(1+chart))
	drawStrips(top.title("axes, last seconds"), f)
	top, r = r.cut(motorRows(f.Snap, 1))
	drawMotors(top.title(motorTitle(f, r.w)), f, 1)
	drawLink(r.title("line, recording, sound"), f)
	b.back = drawJournal(journal, f, b.back)
}
