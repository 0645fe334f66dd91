//go:build !unix

package dashboard

import (
	"github.com/gdamore/tcell/v2"

	"tetherbell/dashboard/vigil"
)

// openTerminal opens the process's own console. It is not asked for signs of
// life: what it sends are records of keys, not bytes.
func openTerminal(*vigil.Watch) (tcell.Screen, *asker, error) {
	screen, err := tcell.NewScreen()
	return screen, nil, err
}
