package dashboard

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"tetherbell/alarms/runcard"
)

// cardSigns say a step's state without a colour.
var cardSigns = map[runcard.State]string{
	runcard.Waiting: "", runcard.Now: "NOW", runcard.ByEye: "LOOK",
	runcard.Passed: "ok", runcard.Failed: "FAIL", runcard.Skipped: "left",
}

// allDetails is how much is said of the current step: why, and what to do if not.
// Both give way where the rows are few.
const allDetails = 2

// A cardRow is one row of the card; chips are the keys that it offers.
type cardRow struct {
	step       int
	sign, text string
	strong     bool
	chips      []cardChip
}

type cardChip struct {
	key, word string
	act       runcard.Act
	id        string
}

// cardIndent is where the words of a step begin: sign, number and name before.
const cardIndent = 9

// drawCard draws the steps of a guided run, the current one with all that is to
// be said of it and always in sight. click notes where a step's key can be
// pressed with the mouse; it may be nil.
//
// The pane lies under the rule of the views, which sums the card up. up is how many
// rows the picture is scrolled back; what of it there was room for is returned.
func drawCard(p pane, f *Frame, up int, click func(x, y, w int, a runcard.Act, id string)) int {
	v, l, body := cardOf(f), p.look, p
	if v == nil || p.h < 1 {
		return 0
	}
	if f.Status.Ended {
		var row pane
		row, body = body.cut(1)
		row.text(0, 0, " "+cutTo(cardOver, max(8, p.w-2))+" ", l.invert.Bold(true))
	}
	if v.Warning != "" {
		lines := wrap(warningWords(v), max(8, p.w-2))
		var rows pane
		rows, body = body.cut(min(len(lines), 2))
		for y, t := range lines {
			rows.text(0, y, " "+t+" ", l.invert.Bold(true))
		}
	}
	if v.Ended {
		body = drawOutcome(body, v)
	}
	action := pressingAction(f)
	if f.Status.Ended {
		action = "" // nobody is told to do it by a card that is over
	}
	rows, first, last := cardRows(v, action, body.w, allDetails)
	for d := allDetails - 1; d >= 0 && last-first >= body.h; d-- {
		rows, first, last = cardRows(v, action, body.w, d)
	}
	from := max(0, min(first-2, len(rows)-body.h))
	if eye := firstRow(v, rows); eye >= 0 && eye < from && last-eye < body.h {
		from = eye // what a tick is asked for, above the current step
	}
	if last-from >= body.h {
		from = min(first, max(0, last+1-body.h))
	}
	up = min(up, from)
	from -= up
	below := ""
	if n := len(rows) - from - body.h; n > 0 && p.w > 40 {
		below = " +" + strconv.Itoa(n) + " more below "
	}
	cut := cutSteps(rows, from, body, len(below))
	small := false
	for y := 0; y < body.h && from+y < len(rows); y++ {
		r := &rows[from+y]
		if len(r.chips) > 0 && cut[r.step] {
			small = true
			continue // nobody ticks what cannot be read whole
		}
		drawCardRow(body.sub(0, y, body.w, 1), r, click)
	}
	if now := v.Current; small || now < len(v.Steps) && cut[now] && len(cardChips(v, v.Steps[now].ID)) > 0 {
		below = " a larger window shows it whole "
	}
	p.text(max(0, p.w-len(below)), p.h-1, below, l.invert)
	return up
}

// drawOutcome says what the card came to, above its steps.
func drawOutcome(body pane, v *runcard.View) pane {
	lines := wrap(clean(v.Outcome), max(8, body.w-2))
	rows, rest := body.cut(min(len(lines), 3))
	for y, t := range lines {
		rows.text(0, y, " "+t+" ", body.look.invert.Bold(true))
	}
	return rest
}

// firstRow is the first row of the step that a tick is asked for, -1 none.
func firstRow(v *runcard.View, rows []cardRow) int {
	return slices.IndexFunc(rows, func(r cardRow) bool { return v.TickID != "" && v.Steps[r.step].ID == v.TickID })
}

// cutSteps are the steps that the picture does not show whole: with rows outside
// of it, or words that run out of it or under the note in its last row.
func cutSteps(rows []cardRow, from int, body pane, note int) map[int]bool {
	out := map[int]bool{}
	for k := range rows {
		room := body.w
		if k == from+body.h-1 {
			room -= note
		}
		if k < from || k >= from+body.h || rows[k].width() > room {
			out[rows[k].step] = true
		}
	}
	return out
}

// width is how many columns a row takes.
func (r *cardRow) width() int {
	if len(r.chips) == 0 {
		return cardIndent - 3 + utf8.RuneCountInString(r.text)
	}
	w := cardIndent - 2
	for _, c := range r.chips {
		w += c.width()
	}
	return w
}

// width is that of a key with its word, and of the gap behind it.
func (c *cardChip) width() int { return len(c.key) + len(c.word) + 5 }

func drawCardRow(p pane, r *cardRow, click func(x, y, w int, a runcard.Act, id string)) {
	l := p.look
	st, sign := l.plain, l.bold
	if r.strong {
		st, sign = l.bold, l.invert.Bold(true)
	}
	if r.sign != "" {
		p.text(0, 0, " "+r.sign+" ", sign)
	}
	x := cardIndent - 3
	if len(r.chips) > 0 {
		x = cardIndent
	}
	x = p.text(x, 0, r.text, st)
	for _, c := range r.chips {
		end := p.text(x, 0, " "+c.key+" ", l.invert)
		end = p.text(end+1, 0, c.word, l.plain)
		if click != nil {
			click(p.x+x, p.y, end-x, c.act, c.id)
		}
		x = end + 2
	}
}

// cardRows words the whole card, and tells which rows are the current step's.
// action is that of an alarm that presses: no other advice stands beside it.
func cardRows(v *runcard.View, action string, w, details int) (rows []cardRow, first, last int) {
	name := 0
	for i := range v.Steps {
		name = max(name, utf8.RuneCountInString(v.Steps[i].ID))
	}
	for i := range v.Steps {
		s, start := &v.Steps[i], len(rows)
		if i == v.Current {
			first = start
		}
		strong := i == v.Current || s.State == runcard.Failed || s.State == runcard.ByEye
		text := s.Say
		if s.State != runcard.Waiting && s.State != runcard.Now {
			text = s.Text
		}
		head := left(strconv.Itoa(i+1), 2) + " " + pad(clean(s.ID), name) + "  "
		room := max(8, w-cardIndent-name-2)
		lines := wrap(clean(text), room)
		if s.State == runcard.Waiting && len(lines) > 1 { // shown whole once it is its turn
			lines = []string{cutTo(clean(text), room)}
		}
		for k, t := range lines {
			r := cardRow{text: head + t, strong: strong}
			if k == 0 {
				r.sign = cardSigns[s.State]
			} else {
				r.text = strings.Repeat(" ", utf8.RuneCountInString(head)) + t
			}
			rows = append(rows, r)
		}
		rows = append(rows, detailRows(v, s, i == v.Current, action, w, details)...)
		for k := start; k < len(rows); k++ {
			rows[k].step = i
		}
		if i == v.Current {
			last = len(rows) - 1
		}
	}
	if v.Current >= len(v.Steps) { // the end, or what is still to be looked at
		first, last = len(rows)-1, len(rows)-1
		for i := range rows {
			if rows[i].sign == cardSigns[runcard.ByEye] {
				first, last = i, i+1
				break
			}
		}
	}
	return rows, first, last
}

// detailRows say what else there is to a step: how far it is, why, and what to
// do where it does not pass; and which keys it takes.
func detailRows(v *runcard.View, s *runcard.StepView, current bool, action string, w, details int) []cardRow {
	var out []cardRow
	say := func(lead, text string) {
		if text == "" {
			return
		}
		for _, t := range wrap(lead+clean(text), max(8, w-cardIndent)) {
			out = append(out, cardRow{text: "   " + t})
		}
	}
	if current && s.State == runcard.Now {
		if s.Kind != runcard.Person {
			say("so far: ", s.Text)
		}
		if details > 1 {
			say("why: ", s.Why)
		}
		if action == "" && details > 0 {
			say("if not: ", s.IfFailed)
		}
	}
	switch {
	case s.State != runcard.Failed:
	case action != "":
		say("do: ", action)
	default:
		say("do: ", s.Do)
	}
	if asked := current && s.State == runcard.Now && s.Kind == runcard.Person; v.TickWaits != "" && (asked || s.State == runcard.ByEye) {
		say("no tick yet: ", v.TickWaits)
	}
	if chips := cardChips(v, s.ID); len(chips) > 0 && (current || s.State == runcard.ByEye) {
		out = append(out, chipRows(chips, w)...)
	}
	return out
}

// chipRows lays the keys out in as many rows as they need.
func chipRows(chips []cardChip, w int) []cardRow {
	var out []cardRow
	for _, c := range chips {
		if n := len(out); n > 0 && out[n-1].width()+c.width() <= w {
			out[n-1].chips = append(out[n-1].chips, c)
			continue
		}
		out = append(out, cardRow{chips: []cardChip{c}})
	}
	return out
}

// cardChips are the keys that act on a step.
func cardChips(v *runcard.View, id string) []cardChip {
	var out []cardChip
	for _, c := range []struct {
		id, key, word string
		act           runcard.Act
	}{
		{v.TickID, "y", "yes, seen", runcard.Tick}, {v.NoID, "n", "no", runcard.No},
		{v.SkipID, "s", "leave out", runcard.Skip}, {v.AgainID, "u", "once more", runcard.Again},
	} {
		if c.id == id && id != "" {
			out = append(out, cardChip{c.key, c.word, c.act, id})
		}
	}
	return out
}

// cutTo shortens a text to so many cells.
func cutTo(s string, w int) string {
	if utf8.RuneCountInString(s) <= w {
		return s
	}
	r := []rune(s)
	return strings.TrimRight(string(r[:max(0, w-4)]), " ") + " ..."
}

// cardLine is the card in one line, for the bench view: the step that is due,
// how far it is, or what to do where it failed. "" where there is no card.
func cardLine(f *Frame, l *look) string {
	if f == nil || f.Card == nil {
		return ""
	}
	v := f.Card
	if f.Status.Ended {
		return join(l, cardOver, clean(v.Outcome))
	}
	if v.Warning != "" {
		return "card: " + warningWords(v)
	}
	if v.Current >= len(v.Steps) {
		for i := range v.Steps {
			if s := &v.Steps[i]; s.State == runcard.ByEye {
				return join(l, "card: look at "+clean(s.ID), clean(s.Text))
			}
		}
		return clean(v.Outcome)
	}
	s := &v.Steps[v.Current]
	at := "card " + strconv.Itoa(v.Current+1) + "/" + strconv.Itoa(len(v.Steps)) + ": "
	if s.State == runcard.Failed {
		do := pressingAction(f)
		if do == "" {
			do = clean(s.Do)
		}
		return join(l, at+clean(s.ID)+" FAILED: "+do, clean(s.Text))
	}
	if s.Kind == runcard.Person {
		return strings.TrimSuffix(at, ": ") + ", c shows it: " + clean(s.Say)
	}
	if s.Text == "" {
		return at + clean(s.Say)
	}
	return join(l, at+clean(s.Text), clean(s.Say))
}

// drawCardLine draws it, and lets a click open the card.
func (b *board) drawCardLine(p pane, f *Frame) {
	b.clicks = append(b.clicks, clickable{p.x, p.y, p.w, (*board).swapCard})
	st := p.look.bold
	if v := f.Card; v.Warning != "" || v.Current < len(v.Steps) && v.Steps[v.Current].State == runcard.Failed {
		st = p.look.invert.Bold(true)
	}
	p.text(1, 0, cutTo(cardLine(f, p.look), p.w-2), st)
}

func (b *board) swapCard() { b.card, b.sight.up = !b.card, 0 }

// drawCardView draws the card under the rule of the views.
func (b *board) drawCardView(p pane, f *Frame) {
	hint := clean(f.Card.Summary)
	if p.w >= wideColumns {
		hint = clean(f.Card.Title) + ", " + hint
	}
	if b.sight.at != f.Card.Current {
		b.sight.at, b.sight.up = f.Card.Current, 0 // the step that is due comes back into sight
	}
	b.sight.up = drawCard(b.tabs(p, hint), f, b.sight.up, b.clickCard)
}
