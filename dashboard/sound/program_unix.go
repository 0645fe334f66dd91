//go:build unix

package sound

import (
	"os/exec"
	"syscall"
)

// wholeFamily has a program killed with all that it started: what is on the
// path may be a script, and the one that speaks its child.
func wholeFamily(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	cmd.Cancel = func() error { return syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
}
