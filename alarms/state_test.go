package alarms

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tetherbell/alarms/detect"
)

func TestStateSince(t *testing.T) {
	const u, y, n = detect.Unknown, detect.Yes, detect.No
	for _, c := range []struct {
		name     string
		old, now State
		want     []string
	}{
		{"nothing", State{y, n, y}, State{y, n, y}, nil},
		{"first line, disarmed", State{u, u, u}, State{n, n, y}, []string{"disarmed"}},
		{"first line, armed and stopped", State{u, u, u}, State{y, y, n}, []string{"ARMED", "stop pressed"}},
		{"armed", State{n, n, y}, State{y, n, y}, []string{"ARMED"}},
		{"disarmed", State{y, n, y}, State{n, n, y}, []string{"disarmed"}},
		{"stop, then released", State{y, n, y}, State{y, y, y}, []string{"stop pressed"}},
		{"released", State{y, y, y}, State{y, n, y}, []string{"stop released"}},
		{"all at once", State{y, n, y}, State{n, y, n}, []string{"disarmed", "stop pressed", "control link gone"}},
		{"control back", State{y, n, n}, State{y, n, y}, []string{"control link is back"}},
		{"lost from sight", State{y, n, y}, State{u, n, y}, []string{"armed or not: not known any more"}},
	} {
		assert.Equal(t, c.want, c.now.Since(c.old), c.name)
	}
}
