package link

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Without leave to open them, ports are listed all the same.
func TestPortsThatMayNotBeOpened(t *testing.T) {
	got := addCandidates(
		[]PortInfo{{Name: "/dev/ttyUSB1", USB: "bridge", ID: "1234:5678"}, {}},
		[]string{"/dev/ttyUSB0", "/dev/ttyACM0", "/dev/ttyUSB1"},
		func(name string) bool { return name != "/dev/ttyACM0" })
	assert.Equal(t, []PortInfo{
		{Name: "/dev/ttyACM0"},
		{Name: "/dev/ttyUSB0", Denied: true},
		{Name: "/dev/ttyUSB1", USB: "bridge", ID: "1234:5678", Denied: true},
	}, got)
}
