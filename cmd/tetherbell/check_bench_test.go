//go:build linux

package main

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tetherbell/simulator"
)

// checkedSeconds are those of the recording that BenchmarkCheck judges.
const checkedSeconds = 600

// BenchmarkCheck measures how fast the program judges a recording of ten minutes
// in the air, with axes at 1000 lines a second and at the simulator's 400: times
// real time by the wall's clock and of one processor, and the most memory.
func BenchmarkCheck(b *testing.B) {
	for _, c := range []struct {
		name  string
		rates string
	}{{"1000", "rates.axes_hz=1000"}, {"400", "rates.axes_hz=400"}} {
		b.Run(c.name, func(b *testing.B) {
			sc := held(b, "calm", 9.5, c.rates)
			sc.Seconds = checkedSeconds
			path := filepath.Join(b.TempDir(), "run.bell")
			simulateTo(b, path, simulator.New(sc, 1))
			var wall, cpu time.Duration
			most := 0.0
			for b.Loop() {
				cmd := exec.Command("tetherbell", "check", path)
				begin := time.Now()
				out, err := cmd.CombinedOutput()
				wall += time.Since(begin)
				require.NoError(b, err, "%s", out)
				require.Contains(b, string(out), "nothing of medium or high priority")
				cpu += cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
				most = max(most, float64(cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss)/1000)
			}
			real := float64(b.N) * checkedSeconds
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(real/wall.Seconds(), "times-real")
			b.ReportMetric(real/cpu.Seconds(), "times-real/core")
			b.ReportMetric(most, "peak-MB")
			b.ReportMetric(machineLoad(), "load")
		})
	}
}

// simulateTo writes all that a bench sends to a file.
func simulateTo(b *testing.B, path string, bench *simulator.Bench) {
	f, err := os.Create(path)
	require.NoError(b, err)
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	var text []byte
	for done := false; !done; {
		text, _, done = bench.Next(text[:0])
		_, err := w.Write(text)
		require.NoError(b, err)
	}
	require.NoError(b, w.Flush())
}
