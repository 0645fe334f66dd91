//go:build linux || darwin

package link

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// Two who read one port would share its lines between them. The second is told,
// root too, and by whatever name it asks.
func TestPortIsForOne(t *testing.T) {
	master, slave, err := pty.Open()
	require.NoError(t, err)
	defer master.Close()
	defer slave.Close()
	twin := filepath.Join(t.TempDir(), "twin")
	require.NoError(t, os.Symlink(slave.Name(), twin))
	first, err := OpenPort(slave.Name(), 9600)
	require.NoError(t, err)
	for _, name := range []string{slave.Name(), twin} {
		_, err = OpenPort(name, 9600)
		var oe *OpenError
		require.ErrorAs(t, err, &oe)
		assert.Equal(t, Busy, oe.Fault)
		assert.Contains(t, err.Error(), "in use by another program")
		_, err = OpenSender(name, 9600)
		require.ErrorAs(t, err, &oe)
		assert.Equal(t, Busy, oe.Fault)
	}
	require.NoError(t, first.Close())
	second, err := OpenPort(twin, 9600)
	require.NoError(t, err, "whoever ends lets go")
	require.NoError(t, second.Close())
}

// Somebody's terminal that was taken for a bridge is left as it was.
func TestPseudoTerminalIsPutBack(t *testing.T) {
	master, slave, err := pty.Open()
	require.NoError(t, err)
	defer master.Close()
	defer slave.Close()
	fd := int(slave.Fd())
	was, err := unix.IoctlGetTermios(fd, getSettings)
	require.NoError(t, err)
	require.NotZero(t, was.Lflag&unix.ICANON, "a terminal takes whole rows until it is told otherwise")
	p, err := OpenPort(slave.Name(), 9600)
	require.NoError(t, err)
	during, err := unix.IoctlGetTermios(fd, getSettings)
	require.NoError(t, err)
	assert.Zero(t, during.Lflag&unix.ICANON)
	require.NoError(t, p.Close())
	after, err := unix.IoctlGetTermios(fd, getSettings)
	require.NoError(t, err)
	assert.Equal(t, was, after)
	require.NoError(t, p.Close())
}
