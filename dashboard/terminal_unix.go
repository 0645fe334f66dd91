//go:build unix

package dashboard

import (
	"github.com/gdamore/tcell/v2"

	"tetherbell/dashboard/vigil"
)

// openTerminal opens the process's own terminal, and what asks it for signs of
// life.
func openTerminal(watch *vigil.Watch) (tcell.Screen, *asker, error) {
	tty, err := tcell.NewDevTty()
	if err != nil {
		screen, err := tcell.NewScreen() // says what is wrong
		return screen, nil, err
	}
	a := newAsker(tty, watch)
	screen, err := tcell.NewTerminfoScreenFromTty(a)
	return screen, a, err
}
