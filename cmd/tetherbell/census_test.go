//go:build linux

package main

import (
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"runtime/pprof"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// censusFile names the file that a program under test writes its goroutines
// into when it is sent SIGUSR1: nothing outside can count them.
const censusFile = "TETHERBELL_CENSUS"

// The test binary is the program too: in a process that is asked for a census
// this waits for the signal, as long as the process lives.
func init() {
	path := os.Getenv(censusFile)
	if path == "" {
		return
	}
	asked := make(chan os.Signal, 1)
	signal.Notify(asked, syscall.SIGUSR1)
	go func() {
		for range asked {
			var text strings.Builder
			fmt.Fprintln(&text, runtime.NumGoroutine())
			_ = pprof.Lookup("goroutine").WriteTo(&text, 1)
			_ = os.WriteFile(path+".new", []byte(text.String()), 0o600)
			_ = os.Rename(path+".new", path)
		}
	}()
}

// A census is what a process holds at a moment.
type census struct {
	goroutines, threads, files int
	rssKB                      int
	stacks                     string // of the goroutines
}

func (c census) String() string {
	return fmt.Sprintf("%d goroutines, %d threads, %d descriptors, %d kB resident", c.goroutines, c.threads, c.files, c.rssKB)
}

// outerCensus counts what is seen of a process from outside: proc(5), from
// memory.
func outerCensus(t testing.TB, pid int) (c census) {
	t.Helper()
	c.files = openFiles(t, pid)
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	require.NoError(t, err)
	c.threads, c.rssKB = statusFigure(t, text, "Threads"), statusFigure(t, text, "VmRSS")
	return c
}

// takeCensus counts what a process holds, its goroutines too. path is what it
// was given as censusFile.
func takeCensus(t testing.TB, pid int, path string) census {
	t.Helper()
	c := outerCensus(t, pid)
	_ = os.Remove(path)
	require.NoError(t, syscall.Kill(pid, syscall.SIGUSR1))
	var text []byte
	soon(t, func() (ok bool) {
		var err error
		text, err = os.ReadFile(path)
		return err == nil
	}, "a census")
	first, rest, _ := strings.Cut(string(text), "\n")
	n, err := strconv.Atoi(first)
	require.NoError(t, err)
	c.goroutines, c.stacks = n, rest
	return c
}

// openFiles counts the descriptors that a process has open.
func openFiles(t testing.TB, pid int) int {
	t.Helper()
	list, err := os.ReadDir(filepath.Join("/proc", strconv.Itoa(pid), "fd"))
	require.NoError(t, err)
	return len(list)
}

// statusFigure finds a figure of /proc/PID/status.
func statusFigure(t testing.TB, text []byte, key string) int {
	t.Helper()
	_, after, ok := strings.Cut(string(text), "\n"+key+":")
	require.True(t, ok, key)
	n, err := strconv.Atoi(strings.Fields(after)[0])
	require.NoError(t, err)
	return n
}
