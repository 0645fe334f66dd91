package dashboard

import (
	"slices"
	"strconv"
	"time"
	"unicode/utf8"

	"github.com/gdamore/tcell/v2"

	"tetherbell/alarms/detect"
	"tetherbell/alarms/runcard"
)

// Lengths the keys use. A sound pause is at most 60 s by the engine's rule; a
// jump is long enough to pass over a hover, short enough to hit an alarm.
const (
	pauseSeconds = 60
	jumpSeconds  = 10
)

// A key is one row of the key table: what is pressed, what it does, and how
// the bottom bar and the help page say so.
type key struct {
	names  string // as the help page shows them
	keys   []tcell.Key
	runes  string
	short  string // on the bottom bar; "" keeps it off
	tiny   string // instead of short, where the bar is narrow
	help   string
	replay bool // only in a replay
	card   bool // only where there is a card of steps
	drop   int  // where the bar is narrow, the highest leaves it first; 0 stays
	do     func(b *board)
}

// keyTable is the one place where keys are given a meaning. The bottom bar
// and the help page are made from it; its order is the order of the bar.
func keyTable() []key {
	return []key{
		{names: "a Enter", keys: []tcell.Key{tcell.KeyEnter}, runes: "aA", short: "acknowledge", tiny: "ack",
			help: "acknowledge what is named", do: (*board).acknowledge},
		{names: "p", drop: 7, runes: "pP", short: "pause sound", tiny: "sound", help: "sound off 60 s, or on again", do: (*board).pauseSound},
		{names: "t", runes: "tT", help: "tick off, or on again", do: sends(ToggleTick, 0)},
		{names: "m", drop: 9, runes: "mM", short: "mark", help: "mark this moment", do: (*board).mark},
		{names: "Space", runes: " ", short: "stop/go", help: "stop and go on", replay: true, do: sends(ReplayPause, 0)},
		{names: "Right", drop: 8, keys: []tcell.Key{tcell.KeyRight}, runes: ".", short: "step", help: "one step forward",
			replay: true, do: sends(ReplayStep, 0)},
		{names: "[ j", drop: 3, runes: "[j", short: "-10 s", help: "10 s back", replay: true, do: sends(ReplayJump, -jumpSeconds)},
		{names: "] k", drop: 2, runes: "]k", short: "+10 s", help: "10 s forward", replay: true, do: sends(ReplayJump, jumpSeconds)},
		{names: "> <", drop: 2, runes: ">", short: "next alarm", tiny: "alarm", help: "next alarm or mark, previous", replay: true, do: sends(ReplaySight, 1)},
		{runes: "<", replay: true, do: sends(ReplaySight, -1)},
		{names: "l", drop: 11, runes: "lL", short: "loop", help: "loop: start, then end, off", replay: true, do: sends(ReplayLoop, 0)},
		{names: "+", drop: 4, runes: "+=", short: "faster", tiny: "fast", help: "twice the speed", replay: true, do: sends(ReplayFaster, 0)},
		{names: "-", drop: 8, runes: "-_", short: "slower", tiny: "slow", help: "half the speed", replay: true, do: sends(ReplaySlower, 0)},
		{names: "v Tab", drop: 6, keys: []tcell.Key{tcell.KeyTab}, runes: "vV", short: "next view", tiny: "view", help: "next view; Esc: the first",
			do: (*board).nextView},
		{names: "1 to 6", runes: "1", help: "the views, by their number", do: sees(viewNearest)},
		{runes: "2", do: sees(viewAxes)},
		{runes: "3", do: sees(viewMotors)},
		{runes: "4", do: sees(viewSpectrum)},
		{runes: "5", do: sees(viewJournal)},
		{runes: "6", do: sees(viewAll)},
		{keys: []tcell.Key{tcell.KeyEscape}, do: sees(viewNearest)},
		{names: "c", card: true, drop: 6, runes: "cC", short: "card", help: "the card of steps, or back", do: (*board).swapCard},
		{names: "y", card: true, drop: 1, runes: "yY", help: "card: yes, it is so", do: cards(runcard.Tick)},
		{names: "n s u", card: true, runes: "nN", help: "card: no, skip, once more", do: cards(runcard.No)},
		{card: true, runes: "sS", do: cards(runcard.Skip)},
		{card: true, runes: "uU", do: cards(runcard.Again)},
		{names: "Up Down", keys: []tcell.Key{tcell.KeyUp}, help: "scroll (Page, Home, End too)",
			do: scrolls(1)},
		{keys: []tcell.Key{tcell.KeyDown}, do: scrolls(-1)},
		{keys: []tcell.Key{tcell.KeyPgUp}, do: scrolls(10)},
		{keys: []tcell.Key{tcell.KeyPgDn}, do: scrolls(-10)},
		{keys: []tcell.Key{tcell.KeyEnd}, do: (*board).toEnd},
		{keys: []tcell.Key{tcell.KeyHome}, do: (*board).toBegin},
		{names: "? h", runes: "?hH", short: "help", help: "this page", do: func(b *board) { b.help = true }},
		{names: "q Ctrl-C", keys: []tcell.Key{tcell.KeyCtrlC}, runes: "qQ", short: "quit",
			help: "leave; asks while armed", do: (*board).leave},
	}
}

// shownKeys are the rows with a name, without the replay's in a live run.
func shownKeys(replay bool) []key {
	var out []key
	for _, k := range keyTable() {
		if k.names != "" && (replay || !k.replay) {
			out = append(out, k)
		}
	}
	return out
}

// matches reports whether the key is in this row.
func (k *key) matches(e *tcell.EventKey) bool {
	if e.Key() == tcell.KeyRune {
		for _, r := range k.runes {
			if r == e.Rune() {
				return true
			}
		}
		return false
	}
	for _, c := range k.keys {
		if c == e.Key() {
			return true
		}
	}
	return false
}

func sends(k ActKind, seconds float64) func(*board) {
	return func(b *board) { b.act(Act{Kind: k, Seconds: seconds}) }
}

// farScroll is beyond the end of any list: drawing holds it inside.
const farScroll = 1 << 30

// toEnd goes to the newest entry, to the step that is due, or to the last row.
func (b *board) toEnd() {
	switch {
	case b.card:
		b.sight.up = 0
	case b.view == viewAll:
		b.from = farScroll
	default:
		b.back = 0
	}
}

// toBegin goes to the oldest entry, or to the first row.
func (b *board) toBegin() {
	switch {
	case b.card:
		b.sight.up = farScroll
	case b.view == viewAll:
		b.from = 0
	default:
		b.back = farScroll
	}
}

// scrolls moves the list in view; up is towards older entries.
func scrolls(up int) func(*board) {
	return func(b *board) {
		if b.card {
			b.sight.up = max(0, b.sight.up+up)
		} else if b.view == viewAll {
			b.from = max(0, b.from-up)
		} else {
			b.back = max(0, b.back+up)
		}
	}
}

// seenAfter is how long an alarm must have been named before a key or a click is
// taken as meant for it: a hand on its way to the key does not stop for what
// comes meanwhile (common practice, no source: twice a person's simple reaction).
const seenAfter = 500 * time.Millisecond

// acknowledge sends one act for each alarm that the banner names: one that came
// since the last picture or just before, or that had no room, is not silenced
// unseen. What has been acknowledged gives the room to what has not: the key once
// more takes those.
func (b *board) acknowledge() {
	if b.drawn != nil && b.drawn.Status.Blind {
		b.act(Act{Kind: PauseSound, Seconds: pauseSeconds})
		return
	}
	for _, n := range b.named {
		if b.now().Sub(n.since) >= seenAfter {
			b.acknowledgeOne(n.at)
		}
	}
}

func (b *board) acknowledgeOne(i int) {
	if b.drawn == nil || b.drawn.Snap == nil || i >= len(b.drawn.Snap.Alarms) {
		return
	}
	if a := &b.drawn.Snap.Alarms[i]; !a.Acknowledged {
		b.act(Act{Kind: Acknowledge, Alarm: a.Kind, Where: a.Where})
	}
}

func (b *board) pauseSound() {
	if b.drawn != nil && b.drawn.Snap != nil && b.drawn.Snap.PausedUS > 0 {
		b.act(Act{Kind: PauseSound})
		return
	}
	b.act(Act{Kind: PauseSound, Seconds: pauseSeconds})
}

func (b *board) mark() {
	b.marks++
	b.act(Act{Kind: Mark, Text: "mark " + strconv.Itoa(b.marks)})
}

// leave quits, but asks once more while a live craft is, or may be, armed.
func (b *board) leave() {
	now := b.now()
	if !b.mayBeArmed() || now.Before(b.leaveUntil) {
		b.quit()
		return
	}
	b.leaveUntil = now.Add(leaveTime)
}

func (b *board) mayBeArmed() bool {
	f := b.frame
	return f != nil && f.Snap != nil && f.Snap.Lines > 0 && f.Snap.Armed != detect.No &&
		!f.Status.Replay && !f.Status.Ended
}

// drawBar draws the bottom bar and notes where each key can be clicked.
func (b *board) drawBar(p pane, replay bool) {
	l := p.look
	if b.now().Before(b.leaveUntil) {
		p.fill(' ', l.invert)
		p.text(1, 0, "ARMED: q once more leaves the watch, any other key stays", l.invert.Bold(true))
		return
	}
	x := 0
	shown := withoutCard(shownKeys(replay), b.frame)
	if drillOf(b.frame) != nil {
		shown = drillKeys(shown)[len(drillTable()):] // those stand in the line above
	}
	for _, k := range barKeys(shown, p.w) {
		end := p.text(x, 0, " "+firstName(k.names)+" ", l.invert)
		end = p.text(end, 0, k.short, l.plain)
		b.clicks = append(b.clicks, clickable{x: p.x + x, y: p.y, w: end - x, do: k.do})
		x = end + 1
	}
}

// barKeys chooses the keys that the bar shows in w columns, with the word of
// each: all of them, all in fewer letters, or the weightiest. A key without
// its word would help nobody; the help page has them all.
func barKeys(keys []key, w int) []key {
	var out []key
	for _, k := range keys {
		if k.short != "" {
			out = append(out, k)
		}
	}
	for i := range out {
		if barWidth(out) <= w {
			return out
		}
		if out[i].tiny != "" {
			out[i].short = out[i].tiny
		}
	}
	for barWidth(out) > w {
		least := 0
		for i := range out {
			if out[i].drop > out[least].drop {
				least = i
			}
		}
		if out[least].drop == 0 {
			break
		}
		out = slices.Delete(out, least, least+1)
	}
	return out
}

// barWidth is how many columns the keys take.
func barWidth(keys []key) int {
	n := -1
	for i := range keys {
		n += utf8.RuneCountInString(firstName(keys[i].names)) + utf8.RuneCountInString(keys[i].short) + 3
	}
	return n
}

// firstName is the first of several names of a key.
func firstName(names string) string {
	for i, r := range names {
		if r == ' ' {
			return names[:i]
		}
	}
	return names
}
