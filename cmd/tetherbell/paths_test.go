//go:build linux

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A recording that names files has none of them opened: not those that its
// header, its craft, its host lines and its end name. One is a pipe, at which
// whoever opens it hangs; strace (where it is) shows every call. Nor does any
// of these runs listen on a socket.
func TestRecordedPathsAreNotOpened(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	trap, secret := filepath.Join(dir, "trap"), filepath.Join(dir, "secret")
	require.NoError(t, syscall.Mkfifo(trap, 0o600))
	require.NoError(t, os.WriteFile(secret, []byte("#session {\"craft\":{\"name\":\"PLANTED\"}}\n"), 0o600))
	slip, err := os.ReadFile(slipRecording(t))
	require.NoError(t, err)
	name := func(path string) string { q, _ := json.Marshal(path); return string(q) }
	runs := filepath.Join(dir, "runs")
	require.NoError(t, os.Mkdir(runs, 0o700))
	for i, p := range []string{trap, secret, "../secret", "secret"} {
		q := name(p)
		text := fmt.Sprintf(`#session {"tool":%s,"source":%s,"card":%s,"craft":{"name":%s,"file":%s,"baseline":%s},"continues":%s,"continues_at":10}`+"\n", q, q, q, q, q, q, q)
		text += "#mark " + p + "\n#drill " + p + "\n#file " + p + "\n#alarm {\"file\":" + q + "}\n" + string(slip[:len(slip)/2])
		text = text[:strings.LastIndexByte(text, '\n')+1]
		text += `#end {"summary":{"file":` + q + `,"duration_s":3},"craft":` + q + `,"verdict":"quiet","worst":null,"file":` + q + "}\n"
		require.NoError(t, os.WriteFile(filepath.Join(runs, fmt.Sprintf("r%d.bell", i)), []byte(text), 0o600))
	}
	strace, _ := exec.LookPath("strace")
	for _, file := range []string{"r0.bell", "r1.bell", "r2.bell", "r3.bell"} {
		path := filepath.Join(runs, file)
		for _, args := range [][]string{
			{"check", path}, {"replay", "--plain", "--sound", "off", "--speed", "9000", path}, {"watch", "--plain", "--sound", "off", "-"},
			{"report", "-o", filepath.Join(dir, "page.html"), path}, {"report", "-o", filepath.Join(dir, "two.html"), path, path},
			{"export", "-o", filepath.Join(dir, "made"), path}, {"sessions", runs}, {"sessions", "--judge", "--json", runs}, {"settings", path, path},
		} {
			out := outOf(t, strace, dir, path, args)
			assert.NotContains(t, out, "PLANTED", "%q", args)
		}
	}
}

// opened finds the calls that open a file, and those that would let others in.
var opened = regexp.MustCompile(`^\d+ +(open|openat|openat2|execve|listen|bind|accept4?)\(`)

// outOf runs a command under strace, where there is one, and returns what it
// said.
func outOf(t *testing.T, strace, dir, path string, args []string) string {
	t.Helper()
	all := append([]string{"tetherbell"}, args...)
	trace := filepath.Join(dir, "trace")
	if strace != "" {
		all = append([]string{strace, "-f", "-qq", "-e", "trace=open,openat,openat2,execve,listen,bind,accept,accept4", "-s", "400", "-o", trace}, all...)
	}
	cmd := exec.Command(all[0], all[1:]...)
	cmd.Env = append(os.Environ(), "XDG_CONFIG_HOME="+filepath.Join(dir, "config"))
	cmd.Dir = dir
	in, err := os.Open(path)
	require.NoError(t, err)
	defer in.Close()
	cmd.Stdin = in
	stop := time.AfterFunc(2*time.Minute, func() { _ = cmd.Process.Kill(); t.Errorf("%q hangs: at the pipe?", args) })
	out, _ := cmd.CombinedOutput()
	stop.Stop()
	if strace == "" {
		return string(out)
	}
	calls, err := os.ReadFile(trace)
	require.NoError(t, err)
	own := 0
	for line := range strings.Lines(string(calls)) {
		if !opened.MatchString(line) {
			continue
		}
		for _, bad := range []string{"trap", "secret", " listen(", " bind(", " accept"} {
			assert.NotContains(t, line, bad, "%q", args)
		}
		if strings.Contains(line, filepath.Base(path)) || strings.Contains(line, "/runs") {
			own++
		}
	}
	if args[0] != "watch" {
		assert.Positive(t, own, "%q: its own file must be seen to be opened, or nothing was looked at", args)
	}
	return string(out)
}
