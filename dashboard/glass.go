package dashboard

import (
	"fmt"
	"runtime/debug"
	"sync"
	"time"

	"github.com/gdamore/tcell/v2"

	"tetherbell/dashboard/vigil"
)

// glass is the screen with its four traps closed: it is opened once only, it
// asks for clicks but not for every move of the mouse, the end of the terminal
// does not stop the loop behind the painter's back, and what is drawn goes to
// the terminal only where it differs from what stands there.
//
// The last one is a trap because every picture begins with a Clear, and a
// character that is cleared and drawn again counts as changed below: all of
// the screen went out with every picture.
type glass struct {
	tcell.Screen
	gone  func(error)
	watch *vigil.Watch // nil: nobody misses this screen
	asks  *asker       // nil: this terminal is not asked whether it is there
	once  sync.Once
	err   error

	// These belong to the terminal's loop.
	w, h        int
	next, shown []cell // row by row: being drawn, and what the terminal was given
	heal        int    // the row that is given again with the next picture
}

// A cell is one place of the screen; an empty text is a blank.
type cell struct {
	text  string
	style tcell.Style
}

// Init opens the screen the first time.
func (g *glass) Init() error {
	g.once.Do(func() { g.err = g.Screen.Init() })
	return g.err
}

// EnableMouse asks for buttons and the wheel.
func (g *glass) EnableMouse(...tcell.MouseFlags) {
	g.Screen.EnableMouse(tcell.MouseButtonEvents)
}

// PollEvent gives the next event; nil at the end.
func (g *glass) PollEvent() tcell.Event {
	for {
		e := g.Screen.PollEvent()
		if bad, ok := e.(*tcell.EventError); ok {
			g.gone(fmt.Errorf("read terminal: %w", bad))
			continue // the painter ends the loop; Fini then gives nil
		}
		return e
	}
}

// Clear begins a new picture. On a screen of another size nothing stands yet.
func (g *glass) Clear() {
	if w, h := g.Screen.Size(); w != g.w || h != g.h {
		g.Screen.Clear()
		g.w, g.h = w, h
		g.next, g.shown = make([]cell, w*h), make([]cell, w*h)
	}
	clear(g.next)
}

// Put draws one character. What it returns is of no use to anybody here.
func (g *glass) Put(x, y int, text string, style tcell.Style) (string, int) {
	if x >= 0 && y >= 0 && x < g.w && y < g.h {
		if text == " " {
			text = ""
		}
		g.next[y*g.w+x] = cell{text, style}
	}
	return "", 1
}

// Show gives the terminal what has changed. One row is given again whole, the
// next one with the next picture: whatever another program wrote across the
// screen is gone within seconds.
func (g *glass) Show() {
	g.hand()
	g.Screen.Show()
	if g.asks == nil || g.asks.shown(time.Now()) {
		g.watch.Beat(vigil.Screen) // the terminal has taken it
	} else {
		g.watch.Round(vigil.Screen) // its answer will be the beat
	}
}

// Fini gives the terminal back.
func (g *glass) Fini() {
	if g.asks != nil {
		g.asks.part()
	}
	g.Screen.Fini()
}

// hand puts into the screen below what Show shall give. A panic there would
// leave the painter waiting for the loop.
func (g *glass) hand() {
	defer func() {
		if p := recover(); p != nil {
			g.gone(fmt.Errorf("draw screen: panic: %v\n%s", p, debug.Stack()))
		}
	}()
	for i, c := range g.next {
		if c != g.shown[i] {
			g.give(i, c)
		}
	}
	if g.heal++; g.heal >= g.h {
		g.heal = 0
	}
	for i := g.heal * g.w; i < min((g.heal+1)*g.w, len(g.next)); i++ {
		g.Screen.Put(i%g.w, i/g.w, "?", g.next[i].style) // another text makes it count as changed
		g.give(i, g.next[i])
	}
}

func (g *glass) give(i int, c cell) {
	g.shown[i] = c
	if c.text == "" {
		c.text = " "
	}
	g.Screen.Put(i%g.w, i/g.w, c.text, c.style)
}
