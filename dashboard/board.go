package dashboard

import (
	"fmt"
	"runtime/debug"
	"sync/atomic"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/rivo/tview"

	"tetherbell/alarms/detect"
)

// leaveTime is how long the question before leaving stands.
const leaveTime = 5 * time.Second

// cautionTime is how long the cautions stand when no key is pressed: long
// enough to read them.
const cautionTime = 8 * time.Second

// takeIn is how long a person needs at least to see that the cautions have
// given way to something else (common practice, no source).
const takeIn = time.Second

// A board is the picture and what the person did to it. All of it belongs to
// the event loop of the terminal.
type board struct {
	*tview.Box
	act  func(Act)
	quit func()
	fail func(error)
	now  func() time.Time

	frame, drawn *Frame    // newest, and the one last drawn
	since        time.Time // when the newest frame came
	others       others    // who stands still, as the painter saw it
	opened       time.Time // when the screen came up

	cautioned  bool      // the cautions were read, or an alarm came first
	broken     time.Time // when an alarm took their place
	help       bool
	view       view
	order      []detect.Kind // of the nearest, as last drawn
	back, from int           // how far journal and lists are scrolled
	card       bool          // the card of steps is in view
	marks      int
	leaveUntil time.Time
	flashing   detect.Priority // what the banner flashes for, None for steady
	flashSince time.Time
	bright     bool         // the banner was lit when last drawn
	litAt      time.Time    // when it lit up
	turnAt     atomic.Int64 // when the flash turns next, Unix nanoseconds; 0: never
	clicks     []clickable
	offered    []offer // keys of the card, as last drawn
	named      []named // alarms that the banner names, as last drawn
	look       *look

	sight cardSight
}

// A named is an alarm that the banner names, and since when it does.
type named struct {
	at    int // its place among those of the frame
	alarm alarmKey
	since time.Time
}

// An alarmKey tells one happening, at one priority, from another.
type alarmKey struct {
	kind     detect.Kind
	where    detect.Where
	priority detect.Priority
	since    int64
}

// The smallest banner that can be read: where it is smaller, nothing that it
// says is taken as read.
const (
	readColumns = 40
	readRows    = 2
)

// nameAlarms notes what the banner names, and keeps since when.
func (b *board) nameAlarms(bul *bulletin, banner pane) {
	old := b.named
	b.named = nil
	if bul.past || banner.w < readColumns || banner.h < readRows {
		return
	}
	whole := bul.named
	if bul.shown >= 0 {
		whole = append([]int{bul.shown}, whole...)
	}
	for _, at := range whole {
		a := &b.frame.Snap.Alarms[at]
		n := named{at: at, alarm: alarmKey{a.Kind, a.Where, a.Priority, a.Since}, since: b.now()}
		for i := range old {
			if old[i].alarm == n.alarm {
				n.since = old[i].since
			}
		}
		b.named = append(b.named, n)
	}
}

// A clickable is a stretch of a row that the mouse can press.
type clickable struct {
	x, y, w int
	do      func(*board)
}

func newBoard(act func(Act), quit func(), fail func(error), now func() time.Time) *board {
	return &board{Box: tview.NewBox(), act: act, quit: quit, fail: fail, now: now, since: now(), opened: now()}
}

// show takes the newest frame.
func (b *board) show(f *Frame) {
	if f != b.frame {
		b.frame, b.since = f, b.now()
	}
}

// rescue turns a panic into an error, so that the terminal is given back.
func (b *board) rescue() {
	if r := recover(); r != nil {
		b.fail(fmt.Errorf("draw screen: panic: %v\n%s", r, debug.Stack()))
	}
}

// Draw draws the newest frame.
func (b *board) Draw(s tcell.Screen) {
	defer b.rescue()
	w, h := s.Size()
	if b.look == nil || b.look.colours != s.Colors() {
		b.look = lookOf(s)
	}
	b.paint(pane{s: s, look: b.look, w: w, h: h})
	b.drawn = b.frame
}

// InputHandler answers keys.
func (b *board) InputHandler() func(*tcell.EventKey, func(tview.Primitive)) {
	return func(e *tcell.EventKey, _ func(tview.Primitive)) { b.press(e) }
}

func (b *board) press(e *tcell.EventKey) {
	defer b.rescue()
	asked, helped := b.now().Before(b.leaveUntil), b.help
	meant := b.cautioned && b.now().Sub(b.broken) >= takeIn
	b.cautioned, b.help = true, false
	if b.hand(e, meant && !helped) {
		b.leaveUntil = time.Time{}
		return
	}
	if b.drillKey(e, !helped) { // the row that says what Enter does stands below the cautions too
		return
	}
	for _, k := range keyTable() {
		if !k.matches(e) || k.replay && !steers(b.frame) || k.card && !hasCard(b.frame) {
			continue
		}
		if !meant && (e.Key() == tcell.KeyEnter || k.card && k.short != "card") {
			return // pressed to leave the cautions: nobody has seen yet what it would acknowledge or tick
		}
		if helped && (k.short == "help" || k.short == "quit" && e.Key() == tcell.KeyRune) {
			return // these close the page, and do no more
		}
		if asked && k.short != "quit" {
			b.leaveUntil = time.Time{}
		}
		k.do(b)
		return
	}
	b.leaveUntil = time.Time{}
}

// MouseHandler answers clicks on keys and alarms, and the wheel.
func (b *board) MouseHandler() func(tview.MouseAction, *tcell.EventMouse, func(tview.Primitive)) (bool, tview.Primitive) {
	return func(a tview.MouseAction, e *tcell.EventMouse, _ func(tview.Primitive)) (bool, tview.Primitive) {
		return b.click(a, e), nil
	}
}

func (b *board) click(a tview.MouseAction, e *tcell.EventMouse) bool {
	defer b.rescue()
	switch a {
	case tview.MouseScrollUp:
		scrolls(3)(b)
	case tview.MouseScrollDown:
		scrolls(-3)(b)
	case tview.MouseLeftDown:
		// The press counts, not the release: a hand that shakes still hits.
		if !b.cautioned {
			b.cautioned = true // it leaves the page, and does no more
			return true
		}
		x, y := e.Position()
		for _, c := range b.clicks {
			if y == c.y && x >= c.x && x < c.x+c.w {
				b.help = false
				c.do(b)
				return true
			}
		}
		b.help = false
	default:
		return false
	}
	return true
}

// paint draws everything into a pane that is the whole screen.
func (b *board) paint(p pane) {
	b.clicks = b.clicks[:0]
	b.offered, b.sight.before = b.sight.before[:0], b.offered
	f := b.seen()
	bul := bulletinOf(f, p.look, b.now().Sub(b.since))
	if !b.cautioned && (b.now().Sub(b.opened) >= cautionTime || anyPressing(f)) {
		b.cautioned, b.broken = true, b.now()
	}
	banner, rest := p.cut(bannerRows(p.w, p.h))
	still := f != nil && f.Status.Replay && (f.Status.Paused || f.Status.Ended)
	drawBanner(banner, &bul, b.flash(&bul, still))
	b.nameAlarms(&bul, banner)
	if bul.isAlarm {
		for y := range banner.h {
			b.clicks = append(b.clicks, clickable{banner.x, banner.y + y, banner.w, (*board).acknowledge})
		}
	}
	if rest.h == 0 {
		return
	}
	body, bar := rest.cut(rest.h - 1)
	replay := steers(f)
	b.drawBar(bar, replay)
	if steered(f) && !b.help && body.h > 3 {
		var line pane
		body, line = body.cut(body.h - 1)
		drawReplay(line, &f.Status)
	}
	if d := drillOf(f); d != nil && body.h > 0 {
		var line pane
		body, line = body.cut(body.h - 1)
		b.drawDrill(line, &b.frame.Status)
	}
	if h := handsOf(f); h != nil && body.h > 0 {
		var line pane
		body, line = body.cut(body.h - 1)
		b.drawHands(line, h)
	}
	if hasCard(f) && drillOf(f) == nil && !b.card && !b.help && b.cautioned && body.h > 3 {
		var line pane
		body, line = body.cut(body.h - 1)
		b.drawCardLine(line, f)
	}
	switch {
	case b.help:
		drawHelp(body, f, replay)
	case !b.cautioned:
		drawCautions(body)
	case f == nil || f.Snap == nil:
	case drillOf(f) != nil && f.Status.Drill.Page != nil:
		drawDrillPage(body, f.Status.Drill)
	case b.card && f.Card != nil:
		state, rest := body.cut(1)
		drawState(state, f)
		b.drawCardView(rest, f)
	default:
		state, rest := body.cut(1)
		drawState(state, f)
		b.drawView(rest, f)
	}
}

func anyPressing(f *Frame) bool {
	if f == nil || f.Snap == nil {
		return false
	}
	for i := range f.Snap.Alarms {
		if pressing(&f.Snap.Alarms[i]) {
			return true
		}
	}
	return false
}
