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

// A cardRow is one row of the card; chips are the keys that it offers.
type cardRow struct {
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
// The pane lies under the rule of the views, which sums the card up.
func drawCard(p pane, f *Frame, click func(x, y, w int, a runcard.Act, id string)) {
	v, l, body := f.Card, p.look, p
	if v == nil || p.h < 1 {
		return
	}
	if v.Warning != "" {
		lines := wrap(warningWords(v), max(8, p.w-2))
		var rows pane
		rows, body = body.cut(min(len(lines), 2))
		for y, t := range lines {
			rows.text(0, y, " "+t+" ", l.invert.Bold(true))
		}
	}
	rows, first, last := cardRows(v, pressingAction(f), body.w)
	from := max(0, min(first-2, len(rows)-body.h))
	if last-from >= body.h {
		from = min(first, max(0, last+1-body.h))
	}
	for y := 0; y < body.h && from+y < len(rows); y++ {
		drawCardRow(body.sub(0, y, body.w, 1), &rows[from+y], click)
	}
	if below := len(rows) - from - body.h; below > 0 && p.w > 40 {
		t := " +" + strconv.Itoa(below) + " more below "
		p.text(p.w-len(t), p.h-1, t, l.invert)
	}
}

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
func cardRows(v *runcard.View, action string, w int) (rows []cardRow, first, last int) {
	name := 0
	for i := range v.Steps {
		name = max(name, utf8.RuneCountInString(v.Steps[i].ID))
	}
	for i := range v.Steps {
		s := &v.Steps[i]
		if i == v.Current {
			first = len(rows)
		}
		strong := i == v.Current || s.State == runcard.Failed || s.State == runcard.ByEye
		text := s.Say
		if s.State != runcard.Waiting && s.State != runcard.Now {
			text = s.Text
		}
		head := left(strconv.Itoa(i+1), 2) + " " + pad(clean(s.ID), name) + "  "
		room := max(8, w-cardIndent-name-2)
		lines := wrap(clean(text), room)
		if !strong && len(lines) > 1 {
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
		rows = append(rows, detailRows(v, s, i == v.Current, action, w)...)
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
func detailRows(v *runcard.View, s *runcard.StepView, current bool, action string, w int) []cardRow {
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
		say("why: ", s.Why)
		if action == "" {
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
	if chips := cardChips(v, s.ID); len(chips) > 0 && (current || s.State == runcard.ByEye) {
		out = append(out, cardRow{chips: chips})
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
	if v.Warning != "" {
		return "card: " + warningWords(v)
	}
	if v.Current >= len(v.Steps) {
		for i := range v.Steps {
			if s := &v.Steps[i]; s.State == runcard.ByEye {
				return join(l, "card: look at "+clean(s.ID), clean(s.Text))
			}
		}
		return "card ended: " + clean(v.Summary)
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

func (b *board) swapCard() { b.card = !b.card }

// drawCardView draws the card under the rule of the views.
func (b *board) drawCardView(p pane, f *Frame) {
	hint := clean(f.Card.Summary)
	if p.w >= wideColumns {
		hint = clean(f.Card.Title) + ", " + hint
	}
	drawCard(b.tabs(p, hint), f, b.clickCard)
}

// cards sends an act for the step that the drawn picture offered it for. Where
// the card is not in view it opens it: nobody ticks what cannot be read whole.
func cards(a runcard.Act) func(*board) {
	return func(b *board) {
		if !b.card {
			b.card = hasCard(b.frame)
			return
		}
		if b.drawn == nil || b.drawn.Card == nil {
			return
		}
		v := b.drawn.Card
		id := [...]string{v.TickID, v.NoID, v.SkipID, v.AgainID}[a]
		// Only what the picture offered: a step further down, or one behind the
		// help page, was not read.
		if id != "" && slices.Contains(b.offered, offer{a, id}) {
			b.act(Act{Kind: CardAct, Step: a, Text: id})
		}
	}
}

// An offer is a key of the card that stands on the screen.
type offer struct {
	act runcard.Act
	id  string
}

// hasCard reports whether there is a card to act on.
func hasCard(f *Frame) bool { return f != nil && f.Card != nil }

// withoutCard leaves out the card's keys where there is no card.
func withoutCard(keys []key, f *Frame) []key {
	if hasCard(f) {
		return keys
	}
	var out []key
	for _, k := range keys {
		if !k.card {
			out = append(out, k)
		}
	}
	return out
}

// clickCard notes a place of the card that the mouse can press.
func (b *board) clickCard(x, y, w int, a runcard.Act, id string) {
	b.offered = append(b.offered, offer{a, id})
	b.clicks = append(b.clicks, clickable{x, y, w, func(b *board) { b.act(Act{Kind: CardAct, Step: a, Text: id}) }})
}
